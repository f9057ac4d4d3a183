"""What is worth trying on a latch that animals pull: lever, tension and line, or the container.

A line pulls the latch even when nobody touches it, so that more is not always better: a longer
lever frees the latch by less of a push, and then by the tension the line is hung with. What is
nearest to what is there is tried first.
"""

from __future__ import annotations

from soundergate.mechanics.advice.bench import TARGET, Bench, Change, Test
from soundergate.mechanics.advice.mends import Kind, Outcome, outcome
from soundergate.mechanics.advice.weak_link import weak_link
from soundergate.mechanics.chain import changed, odds
from soundergate.mechanics.model import HungLine
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.constants import GRAVITY

HEAVIEST_CONTAINER = 90.0
"""kg; two people's lift."""
RATIOS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
"""Levers that one would build."""
LESS = (0.75, 0.5, 0.35, 0.25, 0.15, 0.1)
"""Shares of the tension that it is hung with."""
NEXT_FROM = 0.05
"""Share of tries in which a line breaks from which the next weak link is told."""
MORE = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0)
"""Times the force at which it breaks."""


def _lines(bench: Bench) -> tuple[HungLine, ...]:
    return bench.now.chain.site.lines


def nearest_ratios(ratio: float) -> list[float]:
    """`RATIOS`, those nearest to ``ratio`` first, by the factor between them."""
    return sorted(RATIOS, key=lambda r: max(r / ratio, ratio / r))


def lever_that_does(opening: OpeningSetup) -> float | None:
    """The nearest lever ratio with which the trap stays set and a try frees it, with `TARGET`."""
    for ratio in nearest_ratios(opening.lever):
        found = odds(changed(opening.chain, lever=ratio))
        if found.holds * found.releases >= TARGET:
            return ratio
    return None


def lever(bench: Bench, does: Test) -> Outcome:
    options = (Change({"lever": r}) for r in nearest_ratios(bench.now.lever))
    return outcome(
        bench.first(options, does),
        lambda change, _: f": a lever ratio of {change.latch['lever']:g}",
        f"a lever ratio up to {RATIOS[-1]:g}",
    )


def tension(bench: Bench, does: Test) -> Outcome:
    hung = max(line.hung for line in _lines(bench))
    if hung <= 0.0:
        return None
    options = (Change(line={"tension": _rounded(bench, share * hung)}) for share in LESS)
    return outcome(
        bench.first(options, does),
        lambda change, _: f": the line hung with {change.line['tension']}",
        "a line hung with less",
    )


def stronger(bench: Bench, does: Test) -> Outcome:
    breaks = min(line.break_force for line in _lines(bench))
    options = [Change(line={"break_force": _rounded(bench, more * breaks)}) for more in MORE]
    return outcome(
        bench.first(options, does),
        lambda change, _: f": a line that bears {change.line['break_force']}",
        _stronger_alone(bench, options[-1]),
    )


def _stronger_alone(bench: Bench, strongest: Change) -> str:
    """What fails next, where it was the line that broke."""
    then = bench.solved(strongest)
    if then is None or bench.now.odds.snaps < NEXT_FROM:
        return "a stronger line"
    bears = strongest.line["break_force"]
    return f"a stronger line (with one that bears {bears} the weak link would be {weak_link(then)})"


def straight(bench: Bench, does: Test) -> Outcome:
    if not any(line.turn > 0.0 for line in _lines(bench)):
        return None
    return outcome(
        bench.first([Change(line={"bends": 0})], does),
        lambda *_: ": the line straight to the latch, without bends",
        "a line without bends",
    )


def _rounded(bench: Bench, force: float) -> str:
    """A force (N) as the file in these units would say it, to two figures."""
    unit, size = ("N", 1.0) if bench.units.name == "SI" else bench.units.forces
    return f"{float(f'{force / size:.2g}'):g} {unit}"


def container(bench: Bench, does: Test) -> Outcome:
    containers = bench.now.chain.site.containers
    if not containers:
        return None
    empty = min(light for _, light in containers)
    masses = bench.amounts("mass", empty / GRAVITY, HEAVIEST_CONTAINER)
    return outcome(
        bench.least([Change(container=mass) for mass in masses], does),
        lambda change, _: f": a container that weighs {change.container} empty",
        f"a container of up to {bench.units.mass(HEAVIEST_CONTAINER)}",
    )


def firsts(bench: Bench) -> tuple[Kind, ...]:
    """What takes the place of a lever for power: only of a latch that a line pulls."""
    return (lever, tension, stronger, straight) if _lines(bench) else ()


LAST: tuple[Kind, ...] = (container,)
