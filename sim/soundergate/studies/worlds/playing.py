"""Nights of setups in plausible worlds: the plans of several worlds are stacked and played at once.

Whoever asks says which nights each world plays. A world in which one setup cannot be built, or has
a night without end, is played by none of them, so that all are compared over the same worlds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Protocol, TypeAlias, TypeVar

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.engine.work.chunks import Chunk, WrongNights, cut
from soundergate.engine.work.executors import InOrder, choose_executor, iterate
from soundergate.scenario.errors import ScenarioError
from soundergate.studies.arms import Arm
from soundergate.studies.players import Player, plan_of
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.worlds import worlds_of

if TYPE_CHECKING:
    from soundergate.engine.plan import NightPlan
    from soundergate.engine.work.chunks import Executor

T = TypeVar("T")

Played: TypeAlias = "list[Outcomes] | str"
"""Nights of every arm in a world, or why that world cannot be."""

WorldPlayer = Callable[[int, np.ndarray], Player]
"""From an arm's number and a world's places u, float[unknowns], to what plays that arm there."""

_PLANS = {"batch": 32, "reference": 1}
"""Plans that are played at once, by engine, but one world at least: some tenths of a second."""
_KEPT = 1024
"""Plans that are kept for further nights; about a hundred megabytes. Others are made again."""


class Stacked:
    """Arms of which ``at_once`` worlds are played in one call.

    ``places`` float[W, unknowns] are those of all worlds, which go by their row. The batch engine
    lets go of the interpreter lock, so that one thread makes worlds while another plays some.
    """

    def __init__(
        self,
        arms: Sequence[Arm],
        what: Sequence[Input],
        places: np.ndarray,
        engine: str,
        workers: int | None = 1,
    ) -> None:
        self.arms, self.places, self.engine = arms, places, engine
        threads = engine == "batch"  # the other engine holds the lock
        self.executor: Executor = choose_executor(workers, engine) if threads else InOrder()
        self.at_once = max(1, _PLANS[engine] // len(arms))
        self._made = [worlds_of(arm.scenario, what) for arm in arms]
        self._kept: dict[int, list[NightPlan]] = {}

    def __call__(
        self, seed: int, worlds: Sequence[int], first: Sequence[int], count: int
    ) -> list[Played]:
        """``count`` nights in each of some worlds, from number ``first[w]`` on."""
        plans = [self._plans(world) for world in worlds]
        can_be = [one for one in plans if not isinstance(one, str)]
        starts = [at for at, one in zip(first, plans, strict=True) if not isinstance(one, str)]
        played = iter(self._played(can_be, seed, starts, count))
        return [one if isinstance(one, str) else next(played) for one in plans]

    def _plans(self, world: int) -> list[NightPlan] | str:
        """The plan of every arm in a world, or why one cannot be built there."""
        if world in self._kept:
            return self._kept[world]
        u, plans = self.places[world].tolist(), []
        for arm, make in zip(self.arms, self._made, strict=True):
            try:
                plans.append(plan_of(make(u)))
            except ScenarioError as error:
                return _why(arm.name, error)
        if len(self.arms) * (len(self._kept) + 1) <= _KEPT:
            self._kept[world] = plans
        return plans

    def _played(
        self, plans: list[list[NightPlan]], seed: int, first: Sequence[int], count: int
    ) -> list[Played]:
        from soundergate.engine import play_stack

        flat = [plan for each in plans for plan in each]
        starts = [at for at in first for _ in self.arms]
        try:
            outcomes = play_stack(flat, seed, starts, count, self.engine)
        except ScenarioError:  # a night without end: found by playing each plan alone
            return [
                self._alone(each, seed, at, count) for each, at in zip(plans, first, strict=True)
            ]
        k = len(self.arms)
        return [outcomes[row : row + k] for row in range(0, len(outcomes), k)]

    def _alone(self, plans: list[NightPlan], seed: int, first: int, count: int) -> Played:
        from soundergate.engine import play

        played = []
        for arm, plan in zip(self.arms, plans, strict=True):
            try:
                played.append(play(plan, seed, first, count, self.engine))
            except ScenarioError as error:
                return _why(arm.name, error)
        return played


class OneByOne:
    """The same of anything that plays nights of an arm in a world."""

    at_once = 1

    def __init__(self, names: Sequence[str], play_in: WorldPlayer, places: np.ndarray) -> None:
        self.names, self.play_in, self.places = names, play_in, places
        self.executor: Executor = InOrder()

    def __call__(
        self, seed: int, worlds: Sequence[int], first: Sequence[int], count: int
    ) -> list[Played]:
        """As `Stacked`."""
        pairs = zip(worlds, first, strict=True)
        return [self._played(seed, world, at, count) for world, at in pairs]

    def _played(self, seed: int, world: int, first: int, count: int) -> Played:
        played = []
        for number, name in enumerate(self.names):
            try:
                played.append(self.play_in(number, self.places[world])(seed, first, count))
            except ScenarioError as error:
                return _why(name, error)
        return played


class Plays(Protocol[T]):
    """What plays ``at_once`` worlds, which go by their row, in one piece of work."""

    at_once: int
    executor: Executor

    def __call__(
        self, seed: int, worlds: Sequence[int], first: Sequence[int], count: int
    ) -> list[T]: ...


@dataclass(frozen=True)
class _Work(Generic[T]):
    """Nights, or campaigns, of some worlds; its chunks are of worlds."""

    play: Plays[T]
    seed: int
    worlds: Sequence[int]
    first: Sequence[int]
    count: int

    def __call__(self, chunk: Chunk) -> list[T]:
        these = slice(chunk.first, chunk.first + chunk.count)
        return self.play(self.seed, self.worlds[these], self.first[these], self.count)

    def check(self, chunk: Chunk, result: list[T]) -> None:
        """Raises WrongNights for too few worlds or too many."""
        if len(result) != chunk.count:
            raise WrongNights(f"asked for {chunk.count} worlds, got {len(result)}")


def play_worlds(
    play: Plays[T], seed: int, worlds: Sequence[int], first: Sequence[int], count: int
) -> Iterator[tuple[int, T]]:
    """Each world, in order, with what was played from number ``first`` on."""
    work = _Work(play, seed, worlds, first, count)
    pieces = iterate(work, cut(0, len(worlds), play.at_once), play.executor)
    yield from zip(worlds, (played for piece in pieces for played in piece), strict=True)


def _why(name: str, error: ScenarioError) -> str:
    return f"{name}: {error}" if name else str(error)
