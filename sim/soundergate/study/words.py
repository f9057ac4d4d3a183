"""Differences between setups in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from soundergate.study.measures import measure
from soundergate.study.pairs import Difference

_TEMPLATES = {
    "fraction_caught": "{a} catches a share of its group {amount} points {higher} than {b}",
    "caught": "{a} catches {amount} pigs a night {more} than {b}",
    "escaped": "{a} lets {amount} pigs a night {more} escape than {b}",
    "whole_group": "{a} catches the whole group on {amount} nights in 100 {more} than {b}",
    "released": "{a} closes a gate on {amount} nights in 100 {more} than {b}",
    "failed_release": "{a} fails to release on {amount} nights in 100 {more} than {b}",
}
_ANY = "{a} has {amount} {unit} {more} than {b} ({words})"


def sentences(differences: Sequence[Difference]) -> list[str]:
    """One sentence a difference, the settled ones first, otherwise in order."""
    return [sentence(d) for d in sorted(differences, key=lambda d: not d.settled)]


def sentence(d: Difference) -> str:
    """What one difference says, with its interval, level and number of nights."""
    asked = measure(d.measure)
    if math.isnan(d.low):
        return f"{d.a} and {d.b}: too few nights to tell a difference in {asked.words}."
    share = asked.yes_no or asked.share_of_group
    factor = 100 if share else 1
    unit = "points" if share else d.unit
    nights = f"{d.nights:,} common nights"
    if not d.settled:
        low, high = (_signed(factor * v) for v in (d.low, d.high))
        return (
            f"{d.a} and {d.b}: no difference in {asked.words} shown by {nights} "
            f"({low} to {high} {unit}, {100 * d.level:.4g} % confidence)."
        )
    least, most = sorted(factor * abs(v) for v in (d.low, d.high))
    what = _TEMPLATES.get(d.measure, _ANY).format(
        a=d.a,
        b=d.b,
        amount=f"{factor * abs(d.estimate):.3g}",
        more="more" if d.estimate > 0 else "fewer",
        higher="higher" if d.estimate > 0 else "lower",
        unit=unit,
        words=asked.words,
    )
    return f"{what} ({least:.3g} to {most:.3g}, {100 * d.level:.4g} % confidence, {nights})."


def _signed(value: float) -> str:
    return f"{value:+.3g}".replace("-", "−")
