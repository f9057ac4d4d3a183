"""Workers on other machines, through Dask: `--cluster ADDRESS`.

The scheduler is given one small task a chunk and keeps only a few chunks a worker in hand, so
neither it nor we grow with the run. A worker that is lost has its chunks played by another; since
a night depends on seed and number alone, nobody can tell from the result.
"""

from __future__ import annotations

import gc
import time
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import islice
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from soundergate.engine.work.elsewhere import Answer, do, made_with, taken
from soundergate.engine.work.executors import Chunk, Work
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from distributed import Client, Future

R = TypeVar("R")

_AHEAD = 3
"""Chunks in hand for each worker thread: one being played, one ready there, one on the way."""
_HELD = 50
"""Answers a thread that may wait for an earlier one, so that nobody waits for a slow worker."""
_LOOK_AGAIN = 1.0
_LEAST_SECONDS, _TASKS_A_SECOND = 5.0, 100.0
"""Work in a chunk, and chunks in all that the scheduler is to handle; it could do ten times so."""
_COUNT_AGAIN = 5.0
"""Seconds after which workers that came or went are counted."""


class Cluster:
    """The workers of the Dask scheduler at ``address``, such as "tcp://10.0.0.5:8786".

    Raises
    ------
    ScenarioError
        If Dask is not installed, or nobody answers at the address within ``timeout`` seconds.
    """

    chunk_most = 10**9
    """Nights; a chunk is played in blocks, so its length costs no memory."""

    def __init__(self, address: str, timeout: float = 10.0) -> None:
        self.address = address
        self.client = _connect(address, timeout)
        self._threads, self._counted = 0, float("-inf")

    @property
    def workers(self) -> int:
        """Worker threads at present."""
        now = time.monotonic()
        if now - self._counted > _COUNT_AGAIN:
            self._threads, self._counted = sum(self.client.nthreads().values()), now
        return max(1, self._threads)

    @property
    def chunk_seconds(self) -> float:
        """Longer chunks than on one machine, the longer the more workers share the scheduler."""
        return max(_LEAST_SECONDS, self.workers / _TASKS_A_SECOND)

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        remaining = iter(chunks)
        waiting: deque[Future] = deque()
        finished: SimpleQueue[Future] = SimpleQueue()
        in_work = 0
        # A task of its own and not scattered data: should its holder be lost, it is made again.
        shared = self.client.submit(unchanged, job, pure=False)
        try:
            while True:
                in_work -= _drained(finished)
                room = min(_AHEAD * self.workers - in_work, _HELD * self.workers - len(waiting))
                for chunk in islice(remaining, max(0, room)):
                    waiting.append(self.client.submit(do, shared, chunk, pure=False))
                    waiting[-1].add_done_callback(finished.put)
                    in_work += 1
                if not waiting:
                    return
                if waiting[0].done():
                    answer = self._result(waiting[0])
                    waiting.popleft().release()
                    yield taken(answer)
                else:
                    in_work -= _drained(finished, wait=True)
        finally:
            self._forget([*waiting, shared])

    def _result(self, future: Future) -> Any:
        from distributed import CancelledError, KilledWorker
        from distributed.comm import CommClosedError

        try:
            return future.result()
        except KilledWorker as error:
            raise ScenarioError(
                f"workers of the cluster at {self.address} were killed one after another at the "
                f"same nights: {error}",
                hint="they may lack memory",
            ) from None
        except (CancelledError, CommClosedError, TimeoutError, OSError) as error:
            raise ScenarioError(
                f"the cluster at {self.address} no longer answers ({type(error).__name__})"
            ) from None

    def _forget(self, futures: list[Future]) -> None:
        if self.client.status == "running":
            self.client.cancel(futures, force=True)

    def close(self) -> None:
        """Let go of the cluster; its workers stay."""
        self.client.close()

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def unchanged(job: Work[R]) -> Work[R]:
    """The job itself, to be held by the workers."""
    return job


def _drained(finished: SimpleQueue[Future], wait: bool = False) -> int:
    """How many have finished since the last call; with ``wait`` until one has, or a second."""
    count = 0
    with suppress(Empty):
        if wait:
            finished.get(timeout=_LOOK_AGAIN)
            count += 1
        while True:
            finished.get_nowait()
            count += 1
    return count


def _connect(address: str, timeout: float) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise ScenarioError(
            "a cluster needs Dask, which is not installed",
            hint="pip install 'soundergate[cluster]'",
        ) from None
    reason = ""
    try:
        client = Client(address, timeout=timeout, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        reason = str(error) or type(error).__name__
    if reason:
        # What is left of the client closes itself when it is collected. Should that happen just
        # while another one starts, each waits for the other for ever; so let it be now.
        gc.collect()
        raise ScenarioError(
            f"no cluster answers at {address!r}: {reason}",
            hint="wanted the address of a Dask scheduler, such as tcp://10.0.0.5:8786",
        )
    try:
        client.wait_for_workers(1, timeout)
        for made in client.run(made_with).values():
            taken(Answer(made, None))
    except TimeoutError:
        client.close()
        raise ScenarioError(
            f"the cluster at {address} has no workers",
            hint=f"start some: dask worker {address} --nthreads 1",
        ) from None
    except ImportError as error:
        client.close()
        raise ScenarioError(
            f"a worker of the cluster at {address} cannot work: {error}",
            hint="install soundergate, the same version, on every worker",
        ) from None
    except ScenarioError:
        client.close()
        raise
    return client
