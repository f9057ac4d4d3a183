"""Campaigns of setups in plausible worlds: what nobody knows moves from world to world.

Each world is planned once, for all of its campaigns and nights. World w plays campaigns (w - 1) n
to w n - 1 of the run's seed, the same for every setup.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

import numpy as np

from soundergate.engine.work.chunks import Chunk
from soundergate.engine.work.executors import InOrder, choose_executor
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.planning import Costs
from soundergate.scenario.schema import Scenario
from soundergate.seasons.campaigns.campaign import Course
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.money.costs import campaign_costs
from soundergate.seasons.setups import job_of
from soundergate.seasons.worlds.result import NOISY, SeasonWorlds, WorldMeans
from soundergate.studies.arms import Arm
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.players import check_engine, check_workers
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.further import MOST_CAMPAIGNS, Longer
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.playing import play_worlds
from soundergate.studies.worlds.robust import (
    DEFAULT_WORLDS,
    FEWEST_WORLDS,
    check_number,
    check_worlds,
)
from soundergate.studies.worlds.verdicts import NEGLIGIBLE, check_negligible, in_doubt
from soundergate.studies.worlds.worlds import draw, unknowns, worlds_of

DEFAULT_CAMPAIGNS = 100
"""In each world."""
FEWEST_CAMPAIGNS = 10
_AT_ONCE = 8
"""Setups in worlds that are played as one piece of work: some tenths of a second."""

Played: TypeAlias = WorldMeans | str
"""What campaigns of every setup came to in a world, or why that world cannot be."""


class CampaignsInWorlds:
    """Setups whose campaigns are played in worlds, which go by their row in ``places``.

    As `studies.worlds.playing.Stacked`, for campaigns in place of nights.
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
        self.at_once = max(1, _AT_ONCE // len(arms)) if engine == "batch" else 1
        self.executor = choose_executor(workers, engine) if engine == "batch" else InOrder()
        self._made = [worlds_of(arm.scenario, what) for arm in arms]

    def __call__(
        self, seed: int, worlds: Sequence[int], first: Sequence[int], count: int
    ) -> list[Played]:
        """``count`` campaigns in each of some worlds, from number ``first[w]`` on."""
        pairs = zip(worlds, first, strict=True)
        return [self._played(seed, world, Chunk(at, count)) for world, at in pairs]

    def _played(self, seed: int, world: int, campaigns: Chunk) -> Played:
        u, taken = self.places[world].tolist(), []
        for arm, make in zip(self.arms, self._made, strict=True):
            try:
                scenario = make(u)
                course = job_of(scenario, seed, self.engine)(campaigns)
            except ScenarioError as error:
                return f"{arm.name}: {error}" if arm.name else str(error)
            taken.append(_Taken.of(scenario, course))
        return _means(taken)


class _Taken(NamedTuple):
    """What one setup took in each of C campaigns: by figure float[C]."""

    figures: dict[str, np.ndarray]

    @classmethod
    def of(cls, scenario: Scenario, course: Course) -> _Taken:
        campaigns = course.campaigns
        figures = {
            name: np.asarray(question.answer(campaigns), float)
            for name, question in QUESTIONS.items()
        }
        costs = campaign_costs(scenario.costs or Costs(), campaigns)
        unknown = np.full(len(campaigns), math.nan)
        for name, values in (
            ("cost_per_campaign", costs.total),
            ("hours_per_campaign", costs.total_hours),
        ):
            figures[name] = unknown if values is None else values
        return cls(figures)


def _means(taken: Sequence[_Taken]) -> WorldMeans:
    """Over the campaigns of a world, with what so few leave open."""
    means = {
        name: np.array([float(one.figures[name].mean()) for one in taken])
        for name in taken[0].figures
    }
    noisy = np.array([one.figures[name] for name in NOISY for one in taken])
    return WorldMeans(means, np.atleast_2d(np.cov(noisy)) / noisy.shape[1])


def season_unknowns(arms: Sequence[Arm], only: Sequence[str] | None = None) -> list[Input]:
    """What nobody knows of the nights and the campaigns of some setups."""
    return unknowns([arm.scenario for arm in arms], only, campaign=True)


def season_worlds(
    arms: Sequence[Arm],
    pairs: Sequence[tuple[int, int]],
    worlds: int = DEFAULT_WORLDS,
    campaigns: int = DEFAULT_CAMPAIGNS,
    seed: int | None = 1,
    engine: str = "batch",
    progress: Progress | None = None,
    *,
    only: Sequence[str] | None = None,
    level: float = 0.95,
    negligible: float = NEGLIGIBLE,
    workers: int | None = None,
) -> SeasonWorlds:
    """Play campaigns of setups in plausible worlds.

    Parameters
    ----------
    pairs : numbers of the setups that are set against each other (`seasons.season.pairs_of`)
    worlds, campaigns : how many worlds, and campaigns of each setup in each; worlds that so few
        leave open on which side of a negligible difference they lie play more where that can change
        what is said (`studies.worlds.further`)
    seed, engine, progress, workers : as in `studies.worlds.robust.robust`; progress counts
        campaigns of a setup
    only : leading parts of the keys to draw; all that nobody knows of nights and campaigns unless
        given
    level : of what is said of all pairs together
    negligible : share of the group, and share of what a pig costs, below which a difference is no
        matter

    On Ctrl-C the worlds done so far stand, if there are enough of them to say anything.

    Raises
    ------
    StudyError
        For too few worlds or campaigns, nothing to draw, or no world that can be played.
    """
    check_engine(engine)
    check_workers(workers)
    check_worlds(worlds)
    check_negligible(negligible)
    check_number("campaigns in each world", campaigns, FEWEST_CAMPAIGNS)
    number, level = check_seed(seed), check_level(level)
    what = season_unknowns(arms, only)
    if not what:
        raise StudyError("nothing to draw: these setups state every value asked for")
    places = draw(what, worlds, number)
    state = _State()
    longer = Longer(worlds, campaigns, len(arms), MOST_CAMPAIGNS)
    play = CampaignsInWorlds(arms, what, places, engine, workers)

    def found() -> SeasonWorlds:
        rows = list(state.done)
        return SeasonWorlds(
            arms=tuple(arm.name for arm in arms),
            scenarios=tuple(arm.scenario for arm in arms),
            pairs=tuple(pairs),
            unknowns=tuple(what),
            worlds=np.array(rows) + 1,
            places=places[rows],
            means=WorldMeans.together([state.done[row] for row in rows]),
            campaigns=campaigns,
            seed=number,
            level=level,
            negligible=negligible,
            asked=worlds,
            failed=dict(state.failed),
            played_in=longer.had[rows],
            further=longer.further,
        )

    try:
        for row, played in play_worlds(
            play, number, range(worlds), range(0, worlds * campaigns, campaigns), campaigns
        ):
            state.add(row, played)
            if progress is not None:
                progress((row + 1) * campaigns, worlds * campaigns)
        if state.done and pairs:
            longer.play(play, number, list(state.done), lambda: _doubtful(found()), state.more)
    except KeyboardInterrupt:
        if len(state.done) < FEWEST_WORLDS:
            raise
    if len(state.done) < FEWEST_WORLDS:
        raise StudyError(
            f"only {len(state.done)} of {worlds} worlds could be played ({state.first_failure()})"
        )
    return found()


@dataclass
class _State:
    """Worlds by row: what they came to, and why others cannot be."""

    done: dict[int, WorldMeans] = field(default_factory=dict)
    failed: dict[int, str] = field(default_factory=dict)

    def add(self, row: int, played: Played) -> None:
        if isinstance(played, str):
            self.failed[row + 1] = played
        else:
            self.done[row] = played

    def more(self, row: int, played: WorldMeans, share: float) -> None:
        """Further campaigns of a world, which are a ``share`` of all that it has then."""
        self.done[row] = self.done[row].joined(played, share)

    def first_failure(self) -> str:
        return next(iter(self.failed.values()), "stopped by hand")


def _doubtful(found: SeasonWorlds) -> np.ndarray:
    """bool[W, P]: worlds in doubt for a pair, in anything that it is set against each other in."""
    columns = [
        np.column_stack(values)
        for values in zip(
            *(
                found.gains(first, second, name)
                for first, second in found.compared
                for name in found.measures_of(first, second)
            ),
            strict=True,
        )
    ]
    gains, noise = columns
    return in_doubt(gains, noise, found.negligible, found.level, len(found.pairs))
