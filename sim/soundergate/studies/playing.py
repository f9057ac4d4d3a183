"""Nights of several setups played side by side, piece by piece, counted in as they come.

Setups that are night plans are played together by an executor, wherever it has its workers, and
only sums come back. Anything else that plays nights is asked here, one after the other. Finished
pieces go to a store if there is one, and pieces that it holds already are not played again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

from soundergate.studies.estimates.stopping import Ending, Progress, Rounds, Targets, play_until
from soundergate.studies.estimates.sums import Summing, Sums
from soundergate.studies.players import PlanPlayer, Player
from soundergate.studies.store.identity import digest

if TYPE_CHECKING:
    from soundergate.engine.work.executors import Job
    from soundergate.studies.store.store import Store

HalfWidths = Callable[[Sums], Mapping[str, float]]

_CHUNK_SECONDS = 0.25
"""Time that a chunk should take: short enough to show progress, and to stop at once on Ctrl-C."""


class Source(Protocol):
    """Plays nights ``first`` to ``first + count - 1`` and yields their sums piece by piece."""

    def pieces(self, first: int, count: int) -> Iterator[Sums]: ...


class Together:
    """Night plans, played by an executor."""

    def __init__(self, players: Sequence[PlanPlayer], seed: int, summing: Summing) -> None:
        from soundergate.engine.work.executors import CHUNK, Job
        from soundergate.engine.work.folding import FLOOR, Folded, Pace

        first = players[0]
        jobs = tuple(Job(play.plan, seed, play.engine) for play in players)
        self.executor = first.executor
        self.work = Folded(jobs, summing, _key(jobs))
        most = CHUNK[first.engine]
        if not summing.keep:  # long chunks are worked off in blocks, of which only sums stay
            most = getattr(self.executor, "chunk_most", most)
        seconds = getattr(self.executor, "chunk_seconds", _CHUNK_SECONDS)
        self.pace = Pace(most, seconds, FLOOR[first.engine])

    def pieces(self, first: int, count: int) -> Iterator[Sums]:
        from soundergate.engine.work.executors import iterate

        workers = getattr(self.executor, "workers", 1)
        chunks = self.pace.chunks(first, count, workers)
        for piece in iterate(self.work, chunks, self.executor):
            self.pace.took(piece.count, piece.seconds)
            yield piece.value


class OneAfterAnother:
    """Anything that plays nights, asked here."""

    def __init__(self, players: Sequence[Player], seed: int, summing: Summing) -> None:
        self.players, self.seed, self.summing = players, seed, summing
        self.rounds = Rounds()

    def pieces(self, first: int, count: int) -> Iterator[Sums]:
        for start, length in self.rounds.over(first, count):
            played = [play(self.seed, start, length) for play in self.players]
            for outcomes in played:
                if len(outcomes) != length:
                    raise RuntimeError(
                        f"asked for {length} nights from {start}, got {len(outcomes)}"
                    )
            yield self.summing(played)


def source(players: Sequence[Player], seed: int, summing: Summing) -> Source:
    """What plays these setups on the same nights."""
    plans = [play for play in players if isinstance(play, PlanPlayer)]
    alike = {(play.engine, id(play.executor)) for play in plans}
    if len(plans) == len(players) and len(alike) == 1:
        return Together(plans, seed, summing)
    return OneAfterAnother(players, seed, summing)


def play_arms(
    players: Sequence[Player],
    seed: int,
    summing: Summing,
    half_widths: HalfWidths,
    nights: int | None,
    targets: Targets | None,
    progress: Progress | None,
    store: Store | None = None,
) -> tuple[Sums, Ending]:
    """Play setups on the same nights until there are enough (`studies.estimates.stopping`).

    With a ``store`` the sums come without the nights, which it keeps.
    """
    keep_here = summing.keep and store is None
    asked = source(players, seed, summing)
    # replaced in one step, so that Ctrl-C finds all of a piece or none of it
    state = Summing(summing.pairs, summing.measures, keep_here).nothing(len(players))

    def play(first: int, count: int) -> Iterator[int]:
        nonlocal state
        known = 0
        for sums in store.chunks(first, count) if store is not None else ():
            state += sums
            known += sums.count
        if known:
            yield known
        for sums in asked.pieces(first + known, count - known):
            state += sums if keep_here else sums.without_nights()
            if store is not None:
                store.add(first + known, sums)
            known += sums.count
            yield sums.count
        if store is not None:
            store.flush()  # so that no row reaches over a look

    ending = play_until(play, lambda: half_widths(state), nights, targets, progress)
    if ending.interrupted and store is not None:
        store.flush()  # before anything is said of what it holds
    return state, ending


def _key(jobs: Sequence[Job]) -> str:
    whole = hashlib.sha256()
    for job in jobs:
        whole.update(f"{digest(job.plan)} {job.seed} {job.engine} ".encode())
    return whole.hexdigest()[:16]
