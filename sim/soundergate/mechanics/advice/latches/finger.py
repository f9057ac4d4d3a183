"""What is worth trying on a finger latch: where its load bears."""

from __future__ import annotations

from soundergate.mechanics.advice.bench import Bench, Change, Test
from soundergate.mechanics.advice.mends import Kind, Outcome, outcome


def offset(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.offset >= 0.0:
        return None
    zero = f"0 {bench.units.shorts[0]}"
    return outcome(
        bench.first([Change({"offset": zero})], does),
        lambda *_: ": a finger through whose pivot the load bears (an offset of 0)",
        "a finger through whose pivot the load bears",
    )


MENDS: tuple[Kind, ...] = (offset,)
TRIED_LAST = True
