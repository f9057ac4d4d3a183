"""Who works on a cluster at present: whether anybody does, and whether all compute as we do."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from soundergate.engine.work.fingerprint import REMEDY, differences, made_with
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from distributed import Client

_LOOK_AGAIN, _LOOK_FOR_FIRST = 5.0, 1.0
"""Seconds after which we see who came or went, while there are some and while there are none."""
_NAMED = 3
"""Workers that a message names at most."""

Watch = Callable[[bool], None]
"""Told False when nobody works any more, and True when somebody does again."""


class Workers:
    """The workers of the scheduler that ``client`` is connected to.

    Those that are there before work is handed out are asked what they compute with. One that joins
    later is given work at once, and to ask it aside from that, while it loads the engine, could
    have two of its threads wait for each other for ever: it is asked only if something came back
    that should not have. Every answer carries what it was made with, so that none of another
    version is ever counted.
    """

    def __init__(self, client: Client, address: str, watch: Watch | None = None) -> None:
        self.client, self.address = client, address
        self.watch = watch or self._say
        self.threads = 0
        self.at_work = False
        """Whether work has been handed out."""
        self._known: set[str] = set()
        self._next = float("-inf")
        self._idle = False

    def look(self) -> int:
        """Worker threads at present, or a few seconds ago.

        Raises
        ------
        ScenarioError
            Naming workers that compute otherwise; or if the scheduler does not answer.
        """
        if time.monotonic() >= self._next:
            with answering(self.address):
                threads = self.client.nthreads()
            if not self.at_work:
                self._ask(sorted(set(threads) - self._known))
            self._known &= set(threads)
            self.threads = sum(threads.values())
            self._next = time.monotonic() + (_LOOK_AGAIN if self.threads else _LOOK_FOR_FIRST)
            if self._idle != (not self.threads):
                self._idle = not self.threads
                self.watch(not self._idle)
        return self.threads

    def first(self) -> None:
        """Return once there are some."""
        while not self.look():
            with answering(self.address), suppress(TimeoutError):
                self.client.wait_for_workers(1, timeout=_LOOK_FOR_FIRST)

    def ask_the_others(self) -> None:
        """Ask those that were not asked yet, because something came back that should not have."""
        with answering(self.address):
            threads = self.client.nthreads()
        self._ask(sorted(set(threads) - self._known))

    def _ask(self, workers: list[str]) -> None:
        if not workers:
            return
        with answering(self.address):
            answers = self.client.run(made_with, workers=workers, on_error="return")
        wrong = {}
        for worker, answer in answers.items():
            if isinstance(answer, OSError):  # it is gone, or will be asked again
                continue
            self._known.add(worker)
            if unlike := _unlike(answer):
                wrong[worker] = unlike
        if wrong:
            raise _refused(wrong, len(workers))

    def _say(self, working: bool) -> None:
        print(went_on() if working else nobody(self.address), file=sys.stderr, flush=True)


def nobody(address: str) -> str:
    """What has happened and what to do."""
    return (
        f"No worker at {address}: nothing is computed until one joins. Start some (dask worker "
        f"{address} --nthreads 1) and it goes on by itself, or stop with Ctrl-C."
    )


def went_on() -> str:
    """After that."""
    return "A worker has joined: it goes on."


@contextmanager
def answering(address: str) -> Iterator[None]:
    """Turn what happens when the scheduler is gone into one error."""
    from distributed import CancelledError

    try:
        yield
    except (CancelledError, TimeoutError, OSError) as error:
        raise gone(address, error) from None


def without_dask() -> ScenarioError:
    """What to say where it cannot be imported."""
    return ScenarioError(
        "a cluster needs Dask, which is not installed", hint="pip install 'soundergate[cluster]'"
    )


def gone(address: str, error: BaseException) -> ScenarioError:
    """The scheduler does not answer any more."""
    return ScenarioError(f"the cluster at {address} no longer answers ({type(error).__name__})")


def _unlike(answer: Any) -> str:
    """What is wrong with a worker that answers so; nothing if it computes as we do."""
    if isinstance(answer, Exception):
        # Dask wraps what does not travel into a bare Exception, with its name in the text.
        reason = str(answer) if type(answer) is Exception else repr(answer)
        return f"it has no soundergate that can answer ({reason})"
    return ", ".join(differences(answer))


def _refused(wrong: dict[str, str], asked: int) -> ScenarioError:
    named = "; ".join(f"{worker}: {unlike}" for worker, unlike in list(wrong.items())[:_NAMED])
    more = f"; and {len(wrong) - _NAMED} more" if len(wrong) > _NAMED else ""
    return ScenarioError(
        f"{len(wrong)} of {asked} workers that were asked do not compute as this machine does: "
        f"{named}{more}",
        hint=REMEDY,
    )
