"""Many nights on many cores: work is cut by night number, so the cutting never shows.

An executor is one method, ``map(job, chunks)``, that yields ``job(chunk)`` for each chunk in order,
wherever it was computed. `iterate` holds every answer against the chunk that was asked for. Others
than these two stand in `processes` and `cluster`.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from itertools import islice
from typing import NamedTuple

import numpy as np

from soundergate.engine import play
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.engine.work.chunks import Chunk, Executor, R, Work, WrongNights, cut

CHUNK = {"batch": 20_000, "reference": 50}
"""Nights in a chunk by engine: long enough to hide the hand-over, short enough to show progress."""

Progress = Callable[[int], None]


class Job(NamedTuple):
    """All that is needed to play any chunk; the work whose result is the nights themselves."""

    plan: NightPlan
    seed: int
    engine: str

    def __call__(self, chunk: Chunk) -> Outcomes:
        return play(self.plan, self.seed, chunk.first, chunk.count, self.engine)

    def check(self, chunk: Chunk, result: Outcomes) -> None:
        """Raises WrongNights unless night numbers are those asked for and groups can be."""
        wanted = np.arange(chunk.first, chunk.first + chunk.count)
        if not np.array_equal(result["night"], wanted):
            raise WrongNights(f"asked for {chunk.count} nights from {chunk.first}, got others")
        possible = (self.plan.size_cdf > 0).argmax(axis=1).sum(), self.plan.group_size
        if not all(possible[0] <= size <= possible[1] for size in np.unique(result["group_size"])):
            raise WrongNights("the nights are of another group")


class InOrder:
    """One chunk after another, here."""

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        return (job(chunk) for chunk in chunks)


class Threads:
    """Threads of this process; the compiled engine lets go of the interpreter lock."""

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        pool = ThreadPoolExecutor(self.workers)
        try:
            yield from in_order(lambda chunk: pool.submit(job, chunk), chunks, 2 * self.workers)
        finally:
            # who stops by hand does not wait for chunks in hand, nor for the first compilation
            pool.shutdown(wait=False, cancel_futures=True)


def in_order(
    submit: Callable[[Chunk], Future[R]], chunks: Iterable[Chunk], ahead: int
) -> Iterator[R]:
    """Results in order, ``ahead`` chunks being worked on at a time.

    Only so many wait, so memory does not grow with the run.
    """
    remaining = iter(chunks)
    waiting = deque(submit(chunk) for chunk in islice(remaining, ahead))
    while waiting:
        result = waiting.popleft().result()
        waiting.extend(submit(chunk) for chunk in islice(remaining, 1))
        yield result


def iterate(job: Work[R], chunks: Iterable[Chunk], executor: Executor) -> Iterator[R]:
    """The checked result of each chunk, in order.

    Raises
    ------
    WrongNights
        If the executor's answers are not those of the chunks, or are too few or too many.
    """
    asked: deque[Chunk] = deque()
    source = iter(chunks)

    def issued() -> Iterator[Chunk]:
        for chunk in source:
            asked.append(chunk)
            yield chunk

    for result in executor.map(job, issued()):
        if not asked:
            raise WrongNights("got more chunks than were asked for")
        job.check(asked.popleft(), result)
        yield result
    asked.extend(islice(source, 1))
    if asked:
        raise WrongNights(f"no answer for the {asked[0].count} nights from {asked[0].first}")


def available_workers() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def choose_executor(workers: int | None, engine: str) -> Executor:
    """Threads for the batch engine; the same object for the same workers.

    SimPy holds the interpreter lock, so the reference engine gets processes, and only if
    ``workers`` is given: starting them takes seconds.
    """
    if workers is None:
        workers = 1 if engine == "reference" else available_workers()
    return _executor(workers, engine)


@cache
def _executor(workers: int, engine: str) -> Executor:
    if workers <= 1:
        return InOrder()
    if engine != "reference":
        return Threads(workers)
    from soundergate.engine.work.processes import Processes

    return Processes(workers)


def iterate_chunks(
    plan: NightPlan,
    seed: int,
    first: int,
    count: int,
    workers: int | None = None,
    engine: str = "batch",
    executor: Executor | None = None,
    chunk_size: int | None = None,
) -> Iterator[Outcomes]:
    """Outcomes of ``count`` nights from ``first``, chunk by chunk in night order."""
    runner = choose_executor(workers, engine) if executor is None else executor
    chunks = cut(first, count, chunk_size or CHUNK[engine])
    return iterate(Job(plan, seed, engine), chunks, runner)


def run_chunks(
    plan: NightPlan,
    seed: int,
    first: int,
    count: int,
    workers: int | None = None,
    progress: Progress | None = None,
    engine: str = "batch",
    executor: Executor | None = None,
) -> Outcomes:
    """The same as one table; ``progress`` is told of each chunk's number of nights."""
    parts = []
    for outcomes in iterate_chunks(plan, seed, first, count, workers, engine, executor):
        parts.append(outcomes)
        if progress is not None:
            progress(len(outcomes))
    return Outcomes.concatenate(parts)
