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
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from multiprocessing import connection, get_context, parent_process
from typing import Any, TypeVar

from soundergate.engine.work.elsewhere import Answer, do, taken
from soundergate.engine.work.executors import Chunk, Work
from soundergate.scenario.errors import ScenarioError

R = TypeVar("R")

_DEATHS = 3
"""Times that a worker may be killed on one chunk before we give up."""
_LOOK_AGAIN = 1.0
"""Seconds without an answer after which we see whether all workers are alive."""


class Processes:
    """``workers`` processes, started at first use and kept for later runs until `close`.

    A worker that is killed is replaced, and what it was at is done again.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._pool: _Pool | None = None

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
                    answer = self._answer(waiting[0])
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
            self._pool = _Pool(self.workers, get_context("spawn"), prepare_worker)
        with _no_ctrl_c():
            return self._pool.submit(do, job, chunk)

    def _answer(self, one: _Waiting) -> Answer:
        assert self._pool is not None
        assert one.future is not None
        return self._pool.result(one.future)

    def close(self) -> None:
        """End the processes once they are done with what they are at."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.end()

    def __enter__(self) -> Processes:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class _Pool(ProcessPoolExecutor):
    """A pool that survives a worker which is killed in the midst of handing over an answer.

    The thread in which the pool reads answers would wait for the rest of that one for ever, since
    the other workers, and we, hold the same pipe open. So now and then we look for the dead, end
    the rest, and let go of the pipe: the pool then finds itself broken, as for any other death.
    """

    def result(self, future: Future[R]) -> R:
        """The result once it is there; BrokenProcessPool if a worker was killed."""
        while True:
            try:
                return future.result(_LOOK_AGAIN)
            except TimeoutError:
                if future.done():
                    return future.result()
                _free(list((self._processes or {}).values()), self._result_queue)

    def end(self) -> None:
        """End the workers once they are done with what they are at."""
        thread: Any = self._executor_manager_thread
        answers = self._result_queue
        workers = list((self._processes or {}).values())
        self.shutdown(wait=False, cancel_futures=True)
        while thread is not None and thread.is_alive():
            thread.join(_LOOK_AGAIN)
            _free(workers, answers)
        if answers is not None:
            answers.close()


def _free(workers: list[Any], answers: Any) -> None:
    if any(worker.exitcode not in (None, 0) for worker in workers):
        for worker in workers:
            worker.kill()
        if answers is not None:
            answers._writer.close()


@dataclass
class _Waiting:
    """A chunk that is being worked on, or is to be."""

    chunk: Chunk
    future: Future[Answer] | None = None


@contextmanager
def _no_ctrl_c() -> Iterator[None]:
    """What is started in the block does not hear Ctrl-C; we do, when it is over."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def prepare_worker() -> None:
    """Make this process a worker: loaded, deaf to Ctrl-C, and gone when its parent is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from soundergate.engine.kernel import batch  # noqa: F401  # loaded now, not during the first chunk


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
