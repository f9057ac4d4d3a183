"""What is worth trying on a pin: how it is held."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test
from soundergate.mechanics.advice.mends import Kind, Outcome, outcome


def support(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.support != "overhung":
        return None
    return outcome(
        bench.first([Change({"support": "double shear"})], does),
        lambda *_: ": a pin held on both sides of the load",
        "a pin held on both sides of the load",
    )


MENDS: tuple[Kind, ...] = (support,)
