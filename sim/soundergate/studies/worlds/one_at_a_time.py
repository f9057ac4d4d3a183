"""The tornados: setups played with one unknown at an end of its range, all others as they are.

Nine tenths of what is plausible of an unknown lie between two ends. Setups are played on common
nights with one unknown at its low end, then at its high end, in all setups alike. What one leaves
as it is, is not played again. First all unknowns are screened on few nights; those that moved the
answer most are then played on many nights that the screening did not see, so that having been
picked does not flatter them.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from soundergate.scenario.errors import ScenarioError
from soundergate.studies.arms import Arm
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.measures import Measure
from soundergate.studies.estimates.paired import Difference, PairTally, check_measures
from soundergate.studies.estimates.stopping import Progress, check_nights
from soundergate.studies.estimates.tally import Estimate, Tally
from soundergate.studies.options import checked
from soundergate.studies.players import as_scenario, check_workers, plan_of
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import Input, decisions_of, inputs_of, kept, moved
from soundergate.studies.worlds.tornado import HIGH, LOW, DifferenceTornado, Swing, Tornado

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes
    from soundergate.engine.plan import NightPlan
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario

Answer = TypeVar("Answer")
Plans = tuple["NightPlan", ...]
Nights = tuple["Outcomes", ...]
"""Common nights of the setups, in their order."""

BASE = "as it is"


@checked
def tornado(
    scenario: Given,
    measure: str = "fraction_caught",
    *,
    nights: int = 2000,
    screen: int = 300,
    top: int = 10,
    seed: int | None = 1,
    level: float = 0.95,
    only: Iterable[str] | None = None,
    decisions: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Tornado:
    """Which unknowns (or decisions) move a measure of this setup most, and how far.

    Parameters
    ----------
    scenario : path, dict or Scenario
    measure : any that every night answers
    nights : common nights for the defaults shown
    screen : nights before those on which all defaults are screened; 0 shows all of them
    top : how many to show
    decisions : move what one builds or does, over ranges worth trying, and not what nobody knows
    seed, level, workers : as in :func:`soundergate.studies.estimate.run`
    only : ids of the register, or the beginnings of ids, to look at; None takes all
    progress : called with (defaults played, defaults to play)

    Returns
    -------
    Tornado
        Changes of the measure at either end of each range, in the unit of the measure.

    Raises
    ------
    StudyError
        For a wrong number, measure or id, or a scenario that leaves nothing to move.
    ScenarioError
        For a scenario that cannot be read or built.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.tornado("trap.toml", nights=20, screen=0, only=["entry.clock"])
    >>> found.measure, list(found.table.index)[:1] != []
    ('fraction_caught', True)
    """
    asked, settled_seed, level = _checked(measure, nights, screen, top, seed, level)
    settled = as_scenario(scenario)
    inputs = kept(decisions_of(settled) if decisions else inputs_of(settled), only)
    if not inputs:
        what = "decides nothing by default" if decisions else "leaves nothing unknown"
        raise StudyError(f"this scenario {what}")
    setups = [(settled, {one.id: one for one in inputs})]
    played = _OneSetup(setups, asked, settled_seed, workers, progress)
    found = played.swings(nights, screen, top, level)
    return Tornado(swings=[swing for swing, _ in found], **played.summary(nights, screen, level))


def difference_tornado(
    a: Arm,
    b: Arm,
    measure: str = "fraction_caught",
    *,
    nights: int = 2000,
    screen: int = 300,
    top: int = 10,
    seed: int | None = 1,
    level: float = 0.95,
    workers: int | None = None,
    progress: Progress | None = None,
) -> DifferenceTornado:
    """Which unknowns move the difference between two arms most, and how far.

    An unknown that one arm states itself is moved in the other alone. Parameters and errors are
    those of `tornado`.
    """
    asked, settled_seed, level = _checked(measure, nights, screen, top, seed, level)
    setups = [(arm.scenario, {one.id: one for one in inputs_of(arm.scenario)}) for arm in (a, b)]
    played = _TwoSetups(setups, asked, settled_seed, workers, progress)
    played.names = a.name, b.name
    if not played.considered:
        raise StudyError("these setups leave nothing unknown")
    found = played.swings(nights, screen, top, level)
    return DifferenceTornado(
        swings=[swing for swing, _ in found],
        a=a.name,
        b=b.name,
        ends={swing.id: ends for swing, ends in found},
        **played.summary(nights, screen, level),
    )


def _checked(
    measure: str, nights: int, screen: int, top: int, seed: int | None, level: float
) -> tuple[Measure, int, float]:
    """The measure, the seed and the level. Raises StudyError for what cannot be asked."""
    (asked,) = check_measures([measure])
    check_nights(nights)
    if screen:
        check_nights(screen)
    if isinstance(top, bool) or not isinstance(top, int) or top < 1:
        raise StudyError(f"top is {top!r}; wanted a whole number, 1 or more")
    return asked, check_seed(seed), check_level(level)


Ends = tuple[Difference | None, Difference | None]


class OneAtATime(ABC):
    """Plans of some setups as they are and with every default at either end; nights on request.

    Defaults whose two ends give the very same plans as the base are left out: no night reads them.

    Parameters
    ----------
    setups : each scenario, and those of its defaults that are to be moved, by id
    """

    def __init__(
        self,
        setups: Sequence[tuple[Scenario, Mapping[str, Input]]],
        measure: Measure,
        seed: int,
        workers: int | None,
        progress: Progress | None,
    ) -> None:
        from soundergate.engine.work.executors import available_workers

        check_workers(workers)
        self.setups, self.measure, self.seed, self.progress = setups, measure, seed, progress
        self.workers = available_workers() if workers is None else workers
        self.unbuilt: dict[str, str] = {}
        self.base: Plans = tuple(plan_of(scenario) for scenario, _ in setups)
        self.plans: dict[tuple[str, str], Plans] = {}
        every: dict[str, Input] = {}
        for _, mine in reversed(setups):
            every |= mine
        self.considered = len(every)
        for name, one in every.items():
            for end, share in ((LOW, 0.05), (HIGH, 0.95)):
                try:
                    self.plans[name, end] = self._at(name, share)
                except ScenarioError as error:
                    value = f"{one.at(share)} {one.entry.unit}".strip()
                    self.unbuilt[name] = f"not built at {value}: {error.problem}"
        self.inputs = [one for one in every.values() if self._matters(one.id)]

    @abstractmethod
    def per_night(self, played: Nights) -> np.ndarray:
        """The answer of each night, float[nights]."""

    @abstractmethod
    def answer(self, played: Nights, level: float) -> Estimate | Difference:
        """The answer over these nights."""

    @abstractmethod
    def less(
        self, there: Nights, here: Nights, names: tuple[str, str], level: float, of: int
    ) -> Difference:
        """How far the answer moves, night by night; one of ``of`` defaults shown together."""

    def at_end(self, played: Nights, level: float, of: int) -> Difference | None:
        """What a difference is at an end of a range; None where the answer is none."""
        return None

    def summary(self, nights: int, screen: int, level: float) -> dict[str, Any]:
        """What a tornado says beside its swings."""
        return {
            "measure": self.measure.name,
            "base": self.answer(self.played, level),
            "nights": nights,
            "screened": screen,
            "considered": self.considered,
            "inert": self.considered - len(self.inputs),
            "seed": self.seed,
            "level": level,
            "unbuilt": self.unbuilt,
        }

    def swings(self, nights: int, screen: int, top: int, level: float) -> list[tuple[Swing, Ends]]:
        """The inputs that move the answer most, and what a difference is at the ends of each."""
        chosen = self.inputs
        if screen and len(chosen) > top:
            chosen = self._screened(screen)[:top]
        of = max(len(chosen), 1)

        def swing(one: Input, played: Mapping[str, Nights]) -> tuple[Swing, Ends]:
            def less(a: str, b: str) -> Difference | None:
                if a not in played or b not in played:
                    return None
                names = (f"{one.id} {a}", f"{one.id} {b}")
                return self.less(played[a], played[b], names, level, of)

            low, high, between = less(LOW, BASE), less(HIGH, BASE), less(HIGH, LOW)
            there, over_there = (
                self.at_end(played[end], level, of) if end in played else None
                for end in (LOW, HIGH)
            )  # fmt: skip
            why = self.unbuilt.get(one.id, "")
            return Swing(one, low, high, between, why), (there, over_there)

        self.played = self._play(self.base, screen, nights)
        found = self._over(chosen, self.played, screen, nights, swing)
        return sorted(found, key=lambda one: -one[0].reach)

    def _screened(self, count: int) -> list[Input]:
        """The inputs in order of how far they move the mean answer of the first nights."""

        def reach(_: Input, played: Mapping[str, Nights]) -> float:
            means = [float(self.per_night(nights).mean()) for nights in played.values()]
            return max(means) - min(means)

        reaches = self._over(self.inputs, self._play(self.base, 0, count), 0, count, reach)
        order = sorted(range(len(reaches)), key=lambda k: -reaches[k])
        return [self.inputs[k] for k in order]

    def _over(
        self,
        inputs: Sequence[Input],
        base: Nights,
        first: int,
        count: int,
        ask: Callable[[Input, Mapping[str, Nights]], Answer],
    ) -> list[Answer]:
        """What ``ask`` finds in nights of each input's ends and in ``base``, those as it is."""

        def answer(one: Input) -> Answer:
            played = {BASE: base}
            for end in (LOW, HIGH):
                plans = self.plans.get((one.id, end))
                if plans is not None:
                    played[end] = self._play(plans, first, count, base)
            return ask(one, played)

        found: list[Answer] = []
        with ThreadPoolExecutor(self.workers) as pool:
            jobs = [pool.submit(answer, one) for one in inputs]
            try:
                for job in jobs:
                    found.append(job.result())
                    if self.progress is not None:
                        self.progress(len(found), len(inputs))
            finally:
                for job in jobs:
                    job.cancel()
        return found

    def _play(self, plans: Plans, first: int, count: int, known: Nights | None = None) -> Nights:
        """Nights of these plans; those of a setup that is as it was are taken from ``known``."""
        from soundergate.engine import play

        return tuple(
            known[k] if known is not None and same_plan(plan, self.base[k])
            else play(plan, self.seed, first, count)
            for k, plan in enumerate(plans)
        )  # fmt: skip

    def _at(self, name: str, share: float) -> Plans:
        """The plans with one default at a share of its range, in the setups that have it."""
        return tuple(
            plan_of(moved(scenario, {mine[name]: share})) if name in mine else base
            for (scenario, mine), base in zip(self.setups, self.base, strict=True)
        )

    def _matters(self, name: str) -> bool:
        ends = [self.plans.get((name, end)) for end in (LOW, HIGH)]
        return any(
            not same_plan(plan, base)
            for plans in ends
            if plans is not None
            for plan, base in zip(plans, self.base, strict=True)
        )


class _OneSetup(OneAtATime):
    """The answer is the measure."""

    def per_night(self, played: Nights) -> np.ndarray:
        return self.measure.per_night(played[0])

    def answer(self, played: Nights, level: float) -> Estimate:
        return Tally.of(played[0]).estimate(self.measure.name, level)

    def less(
        self, there: Nights, here: Nights, names: tuple[str, str], level: float, of: int
    ) -> Difference:
        return _difference(self.measure, (there[0], here[0]), names, level, of)


class _TwoSetups(OneAtATime):
    """The answer is the measure of the first less that of the second."""

    names = "", ""

    def per_night(self, played: Nights) -> np.ndarray:
        first, second = (self.measure.per_night(nights) for nights in played)
        return first - second

    def answer(self, played: Nights, level: float) -> Difference:
        return _difference(self.measure, played, self.names, level, 1)

    def at_end(self, played: Nights, level: float, of: int) -> Difference:
        return _difference(self.measure, played, self.names, level, 2 * of)

    def less(
        self, there: Nights, here: Nights, names: tuple[str, str], level: float, of: int
    ) -> Difference:
        """A difference of differences: t on what is left of each night, within what it can be."""
        moves = self.per_night(there) - self.per_night(here)
        each = intervals.bonferroni(level, 3 * of)
        sizes = [int(nights["group_size"].max(initial=0)) for nights in (*there, *here)]
        limits = self.measure.bounds(max(sizes))
        widest = 2 * (limits[1] - limits[0])
        low, high, _ = intervals.mean_t(moves, each, (-widest, widest))
        return Difference(
            *names, self.measure.name, float(moves.mean()), low, high, level, each, math.nan,
            len(moves), self.measure.unit,
        )  # fmt: skip


def _difference(
    asked: Measure, both: Nights, names: tuple[str, str], level: float, of: int
) -> Difference:
    """First less second on their common nights."""
    first, second = both
    pair = PairTally.of(first, second, [asked.name])
    return pair.difference(asked.name, names, (Tally.of(first), Tally.of(second)), level, of)


def same_plan(a: NightPlan, b: NightPlan) -> bool:
    """Whether two plans are the very same numbers, so that no night can differ."""
    return all(x.shape == y.shape and x.tobytes() == y.tobytes() for x, y in zip(a, b, strict=True))
