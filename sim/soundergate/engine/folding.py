"""Nights boiled down where they are played, so that sums travel and not the nights.

`Folded` plays the same nights of one or several plans and hands the outcomes to a function of the
caller's, such as one that sums them up. What it makes of one block of nights is added to that of
the next, so memory depends on neither the length of a chunk nor that of the run.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from soundergate.engine.executors import CHUNK, Chunk, Job, WrongNights, cut
from soundergate.engine.outcomes import Outcomes

_NIGHTS_AT_A_TIME = 40_000
_FEWEST = 1_000

Fold = Callable[[Sequence[Outcomes]], Any]
"""Outcomes of each plan on the same nights -> something that `+` joins to that of later nights."""


class ArmFailed(RuntimeError):
    """One of several plans could not be played; ``arm`` is its number, from 0."""

    def __init__(self, arm: int, reason: str) -> None:
        super().__init__(arm, reason)
        self.arm, self.reason = arm, reason

    def __str__(self) -> str:
        return self.reason


class Piece(NamedTuple):
    """What a chunk was boiled down to, and the nights that it is of."""

    first: int
    count: int  # type: ignore[assignment]  # hides the method of tuples
    key: str
    """Of the work that it was made by."""
    seconds: float
    """Spent on it."""
    value: Any


class Folded(NamedTuple):
    """Work on several plans: ``fold`` of their nights, added up over a chunk.

    ``key`` tells this work from others; an answer that carries another one is refused.
    """

    jobs: tuple[Job, ...]
    fold: Fold
    key: str

    def __call__(self, chunk: Chunk) -> Piece:
        started = time.perf_counter()
        value = None
        for block in cut(chunk.first, chunk.count, self.block):
            part = self.fold([self._play(arm, block) for arm in range(len(self.jobs))])
            value = part if value is None else value + part
        seconds = time.perf_counter() - started
        return Piece(chunk.first, chunk.count, self.key, seconds, value)

    @property
    def block(self) -> int:
        """Nights that are held in memory at a time."""
        most = min(CHUNK.get(job.engine, _FEWEST) for job in self.jobs)
        return min(most, max(_FEWEST, _NIGHTS_AT_A_TIME // len(self.jobs)))

    def _play(self, arm: int, block: Chunk) -> Outcomes:
        job = self.jobs[arm]
        try:
            outcomes = job(block)
        except Exception as error:
            raise ArmFailed(arm, in_words(error)) from error
        job.check(block, outcomes)
        return outcomes

    def check(self, chunk: Chunk, result: Piece) -> None:
        """Raises WrongNights unless the piece is of this work and of these nights."""
        if (result.first, result.count) != chunk:
            raise WrongNights(
                f"asked for {chunk.count} nights from {chunk.first}, "
                f"got {result.count} from {result.first}"
            )
        if result.key != self.key:
            raise WrongNights(f"the nights from {chunk.first} were played for another run")


class Pace:
    """Lengths of chunks that take about ``seconds`` each, learnt from those that are done.

    The first ones are short, so that slow nights show soon and the first compilation does no harm.
    """

    def __init__(self, most: int, seconds: float) -> None:
        self.most, self.seconds = most, seconds
        self.count = min(most, _FEWEST)

    def took(self, count: int, seconds: float) -> None:
        """Learn from one chunk."""
        wanted = int(count / max(seconds, 1e-6) * self.seconds)
        self.count = max(1, min(wanted, self.most, 16 * count))

    def chunks(self, first: int, count: int, workers: int) -> Iterator[Chunk]:
        """Chunks that cover ``count`` nights from ``first``, so that each worker gets a share."""
        end = first + count
        while first < end:
            fair = max(_FEWEST, -(-(end - first) // workers))
            size = min(self.count, fair, end - first)
            yield Chunk(first, size)
            first += size


def in_words(error: Exception) -> str:
    """What went wrong: the sentence of an error that speaks for itself, else its kind as well."""
    from soundergate.scenario.errors import ScenarioError

    return str(error) if isinstance(error, ScenarioError) else f"{type(error).__name__}: {error}"
