"""Processes of this machine, for work that holds the interpreter lock.

They are spawned, never forked: a fork copies locks and compiled code in whatever state they are.
Each has a pipe of its own, at whose other end nobody else is: that of a process which is killed,
even in the midst of an answer, ends there, and the others do not notice.
"""

from __future__ import annotations

import os
import signal
import threading
import traceback
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from multiprocessing import connection, get_context, parent_process
from typing import Any, TypeVar

from soundergate.engine.work.chunks import Chunk, Work
from soundergate.engine.work.fingerprint import Answer, checked, do
from soundergate.files import undivided
from soundergate.scenario.errors import ScenarioError

R = TypeVar("R")

_DEATHS = 3
"""Times that a worker may be killed on one chunk before we give up."""
_IN_HAND = 2
"""Chunks that a worker has: one to work on, and the next."""


class Processes:
    """``workers`` processes, started at first use and kept for later runs until `close`.

    A worker that is killed is replaced, and what it was at is done again.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._started: list[_Worker] = []

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        remaining = iter(chunks)
        tasks: deque[_Task] = deque()
        while True:
            room = _IN_HAND * self.workers - len(tasks)
            tasks.extend(_Task(chunk) for chunk in islice(remaining, room))
            self._hand_out(job, tasks)
            if not tasks:
                return
            while tasks[0].answer is None:
                self._collect()
                self._hand_out(job, tasks)
            yield _result(tasks.popleft().answer)

    def _hand_out(self, job: Work[R], tasks: Iterable[_Task]) -> None:
        for task in tasks:
            if not task.handed_out:
                while len(self._started) < self.workers:
                    self._started.append(_Worker())
                free = [worker for worker in self._started if worker.has_room_for(job)]
                if not free:
                    return
                min(free, key=lambda worker: len(worker.tasks)).give(job, task)

    def _collect(self) -> None:
        """Wait for an answer, or for the end of a worker."""
        by_pipe: dict[Any, _Worker] = {worker.pipe: worker for worker in self._started}
        for ready in connection.wait(list(by_pipe)):
            worker = by_pipe[ready]
            try:
                answer = worker.pipe.recv()
            except (EOFError, OSError):
                self._started.remove(worker)
                worker.end()
                _do_again(worker.tasks)
            else:
                worker.tasks.popleft().answer = answer

    def close(self) -> None:
        """End the processes once they are done with what they are at."""
        workers, self._started = self._started, []
        for worker in workers:
            worker.end()

    def __enter__(self) -> Processes:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@dataclass(eq=False)
class _Task:
    """A chunk that is to be done, and what came of it."""

    chunk: Chunk
    handed_out: bool = False
    answer: Answer | Exception | None = None
    deaths: int = 0


class _Worker:
    """A process, and what it has in hand."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=work, args=(theirs,), daemon=True)
        with undivided():
            _start_tracker()
            with _signals_wait():
                self.process.start()
        theirs.close()
        self.job: Any = None
        self.tasks: deque[_Task] = deque()

    def has_room_for(self, job: Any) -> bool:
        """A job is long: it is sent only to a worker that waits for it, or both might wait for
        the other to read."""
        return len(self.tasks) < (_IN_HAND if job is self.job else 1)

    def give(self, job: Any, task: _Task) -> None:
        task.handed_out = True
        self.tasks.append(task)
        try:
            if job is not self.job:
                self.job = job
                self.pipe.send(job)
            self.pipe.send(task.chunk)
        except OSError:
            pass  # it was killed, which whoever waits for its answer will see

    def end(self) -> None:
        self.pipe.close()  # it has nothing to wait for any more
        self.process.join()


def _do_again(tasks: Iterable[_Task]) -> None:
    """What a worker had that was killed: at the first of it, if at anything."""
    for place, task in enumerate(tasks):
        task.handed_out = False
        task.deaths += place == 0
        if task.deaths > _DEATHS:
            raise ScenarioError(
                f"a worker process was killed {task.deaths} times at the {task.chunk.count} "
                f"nights from {task.chunk.first}, perhaps for want of memory",
                hint="try fewer workers",
            )


def _result(answer: Answer | Exception | None) -> Any:
    if isinstance(answer, Answer):
        return checked(answer)
    assert answer is not None
    raise answer


def _start_tracker() -> None:
    """A process of Python's own, which it starts beside the first that is spawned. It lets signals
    through again once that is done, and so must be there before they are blocked."""
    if hasattr(signal, "pthread_sigmask"):
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()


@contextmanager
def _signals_wait() -> Iterator[None]:
    """What is started in the block does not notice Ctrl-C; we do, when it is over."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# ---- in the other process ------------------------------------------------------------------


def work(pipe: connection.Connection) -> None:
    """Do what comes through the pipe, a job or a chunk of the last one, until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})  # as it was started with
    threading.Thread(target=_end_with_parent, daemon=True).start()
    job: Any = None
    while True:
        try:
            came = pipe.recv()
            if isinstance(came, Chunk):
                _send(pipe, _answer(job, came))
            else:
                job = came
        except (EOFError, OSError):
            return


def _send(pipe: connection.Connection, answer: Answer | Exception) -> None:
    try:
        pipe.send(answer)
    except OSError:
        raise
    except Exception as error:  # what cannot be pickled, of which nothing has been sent
        pipe.send(TypeError(f"a worker's answer cannot be handed over: {error}"))


def _answer(job: Work[Any], chunk: Chunk) -> Answer | Exception:
    try:
        return do(job, chunk)
    except Exception as error:
        error.add_note("".join(traceback.format_exception(error)))
        return error


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
