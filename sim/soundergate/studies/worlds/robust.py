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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from soundergate.studies.arms import Arm, check_arms
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.measures import MEASURES, Measure
from soundergate.studies.estimates.paired import COMPARED, check_measures
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.players import check_engine, check_workers
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.further import MOST_NIGHTS, Longer
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.negligible import NEGLIGIBLE
from soundergate.studies.worlds.playing import OneByOne, Stacked, WorldPlayer, play_worlds
from soundergate.studies.worlds.robust_result import RobustComparison
from soundergate.studies.worlds.verdicts import check_negligible, in_doubt, rare
from soundergate.studies.worlds.worlds import draw, unknowns

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes
    from soundergate.studies.compare import Pair

DEFAULT_WORLDS = 200
DEFAULT_NIGHTS = 200
FEWEST_WORLDS = 20
FEWEST_NIGHTS = 10


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
    workers: int | None = None,
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
        played longer where that can change what is said (`further`)
    workers : cores of this computer for the batch engine; all unless given

    Raises
    ------
    StudyError
        For too few worlds or nights, nothing to draw, or no world that can be played.
    """
    what = unknowns([arm.scenario for arm in arms], only)
    if not what:
        raise StudyError("nothing to draw: these setups state every value asked for")

    check_engine(engine)
    check_workers(workers)
    asked = _Asked([arm.name for arm in arms], what, worlds, nights, seed, level,
                   measures, pairs, keep_nights, negligible)  # fmt: skip
    return _over_worlds(asked, Stacked(arms, what, asked.places, engine, workers), progress)


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
    asked = _Asked(names, what, worlds, nights, seed, level,
                   measures, pairs, keep_nights, negligible)  # fmt: skip
    return _over_worlds(asked, OneByOne(names, play_in, asked.places), progress)


class _Asked:
    """What is asked for, checked; ``places`` float[worlds, unknowns]."""

    def __init__(
        self,
        names: Sequence[str],
        what: Sequence[Input],
        worlds: int,
        nights: int,
        seed: int | None,
        level: float,
        measures: Iterable[str | Measure],
        pairs: Sequence[Pair] | None,
        keep_nights: bool,
        negligible: float,
    ) -> None:
        check_arms(names)
        check_worlds(worlds)
        check_number("nights in each world", nights, FEWEST_NIGHTS)
        self.names, self.what, self.worlds, self.nights = list(names), list(what), worlds, nights
        self.measures = check_measures(measures)
        self.seed, self.level = check_seed(seed), check_level(level)
        self.keep_nights, self.negligible = keep_nights, check_negligible(negligible)
        self.pairs = _pairs(names, pairs)
        self.places = draw(what, worlds, self.seed)


def _over_worlds(
    asked: _Asked, play: Stacked | OneByOne, progress: Progress | None
) -> RobustComparison:
    kept: dict[str, dict[int, Outcomes]] | None
    kept = {name: {} for name in asked.names} if asked.keep_nights else None
    state = _Worlds(asked.measures, nights_kept=kept)
    longer = Longer(asked.worlds, asked.nights, len(asked.names), MOST_NIGHTS)
    try:
        _play_all(state, asked, play, progress)
        _play_more(state, asked, play, longer)
    except KeyboardInterrupt:
        if len(state.done) < FEWEST_WORLDS:
            raise
    if len(state.done) < FEWEST_WORLDS:
        raise StudyError(
            f"only {len(state.done)} of {asked.worlds} worlds could be played "
            f"({state.first_failure()})"
        )
    return RobustComparison(
        arms=asked.names,
        unknowns=asked.what,
        places=asked.places[np.array(state.done) - 1],
        means={name: np.array(rows) for name, rows in state.means.items()},
        noise={name: np.array(rows) for name, rows in state.noise.items()},
        pairs=asked.pairs,
        nights=asked.nights,
        seed=asked.seed,
        level=asked.level,
        asked=asked.worlds,
        failed=dict(state.failed),
        nights_kept=state.nights_kept,
        negligible=asked.negligible,
        played_in=longer.had[np.array(state.done) - 1],
        further=longer.further,
        kinds={one.name: one for one in asked.measures},
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

    def first_failure(self) -> str:
        return next(iter(self.failed.values()), "stopped by hand")


def _play_all(
    state: _Worlds, asked: _Asked, play: Stacked | OneByOne, progress: Progress | None
) -> None:
    """Play every world with all arms, or note why an arm cannot be there and leave it out.

    A world is left out for every arm, so that all are compared over the same ones.
    """
    rows = range(asked.worlds)
    first = [row * asked.nights for row in rows]
    for row, played in play_worlds(play, asked.seed, rows, first, asked.nights):
        if isinstance(played, str):
            state.failed[row + 1] = played
        else:
            state.add(row + 1, played)
        if progress is not None:
            progress((row + 1) * asked.nights, asked.worlds * asked.nights)


def _play_more(state: _Worlds, asked: _Asked, play: Stacked | OneByOne, longer: Longer) -> None:
    """Further nights of worlds that leave open what is said of a pair in the main measure."""
    main = state.measures[0]
    if not asked.pairs or not state.done or not main.a_share:
        return
    number = {name: row for row, name in enumerate(asked.names)}
    first, second = np.array([[number[a], number[b]] for a, b in asked.pairs]).T
    rows = np.array(state.done) - 1

    def doubtful() -> np.ndarray:
        means, noise = np.array(state.means[main.name]), np.array(state.noise[main.name])
        own = np.einsum("wii->wi", noise)
        spread = own[:, first] + own[:, second] - 2 * noise[:, first, second]
        floor = rare(longer.had[rows])[:, None]
        return in_doubt(
            means[:, first] - means[:, second], np.maximum(spread, floor),
            asked.negligible, asked.level, len(asked.pairs),
        )  # fmt: skip

    longer.play(
        play, asked.seed, rows.tolist(), doubtful,
        lambda row, played, share: state.more(row + 1, played, share),
    )  # fmt: skip


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


def check_worlds(worlds: int) -> None:
    """Raises StudyError where there are too few plausible worlds to say anything."""
    check_number("worlds", worlds, FEWEST_WORLDS)


def asks_worlds(worlds: int) -> bool:
    """Whether plausible worlds are asked for: 0 asks for none. Raises StudyError for too few."""
    if isinstance(worlds, int) and not isinstance(worlds, bool) and worlds == 0:
        return False
    check_worlds(worlds)
    return True


def check_number(what: str, number: int, fewest: int) -> None:
    """Raises StudyError for what is no whole number, or too small a one."""
    whole = isinstance(number, int) and not isinstance(number, bool)
    if not whole or number < fewest or not math.isfinite(number):
        raise StudyError(f"{what}: {number!r}; wanted a whole number, {fewest} or more")
