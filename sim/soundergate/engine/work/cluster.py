"""Workers on other machines, through Dask: `--cluster ADDRESS`.

The scheduler is given one small task a chunk and keeps only a few chunks a worker in hand, so
neither it nor we grow with the run. A worker that is lost has its chunks played by another; since
a night depends on seed and number alone, nobody can tell from the result.
"""

from __future__ import annotations

import gc
import ssl
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import islice
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from soundergate.engine.work.chunks import Chunk, Work
from soundergate.engine.work.cluster_address import SUCH_AS
from soundergate.engine.work.cluster_workers import Watch, Workers, gone, without_dask
from soundergate.engine.work.fingerprint import Answer, checked, do, made_with
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from distributed import Client, Future, Security

R = TypeVar("R")

_AHEAD = 3
"""Chunks in hand for each worker thread: one being played, one ready there, one on the way."""
_HELD = 50
"""Answers a thread that may wait for an earlier one, so that nobody waits for a slow worker."""
_LOOK_AGAIN = 1.0
_LEAST_SECONDS, _TASKS_A_SECOND = 5.0, 100.0
"""Work in a chunk, and chunks in all that the scheduler is to handle; it could do ten times so."""


class Cluster:
    """The workers of the Dask scheduler at ``address``, such as "tcp://10.0.0.5:8786".

    ``security`` is for a scheduler that speaks TLS, at an address such as "tls://10.0.0.5:8786".
    While there are no workers it waits for some; ``watch`` is told so, and when it goes on, and is
    a line on standard error if not given.

    Raises
    ------
    ScenarioError
        If Dask is not installed, nobody answers at the address within ``timeout`` seconds, the TLS
        handshake fails, or a worker computes otherwise than this machine.
    """

    chunk_most = 10**9
    """Nights; a chunk is played in blocks, so its length costs no memory."""

    def __init__(
        self,
        address: str,
        security: Security | None = None,
        watch: Watch | None = None,
        timeout: float = 10.0,
    ) -> None:
        self.address = address
        self.client = _connect(address, security, timeout)
        self._workers = Workers(self.client, address, watch)
        try:
            self._workers.look()
        except BaseException:
            self.client.close()
            raise

    @property
    def workers(self) -> int:
        """Worker threads at present; 1 while there are none, to have something ready for it."""
        return max(1, self._workers.look())

    @property
    def chunk_seconds(self) -> float:
        """Longer chunks than on one machine, the longer the more workers share the scheduler."""
        return max(_LEAST_SECONDS, self.workers / _TASKS_A_SECOND)

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]:
        remaining = iter(chunks)
        waiting: deque[Future] = deque()
        finished: SimpleQueue[Future] = SimpleQueue()
        in_work, here = 0, made_with()
        self._workers.first()
        self._workers.at_work = True
        # A task of its own and not scattered data: should its holder be lost, it is made again.
        shared = self.client.submit(unchanged, job, pure=False)
        try:
            while True:
                in_work -= _drained(finished)
                room = min(_AHEAD * self.workers - in_work, _HELD * self.workers - len(waiting))
                for chunk in islice(remaining, max(0, room)):
                    waiting.append(self.client.submit(do_if_alike, shared, chunk, here, pure=False))
                    waiting[-1].add_done_callback(finished.put)
                    in_work += 1
                if not waiting:
                    return
                if waiting[0].done():
                    result = self._result(waiting[0])
                    waiting.popleft().release()
                    yield result
                else:
                    in_work -= _drained(finished, wait=True)
        finally:
            self._forget([*waiting, shared])
            self._workers.at_work = False

    def _result(self, future: Future) -> Any:
        from distributed import CancelledError, KilledWorker

        try:
            return checked(future.result())
        except KilledWorker as error:
            raise ScenarioError(
                f"workers of the cluster at {self.address} were killed one after another at the "
                f"same nights: {error}",
                hint="they may lack memory",
            ) from None
        except (CancelledError, TimeoutError, OSError) as error:
            raise gone(self.address, error) from None
        except Exception:
            # One of another version that has just joined may answer anything; if so, name it.
            self._workers.ask_the_others()
            raise

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


def do_if_alike(job: Work[R], chunk: Chunk, wanted: dict[str, str]) -> Answer:
    """Done by the worker, unless it computes otherwise: it then says so before it compiles."""
    made = made_with()
    return do(job, chunk) if made == wanted else Answer(made, None)


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


def _connect(address: str, security: Security | None, timeout: float) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise without_dask() from None
    _check(address, security)
    refused = None
    try:
        return Client(address, security=security, timeout=timeout, set_as_default=False)
    except (OSError, ValueError, TypeError, RuntimeError) as error:
        refused = _refusal(address, error)
    # What is left of the client closes itself when it is collected. Should that happen just
    # while another one starts, each waits for the other for ever; so let it be now.
    gc.collect()
    raise refused


def _check(address: str, security: Security | None) -> None:
    """That an address which speaks TLS has certificates, and that they are for such an address."""
    from distributed import Security

    encrypted = address.startswith("tls://")
    if security is not None and not encrypted:
        raise ScenarioError(
            f"the address {address!r} is not one for TLS, and certificates are given",
            hint="wanted an address such as tls://10.0.0.5:8786",
        )
    if encrypted and security is None:
        # what Dask's own configuration of this machine says
        settings = Security().get_tls_config_for_role("client")
        if not settings["ca_file"] or not settings["cert"]:
            raise ScenarioError(
                f"the cluster at {address!r} speaks TLS, and no certificates are given",
                hint="give --cluster-security FILE, which names them",
            )


def _refusal(address: str, error: Exception) -> ScenarioError:
    """Why no client could be had, in words."""
    from distributed.comm import CommClosedError

    causes: list[BaseException] = [error]
    while (cause := causes[-1].__cause__ or causes[-1].__context__) is not None:
        causes.append(cause)
    for one in causes:
        if isinstance(one, ssl.SSLCertVerificationError):
            return ScenarioError(
                f"the certificate of the cluster at {address} is refused: {one.verify_message}",
                hint="ca-file must be that of the authority which signed it",
            )
    # The other side breaks off before or after we have begun to encrypt: both are seen.
    if address.startswith("tls://") and isinstance(error, CommClosedError | ValueError):
        return ScenarioError(
            f"the cluster at {address} broke off the TLS handshake",
            hint="its ca-file must be that of the authority which signed our client.cert, and it "
            "must speak TLS",
        )
    reset = any(isinstance(one, ConnectionResetError) for one in causes)
    hint = (
        "if it speaks TLS: tls:// before the address, and --cluster-security FILE"
        if reset
        else SUCH_AS
    )
    reason = str(error) or type(error).__name__
    return ScenarioError(f"no cluster answers at {address!r}: {reason}", hint=hint)
