"""What is worth trying on a side-hinged gate: its spring."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test
from soundergate.mechanics.advice.mends import Kind, Outcome, outcome


def spring(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if getattr(gate, "closer", None) != "spring":
        return None
    if gate.pull_set is not None:
        pulls = bench.amounts("force", gate.pull_set, 4.0 * gate.pull_set)
        return outcome(
            bench.least([Change(gate={"pull_set": pull}) for pull in pulls], does),
            lambda change, _: f": a spring of {change.gate['pull_set']} at the end of the set leaf",
            "a spring of four times the pull",
        )
    most = 4.0 * max(gate.spring_rate, 1.0)
    rates = bench.amounts("torque", gate.spring_rate, most)
    return outcome(
        bench.least([Change(gate={"spring_rate": rate}) for rate in rates], does),
        lambda change, _: f": a spring of {change.gate['spring_rate']} a radian",
        "a spring of four times the rate",
    )


FORMS = {"side-hinged, single": {"leaves": 1}, "side-hinged, double": {"leaves": 2}}
MENDS: tuple[Kind, ...] = (spring,)
