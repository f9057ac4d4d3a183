"""Differences over plausible worlds in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.studies.estimates.measures import measure
from soundergate.studies.sentences import scale, signed

if TYPE_CHECKING:
    from soundergate.studies.worlds.robust_rows import ArmOverWorlds, RobustDifference, Worth


def robust_sentence(d: RobustDifference) -> str:
    """In how many plausible worlds one setup is ahead of another, and by how much."""
    factor, unit = scale(d.measure, d.unit)
    low, high, least, most = (
        signed(factor * v) for v in (d.mean_low, d.mean_high, d.quantiles[0], d.quantiles[-1])
    )
    shares = f"more in {100 * d.share:.0f} % of {d.worlds} plausible worlds"
    together = "" if d.each_level == d.level else ", all pairs together"
    level = f"{100 * d.level:.4g} % confidence{together}"
    shares += f" ({100 * d.low:.0f} to {100 * d.high:.0f} %, {level})"
    if d.equal > 0:
        shares += f", as much in {100 * d.equal:.0f} %"
    return (
        f"{d.a} against {d.b}, {measure(d.measure).words}: {shares}; "
        f"{signed(factor * d.mean)} {unit} on average ({low} to {high}), between {least} and "
        f"{most} in nine worlds of ten."
    )


def spread_sentence(one: ArmOverWorlds) -> str:
    """How the answer of one setup lies over plausible worlds."""
    asked = measure(one.measure)
    factor, unit = (100, "%") if asked.a_share else (1, one.unit)
    least, low, middle, high, most = (f"{factor * q:.3g}" for q in one.quantiles)
    return (
        f"{one.arm}, {asked.words}: {middle} {unit} in the middle one of {one.worlds} plausible "
        f"worlds, {low} to {high} in half of them, {least} to {most} in nine of ten."
    )


def worth_sentence(best: str, each: Sequence[Worth], together: float) -> str:
    """Whether anything unknown is worth measuring before one chooses."""
    (unit,) = {w.unit for w in each}
    factor = 100 if unit.startswith("of ") else 1
    unit = "points" if factor == 100 else unit
    lead = f"Over all worlds {best} does best on average."
    if factor * together < 0.05:
        return f"{lead} Whatever pigs do, no other choice would be noticeably better."
    shown = [w for w in each if w.shown and w.evppi > 0.05 * together][:4]
    most = f"Knowing all about pigs beforehand would add at most {factor * together:.2g} {unit}"
    if not shown:
        return f"{lead} {most}, and no single unknown is shown to be worth measuring for it."
    named = ", ".join(f"{w.unknown} ({factor * w.evppi:.2g})" for w in shown)
    return f"{lead} {most}; of single unknowns the most worth measuring: {named}."
