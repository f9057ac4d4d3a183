"""Many nights on many cores: work is cut by night number, so the cutting never shows.

An executor is one method, ``map(job, chunks)``, that yields a chunk's `Outcomes` for each chunk in
order. `run_chunks` checks every answer against the chunk that was asked for, whoever computed it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from typing import NamedTuple, Protocol

from soundergate.engine import play
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan

CHUNK = {"batch": 20_000, "reference": 50}
"""Nights in a chunk by engine: long enough to hide the hand-over, short enough to show progress."""

Progress = Callable[[int], None]


class Chunk(NamedTuple):
    """Nights ``first`` to ``first + count - 1``."""

    first: int
    count: int


class Job(NamedTuple):
    """All that is needed to play any chunk."""

    plan: NightPlan
    seed: int
    engine: str

    def __call__(self, chunk: Chunk) -> Outcomes:
        return play(self.plan, self.seed, chunk.first, chunk.count, self.engine)


class Executor(Protocol):
    """Plays chunks somewhere and yields their outcomes in the order asked for."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]: ...


class InOrder:
    """One chunk after another, here."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        return (job(chunk) for chunk in chunks)


class Threads:
    """Threads of this process; the compiled engine lets go of the interpreter lock."""

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        remaining = iter(chunks)
        pool = ThreadPoolExecutor(self.workers)
        try:
            # Only a few chunks wait at any time, so memory does not grow with the run.
            waiting: list[Future[Outcomes]] = [
                pool.submit(job, chunk) for chunk in islice(remaining, 2 * self.workers)
            ]
            while waiting:
                yield waiting.pop(0).result()
                waiting += [pool.submit(job, chunk) for chunk in islice(remaining, 1)]
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


class WrongNights(RuntimeError):
    """An executor returned other nights than it was asked for."""


def cut(first: int, count: int, size: int) -> Iterator[Chunk]:
    """Chunks of at most ``size`` nights that cover ``count`` nights from ``first``."""
    for start in range(first, first + count, size):
        yield Chunk(start, min(size, first + count - start))


def available_workers() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def choose_executor(workers: int | None, engine: str) -> Executor:
    """Threads for the batch engine; SimPy holds the interpreter lock, so threads do not help it."""
    count = available_workers() if workers is None else workers
    return InOrder() if count <= 1 or engine == "reference" else Threads(count)


def checked(chunk: Chunk, outcomes: Outcomes, job: Job) -> Outcomes:
    """The outcomes, if they are those of this chunk.

    Raises
    ------
    WrongNights
        If night numbers or group size are not those asked for.
    """
    nights = outcomes["night"]
    right = len(outcomes) == chunk.count and nights[0] == chunk.first
    if not right or nights[-1] != chunk.first + chunk.count - 1:
        raise WrongNights(f"asked for {chunk.count} nights from {chunk.first}, got other nights")
    if (outcomes["group_size"] != job.plan.group_size).any():
        raise WrongNights("outcomes are of another group")
    return outcomes


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
    job = Job(plan, seed, engine)
    runner = choose_executor(workers, engine) if executor is None else executor
    chunks = list(cut(first, count, chunk_size or CHUNK[engine]))
    for chunk, outcomes in zip(chunks, runner.map(job, chunks), strict=True):
        yield checked(chunk, outcomes, job)


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
