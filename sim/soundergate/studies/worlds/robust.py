"""Compare setups over what we do not know: many plausible worlds, common nights inside each.

A comparison at the defaults says which setup is ahead if pigs are as assumed. Here every uncertain
default is drawn from its plausible range (`studies.worlds.worlds`), once a world; all
arms play the same nights of that world; and what counts is in how many worlds one arm is ahead of
another, and by how much. One arm alone is played too: then what counts is how its own answer lies
over the worlds. Worlds are numbered from 1; world w plays nights (w - 1) n to w n - 1 of the run's
seed. World 0 is the one in which every unknown is as it is assumed.

The worlds are the sample: intervals here say how well the worlds played stand for all plausible
ones. How plausible a value is, is itself an assumption that the register states.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from soundergate.scenario.errors import ScenarioError
from soundergate.studies.arms import Arm, check_arms
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.measures import MEASURES, Measure
from soundergate.studies.estimates.paired import COMPARED, check_measures
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.players import Player, player
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.negligible import NEGLIGIBLE
from soundergate.studies.worlds.robust_result import RobustComparison
from soundergate.studies.worlds.verdicts import check_negligible, undecided
from soundergate.studies.worlds.worlds import draw, unknowns, worlds_of

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes
    from soundergate.studies.compare import Pair

DEFAULT_WORLDS = 200
DEFAULT_NIGHTS = 200
AGAIN = 10
FEWEST_WORLDS = 20
FEWEST_NIGHTS = 10

WorldPlayer = Callable[[int, np.ndarray], Player]
"""From an arm's number and a world's places u, float[unknowns], to what plays that arm there."""


def robust(
    arms: Sequence[Arm],
    worlds: int = DEFAULT_WORLDS,
    nights: int = DEFAULT_NIGHTS,
    seed: int | None = 1,
    engine: str = "batch",
    progress: Progress | None = None,
    *,
    only: Sequence[str] | None = None,
    level: float = 0.95,
    measures: Iterable[str | Measure] = COMPARED,
    pairs: Sequence[Pair] | None = None,
    keep_nights: bool = False,
    negligible: float = NEGLIGIBLE,
) -> RobustComparison:
    """Play arms in plausible worlds (:func:`soundergate.studies.arms.make_arms` makes arms).

    Parameters
    ----------
    worlds, nights : how many worlds, and nights in each; the former decides how sure the answer is
    seed, engine, progress : as in :func:`soundergate.studies.estimate.run`; progress counts nights
    only : leading parts of the keys to draw, such as "entry" or "leaving.clock"; all that nobody
        knows unless given. A value stated in a scenario file is taken as known
    level : of all intervals of a measure together, over every pair
    measures : what to compare
    pairs : of arm names, first less second; every pair unless given
    keep_nights : keep every night of every arm as well
    negligible : difference in the main measure, where that is a share, below which it is no matter
        which of two arms one takes; worlds whose nights leave open on which side of it they lie are
        played `AGAIN` times as long

    Raises
    ------
    StudyError
        For too few worlds or nights, nothing to draw, or no world that can be played.
    """
    what = unknowns([arm.scenario for arm in arms], only)
    if not what:
        raise StudyError("nothing to draw: these setups state every value asked for")

    made = [worlds_of(arm.scenario, what) for arm in arms]

    def play_in(arm: int, u: np.ndarray) -> Player:  # too few nights to be worth more threads
        return player(made[arm](u.tolist()), engine, workers=1)

    names = [arm.name for arm in arms]
    return robust_players(
        names,
        what,
        play_in,
        worlds,
        nights,
        seed,
        progress,
        level=level,
        measures=measures,
        pairs=pairs,
        keep_nights=keep_nights,
        negligible=negligible,
    )


def robust_players(
    names: Sequence[str],
    what: Sequence[Input],
    play_in: WorldPlayer,
    worlds: int = DEFAULT_WORLDS,
    nights: int = DEFAULT_NIGHTS,
    seed: int | None = 1,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    measures: Iterable[str | Measure] = COMPARED,
    pairs: Sequence[Pair] | None = None,
    keep_nights: bool = False,
    negligible: float = NEGLIGIBLE,
) -> RobustComparison:
    """The same for anything that plays nights of an arm in a world.

    On Ctrl-C the worlds done so far stand, if there are enough of them to say anything.
    """
    check_arms(names)
    check_worlds(worlds)
    _check_number("nights in each world", nights, FEWEST_NIGHTS)
    compared = check_measures(measures)
    settled_seed, level = check_seed(seed), check_level(level)
    places = draw(what, worlds, settled_seed)
    check_negligible(negligible)
    state = _Worlds(compared, nights_kept={name: {} for name in names} if keep_nights else None)
    try:
        for world, u in enumerate(places):
            _play_world(state, names, play_in, u, settled_seed, world * nights, nights)
            if progress is not None:
                progress((world + 1) * nights, worlds * nights)
        _play_more(
            state, _numbered(names, pairs), worlds * nights, nights, settled_seed, negligible
        )
    except KeyboardInterrupt:
        if len(state.done) < FEWEST_WORLDS:
            raise
    if len(state.done) < FEWEST_WORLDS:
        raise StudyError(
            f"only {len(state.done)} of {worlds} worlds could be played ({state.first_failure()})"
        )
    return RobustComparison(
        arms=list(names),
        unknowns=list(what),
        places=places[np.array(state.done) - 1],
        means={name: np.array(rows) for name, rows in state.means.items()},
        noise={name: np.array(rows) for name, rows in state.noise.items()},
        pairs=_pairs(names, pairs),
        nights=nights,
        seed=settled_seed,
        level=level,
        asked=worlds,
        failed=dict(state.failed),
        nights_kept=state.nights_kept,
        negligible=negligible,
        longer=tuple(sorted(state.longer)),
        kinds={asked.name: asked for asked in compared},
        others={name: np.array(rows) for name, rows in state.means_of_others.items()},
    )


@dataclass
class _Worlds:
    """What is kept of the worlds played: ``done`` their numbers, and a row of each in order.

    means[measure] holds float[K], the mean of each arm; noise[measure] float[K, K], the covariance
    of those means that the few nights of a world leave.
    """

    measures: Sequence[Measure]
    done: list[int] = field(default_factory=list)
    means: dict[str, list[np.ndarray]] = field(default_factory=dict)
    noise: dict[str, list[np.ndarray]] = field(default_factory=dict)
    failed: dict[int, str] = field(default_factory=dict)
    nights_kept: dict[str, dict[int, Outcomes]] | None = None
    players: dict[int, list[Player]] = field(default_factory=dict)
    longer: set[int] = field(default_factory=set)
    means_of_others: dict[str, list[np.ndarray]] = field(default_factory=dict)

    @property
    def others(self) -> list[Measure]:
        """Measures that are written down and not compared."""
        compared = {asked.name for asked in self.measures}
        return [one for one in MEASURES.values() if one.every_night and one.name not in compared]

    def add(self, world: int, played: Sequence[Outcomes]) -> None:
        if self.nights_kept is not None:
            for of_arm, outcomes in zip(self.nights_kept.values(), played, strict=True):
                of_arm[world] = outcomes
        for asked in self.others:
            self.means_of_others.setdefault(asked.name, []).append(_means(asked, played))
        rows = {asked.name: _summed(asked, played) for asked in self.measures}
        for name, (mean, noise) in rows.items():
            self.means.setdefault(name, []).append(mean)
            self.noise.setdefault(name, []).append(noise)
        self.done.append(world)

    def more(self, world: int, played: Sequence[Outcomes], share: float) -> None:
        """Further nights of a world, which are a ``share`` of all that it has then."""
        row = self.done.index(world)
        for asked in self.others:
            kept = self.means_of_others[asked.name]
            kept[row] = share * _means(asked, played) + (1 - share) * kept[row]
        for asked in self.measures:
            name = asked.name
            mean, noise = _summed(asked, played)
            old = self.means[name][row], self.noise[name][row]
            self.means[name][row] = share * mean + (1 - share) * old[0]
            self.noise[name][row] = share**2 * noise + (1 - share) ** 2 * old[1]
        if self.nights_kept is not None:
            for of_arm, outcomes in zip(self.nights_kept.values(), played, strict=True):
                of_arm[world] = type(outcomes).concatenate([of_arm[world], outcomes])
        self.longer.add(world)

    def first_failure(self) -> str:
        return next(iter(self.failed.values()), "stopped by hand")


def _play_world(
    state: _Worlds,
    names: Sequence[str],
    play_in: WorldPlayer,
    u: np.ndarray,
    seed: int,
    first: int,
    count: int,
) -> None:
    """Play one world with all arms, or note why an arm cannot be built there and leave it out.

    A world is left out for every arm, so that all are compared over the same ones.
    """
    world, played = first // count + 1, []
    players: list[Player] = []
    for number, name in enumerate(names):
        try:
            play = play_in(number, u)
        except ScenarioError as error:
            state.failed[world] = f"{name}: {error}"
            return
        players.append(play)
        played.append(play(seed, first, count))
    state.add(world, played)
    if len(players) > 1:
        state.players[world] = players


def _play_more(
    state: _Worlds,
    pairs: Sequence[tuple[int, int]],
    free: int,
    nights: int,
    seed: int,
    negligible: float,
) -> None:
    """Further nights where those played leave open whether a pair differs by a negligible share.

    World w then also plays nights f + (w - 1) m to f + w m - 1 of the seed, f being the first that
    no world plays and m the `AGAIN` - 1 times ``nights`` that are added: they are no other world's.
    """
    main = state.measures[0]
    if not pairs or not state.done or not main.a_share:
        return
    more = (AGAIN - 1) * nights
    means, noise = np.array(state.means[main.name]), np.array(state.noise[main.name])
    open_worlds = np.zeros(len(means), dtype=bool)
    for i, j in pairs:
        gap = means[:, i] - means[:, j]
        spread = noise[:, i, i] + noise[:, j, j] - 2 * noise[:, i, j]
        open_worlds |= undecided(gap, np.maximum(spread, 0.0), negligible)
    for world in np.array(state.done)[open_worlds].tolist():
        first = free + (world - 1) * more
        played = [play(seed, first, more) for play in state.players[world]]
        state.more(world, played, more / (more + nights))


def _means(asked: Measure, played: Sequence[Outcomes]) -> np.ndarray:
    """float[K]: mean of each arm over some common nights."""
    return np.array([asked.per_night(outcomes).mean() for outcomes in played])


def _summed(asked: Measure, played: Sequence[Outcomes]) -> tuple[np.ndarray, np.ndarray]:
    """Means of the arms over some common nights, and the covariance of those means."""
    values = np.array([asked.per_night(outcomes) for outcomes in played])
    mean = values.mean(axis=1)
    apart = values - mean[:, None]
    count = values.shape[1]
    return mean, np.einsum("in,jn->ij", apart, apart) / (count - 1) / count


def _pairs(names: Sequence[str], pairs: Sequence[Pair] | None) -> list[Pair]:
    if pairs is None:
        return [(a, b) for place, a in enumerate(names) for b in names[place + 1 :]]
    wrong = [name for pair in pairs for name in pair if name not in names]
    if wrong:
        raise StudyError(f"no arm is named {wrong[0]!r}; the arms are {', '.join(names)}")
    return list(pairs)


def _numbered(names: Sequence[str], pairs: Sequence[Pair] | None) -> list[tuple[int, int]]:
    where = list(names)
    return [(where.index(a), where.index(b)) for a, b in _pairs(names, pairs)]


def check_worlds(worlds: int) -> None:
    """Raises StudyError where there are too few plausible worlds to say anything."""
    _check_number("worlds", worlds, FEWEST_WORLDS)


def asks_worlds(worlds: int) -> bool:
    """Whether plausible worlds are asked for: 0 asks for none. Raises StudyError for too few."""
    if isinstance(worlds, int) and not isinstance(worlds, bool) and worlds == 0:
        return False
    check_worlds(worlds)
    return True


def _check_number(what: str, number: int, fewest: int) -> None:
    whole = isinstance(number, int) and not isinstance(number, bool)
    if not whole or number < fewest or not math.isfinite(number):
        raise StudyError(f"{what}: {number!r}; wanted a whole number, {fewest} or more")
