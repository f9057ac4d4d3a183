"""What is worth trying on a solenoid: its pull, its gap and the cable to it."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test, plausible
from soundergate.mechanics.advice.mends import (
    Kind,
    Outcome,
    held_lever,
    less_engaged,
    lever,
    outcome,
)
from soundergate.mechanics.advice.mends_two import Step, both_of, engaged_steps


def pull(bench: Bench, does: Test) -> Outcome:
    """A stronger solenoid; its figure is the maker's."""
    latch = bench.tables.latch
    if latch.turns is not None:
        return None
    if (lever_now := held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.solenoid.pull")
    pulls = bench.amounts("force", latch.pull, high)
    return outcome(
        bench.least([Change({"pull": p, **held}) for p in pulls], does),
        lambda change, _: f" with {words}: a pull of {change.latch['pull']}, its maker's figure",
        f"a solenoid of up to {bench.units.force(high)} with {words}",
    )


def gap(bench: Bench, does: Test) -> Outcome:
    """A solenoid whose stated pull holds over all the travel that is needed."""
    latch = bench.tables.latch
    if latch.turns is not None:
        return None
    if bench.now.trip_travel <= latch.gap * (1.0 + 1e-9):
        return None
    most = plausible("opening.latch.solenoid.gap")
    gaps = bench.amounts("travel", bench.now.trip_travel * (1.0 - 1e-9), most)
    high = plausible("opening.latch.solenoid.pull")
    pulls = bench.amounts("force", latch.pull * (1.0 - 1e-6), high)
    options = [Change({"pull": p, "gap": gaps[0], "stroke": None}) for p in pulls] if gaps else []
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            f": a solenoid that gives {change.latch['pull']} across a gap of {change.latch['gap']}"
        ),
        f"a solenoid that gives up to {bench.units.force(high)} across the travel needed, "
        f"{bench.units.short(bench.now.trip_travel)}",
    )


def thicker_cables(bench: Bench) -> list[int]:
    """Thicker gauges (AWG) than the solenoid's own, the thinnest first: the even ones are sold."""
    latch = bench.tables.latch
    if latch.wire_length == 0.0:
        return []
    thickest = int(plausible("opening.latch.solenoid.wire_gauge", high=False))
    return [g for g in range(latch.wire_gauge - 1, thickest - 1, -1) if g % 2 == 0]


def cable(bench: Bench, does: Test) -> Outcome:
    gauges = thicker_cables(bench)
    return outcome(
        bench.least([Change({"wire_gauge": gauge}) for gauge in gauges], does),
        lambda change, _: f": cable of {change.latch['wire_gauge']} gauge",
        f"cable of {gauges[-1]} gauge" if gauges else "",
    )


def cable_steps(bench: Bench) -> list[Step]:
    """Thicker cables as the first of two changes."""
    return [(Change({"wire_gauge": g}), f"cable of {g} gauge") for g in thicker_cables(bench)]


MENDS: tuple[Kind, ...] = (pull, gap, cable)
PAIRS: tuple[Kind, ...] = (
    both_of(cable_steps, less_engaged),
    both_of(engaged_steps, lever),
    both_of(engaged_steps, pull),
    both_of(cable_steps, lever),
    both_of(cable_steps, pull),
)
