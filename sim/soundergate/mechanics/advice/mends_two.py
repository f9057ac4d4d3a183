"""Two cheap changes at once, for an opening that no change of one part mends.

The first is taken in a few steps, the mildest first; the second is one of `mends`, and gives the
least that does on top of it.
"""

from __future__ import annotations

from collections.abc import Callable

from soundergate.mechanics.advice import mends
from soundergate.mechanics.advice.bench import Bench, Change, Test

STEPS = 6
"""About so many engaged lengths are tried, always with the shortest among them."""

Step = tuple[Change, str]
"""The first change, and its words."""


def engaged_steps(bench: Bench) -> list[Step]:
    """Shorter engaged lengths as the first of two changes."""
    shortest_first = mends.lengths_engaged(bench)[::-1]
    few = shortest_first[:: max(1, len(shortest_first) // STEPS)]
    return [(Change({"engaged": x}), f"a latch engaged by {x}") for x in few[::-1]]


def _both(bench: Bench, does: Test, steps: list[Step], second: mends.Kind) -> mends.Outcome:
    """The mildest of ``steps`` on which the ``second`` kind does."""

    def on(step: Step) -> mends.Mend | None:
        change, text = step
        found = second(bench.on(change), does)
        if not isinstance(found, mends.Mend):
            return None
        held, _, what = found.words.partition(": ")
        return mends.Mend(change.beside(found.change), f"{held}: {text}, and {what}", found.solved)

    if not steps or on(steps[-1]) is None:  # if the greatest step does not do, none does
        return None
    return next((mend for mend in map(on, steps) if mend is not None), None)


def both_of(steps: Callable[[Bench], list[Step]], second: mends.Kind) -> mends.Kind:
    """The kind of change that makes the first in one of ``steps`` and then the ``second``."""
    return lambda bench, does: _both(bench, does, steps(bench), second)


def pairs(bench: Bench) -> tuple[mends.Kind, ...]:
    """The pairs worth trying: those of the puller where it has its own."""
    own: tuple[mends.Kind, ...] = mends.of_kind("pullers", bench.now.puller, "PAIRS")
    return own or (both_of(engaged_steps, mends.lever),)
