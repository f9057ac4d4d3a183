"""Differences between setups in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from soundergate.studies.estimates.measures import measure
from soundergate.studies.estimates.paired import FEW_APART, Difference

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
    factor, unit = scale(d.measure, d.unit)
    nights = f"{d.nights:,} common nights"
    few = ""
    if d.few:
        alike = f"{d.apart:.0f}"
        few = (
            f" Too few nights to tell: the difference rests on about {alike} "
            f"{'night' if alike == '1' else 'nights'}, and {FEW_APART} are needed."
        )
    if d.few and d.low * d.high > 0:  # the range leaves out 0, but rests on next to nothing
        ahead, behind = (d.a, d.b) if d.estimate > 0 else (d.b, d.a)
        size = f"{factor * abs(d.estimate):.3g} {unit}"
        return f"{ahead} has {size} more than {behind} in {asked.words} on {nights}.{few}"
    if not d.settled:
        low, high = (signed(factor * v) for v in (d.low, d.high))
        return (
            f"{d.a} and {d.b}: no difference in {asked.words} shown by {nights} "
            f"({low} to {high} {unit}, {100 * d.level:.4g} % confidence).{few}"
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


def scale(name: str, unit: str) -> tuple[float, str]:
    """What a difference of a measure is multiplied by in a sentence, and its unit there."""
    asked = measure(name)
    return (100, "points") if asked.a_share else (1, unit)


def signed(value: float) -> str:
    """Three figures behind their sign."""
    return f"{value:+.3g}".replace("-", "−")


def about_percent(share: float) -> str:
    """A share without an interval: "37 %", "0 %", "under 1 %", "over 99 %".

    A curve fitted to shares may leave 0 to 1 a little; what is told of it does not.
    """
    share = min(max(share, 0.0), 1.0) + 0.0  # -0.0 + 0.0 is 0.0
    if 0 < share < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 < share < 1 else f"{100 * share:.0f} %"


def points(share: float) -> str:
    """A difference of two shares, at least 0: "2 points", "0.6 points", "1 point"."""
    value = 100 * share + 0.0
    number = f"{value:.0f}" if value >= 9.95 or value == round(value) else f"{value:.1f}"
    return f"{number} point{'' if number == '1' else 's'}"
