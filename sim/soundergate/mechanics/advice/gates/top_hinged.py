"""What is worth trying on a top-hinged gate: how far it is raised."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test
from soundergate.mechanics.advice.mends import Kind, Outcome, outcome
from soundergate.scenario.units import read_quantity


def set_lower(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    level = read_quantity("90 deg", "angle")
    angles = bench.amounts("angle", level * (1.0 - 1e-6), gate.set_angle * (1.0 - 1e-6))[::-1]
    return outcome(
        bench.least([Change(gate={"set_angle": angle}) for angle in angles], does),
        lambda change, _: f": a gate set at {change.gate['set_angle']}",
        "a gate set nearer to level",
    )


MENDS: tuple[Kind, ...] = (set_lower,)
