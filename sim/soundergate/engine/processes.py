"""Processes of this machine, for work that holds the interpreter lock.

They are spawned, never forked: a fork copies locks and compiled code in whatever state they are.
"""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from itertools import islice
from multiprocessing import connection, get_context, parent_process
from typing import TypeVar

from soundergate.engine.elsewhere import Answer, do, taken
from soundergate.engine.executors import Chunk, Work
from soundergate.scenario.errors import ScenarioError

R = TypeVar("R")

_DEATHS = 3
"""Times that a worker may be killed on one chunk before we give up."""


class Processes:
    """``workers`` processes, started at first use and kept for later runs until `close`.

    A worker that is killed is replaced, and what it was at is done again.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._pool: ProcessPoolExecutor | None = None

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        remaining = iter(chunks)
        waiting: deque[_Waiting] = deque()
        deaths = 0
        try:
            while True:
                room = 2 * self.workers - len(waiting)
                waiting.extend(_Waiting(chunk) for chunk in islice(remaining, room))
                if not waiting:
                    return
                try:
                    for one in waiting:
                        one.future = one.future or self._submit(job, one.chunk)
                    answer = waiting[0].future.result()  # type: ignore[union-attr]
                except BrokenProcessPool:
                    deaths += 1
                    if deaths > _DEATHS:
                        raise _given_up(waiting[0].chunk) from None
                    self.close()
                    for one in waiting:
                        one.future = None
                    continue
                deaths = 0
                waiting.popleft()
                yield taken(answer)
        finally:
            for one in waiting:
                if one.future is not None:
                    one.future.cancel()

    def _submit(self, job: Work[R], chunk: Chunk) -> Future[Answer]:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(self.workers, get_context("spawn"), prepare_worker)
        return self._pool.submit(do, job, chunk)

    def close(self) -> None:
        """End the processes once they are done with what they are at."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)

    def __enter__(self) -> Processes:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@dataclass
class _Waiting:
    """A chunk that is being worked on, or is to be."""

    chunk: Chunk
    future: Future[Answer] | None = None


def prepare_worker() -> None:
    """Make this process a worker: loaded, deaf to Ctrl-C, and gone when its parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from soundergate.engine import batch  # noqa: F401  # loaded now, not during the first chunk


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _given_up(chunk: Chunk) -> ScenarioError:
    return ScenarioError(
        f"a worker process was killed {_DEATHS + 1} times at the {chunk.count} nights from "
        f"{chunk.first}, perhaps for want of memory",
        hint="try fewer workers",
    )
