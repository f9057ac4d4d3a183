"""Nights boiled down where they are played, so that sums travel and not the nights.

`Folded` plays the same nights of one or several plans and hands the outcomes to a function of the
caller's, such as one that sums them up. What it makes of one block of nights is added to that of
the next, so memory depends on neither the length of a chunk nor that of the run.
"""

from __future__ import annotations

import itertools
import math
import statistics
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from soundergate.engine.outcomes import Outcomes
from soundergate.engine.work.chunks import Chunk, WrongNights, cut
from soundergate.engine.work.executors import CHUNK, Job
from soundergate.scenario.errors import ScenarioError

_NIGHTS_AT_A_TIME = 40_000
_FEWEST = 1_000

FLOOR = {"batch": 500, "reference": 10}
"""Fewest nights of a chunk by engine, but for a run that has fewer altogether."""
_WORK_TO_FIXED = 4.0
"""Least time in the nights of a chunk, in times of what the chunk costs beside them."""
_RECENT = 8
"""Chunks from which costs are learnt: what the machine did earlier is forgotten."""
_APART = 1.25
"""How much longer a chunk must be than another for the two to tell the cost a night."""
_TRIED = 1.5
"""How much longer a chunk is made now and then where recent ones were all alike: to look again
whether longer ones pay."""
_NOTHING = 0.01
"""Share of the time of a chunk below which fixed time is none."""
_SURELY = 0.25
"""Share of the time of the cheapest chunk that is taken to be in its nights, whatever two noisy
times seem to say; a chunk can then grow no faster than it turns out to be worth."""

Fold = Callable[[Sequence[Outcomes]], Any]
"""Outcomes of each plan on the same nights -> something that `+` joins to that of later nights."""


class ArmFailed(RuntimeError):
    """One of several plans could not be played; ``arm`` is its number, from 0."""

    def __init__(self, arm: int, reason: str) -> None:
        super().__init__(arm, reason)
        self.arm, self.reason = arm, reason

    def __str__(self) -> str:
        return self.reason


class ArmRefused(ArmFailed, ScenarioError):
    """The same, for what is wrong with the arm itself: bad input, told like any other."""

    def __init__(self, arm: int, error: ScenarioError) -> None:
        ScenarioError.__init__(self, error.problem, file=error.file, key=error.key, hint=error.hint)
        self.arm, self.reason, self.cause = arm, str(error), error

    def __reduce__(self) -> tuple[Any, ...]:
        return ArmRefused, (self.arm, self.cause)


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
        except ScenarioError as error:
            raise ArmRefused(arm, error) from None
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

    A chunk takes a fixed time, however short it is, and then so much a night. The two are told
    apart by comparing recent chunks of different lengths. To cut a chunk short saves none of the
    fixed time, so a chunk is never so short that this is more than a fifth of it, nor shorter than
    ``floor`` nights: work that takes longer than its aim is then done in longer pieces, and not in
    ever more and smaller ones that each cost the same.

    The first chunks are short, so that slow nights show soon and the first compilation does no
    harm.
    """

    def __init__(self, most: int, seconds: float, floor: int = FLOOR["batch"]) -> None:
        self.most, self.seconds = most, seconds
        self.floor = min(most, floor)
        self.count = min(most, _FEWEST)
        self.cost = (0.0, math.nan)
        """Seconds of a chunk whatever its length, and seconds a night, as learnt so far."""
        self._seen: deque[tuple[int, float]] = deque(maxlen=_RECENT)

    def took(self, count: int, seconds: float) -> None:
        """Learn from one chunk."""
        self._seen.append((count, max(seconds, 1e-6)))
        self.cost = fixed, a_night = self._learnt()
        aim = max(self.seconds - fixed, _WORK_TO_FIXED * fixed)
        wanted = min(int(min(aim / a_night, float(self.most))), 16 * count)
        if (fixed > 0 or wanted < self.floor) and not self._told_apart():
            longer = int(_TRIED * max(wanted, self.floor))
            wanted = longer if longer <= self.most else int(wanted / _TRIED)
        self.count = max(self.floor, min(wanted, self.most))

    def _told_apart(self) -> bool:
        """Whether recent chunks differ enough in length to tell the fixed time from the rest."""
        lengths = [count for count, _ in self._seen]
        return max(lengths) >= _APART * min(lengths)

    def _learnt(self) -> tuple[float, float]:
        """Seconds of a chunk, whatever its length, and seconds a night.

        The least time of each length counts, because other work of the machine can only add to
        it, and a night never costs more than the cheapest chunk did on average. Where all recent
        chunks are about as long, what was learnt of the fixed time stands.
        """
        least: dict[int, float] = {}
        for count, seconds in self._seen:
            least[count] = min(seconds, least.get(count, seconds))
        cheapest = min(seconds / count for count, seconds in least.items())
        slopes = [
            (least[more] - least[few]) / (more - few)
            for few, more in itertools.combinations(sorted(least), 2)
            if more >= _APART * few
        ]
        if slopes:
            slope = statistics.median(slopes)
        else:
            slope = min((seconds - self.cost[0]) / count for count, seconds in least.items())
        a_night = max(_SURELY * cheapest, min(slope, cheapest))
        fixed = min(seconds - a_night * count for count, seconds in least.items())
        return (fixed if fixed > _NOTHING * min(least.values()) else 0.0), a_night

    def chunks(self, first: int, count: int, workers: int) -> Iterator[Chunk]:
        """Chunks that cover ``count`` nights from ``first``, so that each worker gets a share."""
        end = first + count
        while first < end:
            fair = max(_FEWEST, -(-(end - first) // workers))
            size = self._without_a_runt(min(self.count, fair, end - first), end - first)
            yield Chunk(first, size)
            first += size

    def _without_a_runt(self, size: int, left: int) -> int:
        """``size``, or what leaves no piece below the floor to the end of the ``left`` nights."""
        if left - size == 0 or left - size >= self.floor:
            return size
        return left if left <= max(size, 2 * self.floor - 1) else left // 2


def in_words(error: Exception) -> str:
    """What went wrong: the sentence of an error that speaks for itself, else its kind as well."""
    return str(error) if isinstance(error, ScenarioError) else f"{type(error).__name__}: {error}"
