"""How sure a release is over plausible worlds, in sentences that come before those of one world."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from soundergate.report.words.answers import AS_ASSUMED
from soundergate.report.words.world_answers import left_out, span_of
from soundergate.studies.sentences import about_percent
from soundergate.studies.worlds.phrases import named, value

if TYPE_CHECKING:
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.studies.worlds.steel import SteelOverWorlds


def check_told(report: CheckReport, over: SteelOverWorlds | None) -> list[str]:
    """The verdict over plausible worlds, if any were looked at, and then that of the middle one."""
    if over is None:
        return list(report.verdict)
    middle = report.verdict[len(report.in_vain) :]
    return [*report.in_vain, *steel_answer(over), f"{AS_ASSUMED}:", *middle]


def steel_answer(over: SteelOverWorlds) -> list[str]:
    """Every opening with a latch: how often it lets go, all in all, and what that hangs on most."""
    many = over.passes.shape[1] > 1
    lines = []
    for opening in over.latched:
        like = next(other for other in over.latched if _alike(over, other, opening))
        if like < opening:
            lines.append(f"Opening {opening + 1}: as opening {like + 1} in every world.")
        else:
            lines += [_lets_go(over, opening, many), *_moved(over, opening)]
    if over.failed:
        lines.append(left_out(over.failed, over.asked))
    return lines


def _alike(over: SteelOverWorlds, one: int, other: int) -> bool:
    return all(np.array_equal(of[:, one], of[:, other]) for of in over.found.values())


def _lets_go(over: SteelOverWorlds, opening: int, many: bool) -> str:
    low, middle, high = over.quantiles(opening)
    latch = f"the latch of opening {opening + 1}" if many else "the latch"
    tries = f"on {span_of(low.estimate, high.estimate)} of tries"
    lead = f"In nine of ten plausible worlds {latch} lets go {tries}"
    if about_percent(low.estimate) != about_percent(high.estimate):
        lead += f", in the middle one on {about_percent(middle.estimate)}"
    return (
        f"{lead}. In {about_percent(over.passing(opening))} of worlds it can be relied on: it "
        "stays set, lets go and shuts on at least nine tries in ten."
    )


NONE_SHOWN = "no single thing that is shown to move it; many that nobody knows do so a little"


def _moved(over: SteelOverWorlds, opening: int) -> list[str]:
    """What nobody knows and it hangs on most, or that none is shown to tell."""
    first = next((one for one in over.movers(opening) if one.shown), None)
    if first is None:
        same = not over.movers(opening)
        return [] if same else [f"It hangs on {NONE_SHOWN}."]
    one = first.unknown
    low, high = (about_percent(at) for at in (first.at_low, first.at_high))
    return [
        f"It hangs most on {named(one.id)}, which nobody knows: at {value(one, first.low)} it lets "
        f"go on {low} of tries on average, at {value(one, first.high)} on {high}."
    ]


def steel_rows(over: SteelOverWorlds) -> dict[str, list[str]]:
    """Rows for the table of margins, label to one cell an opening."""
    rows: dict[str, list[str]] = {}
    for label, what in (
        ("releases, nine worlds of ten", "release_probability"),
        ("shuts, nine worlds of ten", "shut_probability"),
    ):
        rows[label] = ["-"] * over.passes.shape[1]
        for opening in over.latched:
            low, middle, high = over.quantiles(opening, what)
            least = span_of(low.estimate, high.estimate)
            rows[label][opening] = f"{least}, middle {about_percent(middle.estimate)}"
    rows["relied on, share of worlds"] = [
        about_percent(over.passing(n)) if n in over.latched else "-"
        for n in range(over.passes.shape[1])
    ]
    return rows
