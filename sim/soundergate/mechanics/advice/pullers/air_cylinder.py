"""What is worth trying on an air cylinder: its pressure, bore and stroke."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test, plausible
from soundergate.mechanics.advice.mends import Kind, Outcome, held_lever, outcome
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.units import read_quantity


def pressure(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.tank_pressure is not None:
        return None
    if (lever_now := held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.air cylinder.pressure")
    pressures = bench.amounts("pressure", latch.pressure, high)

    def says(change: Change, solved: OpeningSetup) -> str:
        force = bench.units.force(solved.pull_available)
        return (
            f" with {words}: a pull of {force}, which this cylinder gives at "
            f"{change.latch['pressure']} (only within its rating)"
        )

    return outcome(
        bench.least([Change({"pressure": p, **held}) for p in pressures], does),
        says,
        f"air of up to {bench.units.pressure(high)} with {words}",
    )


def bore(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if (lever_now := held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.air cylinder.bore")
    sizes = bench.amounts("bore", latch.bore, high)
    rod = latch.rod / latch.bore

    def change_for(size: str) -> Change:
        thick = rod * read_quantity(size, "length")
        rods = bench.amounts("bore", 0.0, thick) or bench.amounts("travel", 0.0, thick)
        return Change({"bore": size, "rod": rods[-1] if rods else None, **held})

    return outcome(
        bench.least([change_for(size) for size in sizes], does),
        lambda change, _: (
            f" with {words}: a cylinder of {change.latch['bore']} bore and "
            f"{change.latch['rod'] or 'the usual'} rod at the same pressure"
        ),
        f"a bore of up to {bench.units.short(high)} with {words}",
    )


def stroke(bench: Bench, does: Test) -> Outcome:
    short = bench.now.trip_travel > bench.now.pull.stroke * (1.0 + 1e-9)
    if not short:
        return None
    high = plausible("opening.latch.air cylinder.stroke")
    strokes = bench.amounts("travel", bench.now.trip_travel * (1.0 - 1e-9), high)
    return outcome(
        bench.first([Change({"stroke": s}) for s in strokes[:1]], does),
        lambda change, _: f": a cylinder of {change.latch['stroke']} stroke",
        f"a stroke of up to {bench.units.short(high)}",
    )


MENDS: tuple[Kind, ...] = (pressure, bore, stroke)
