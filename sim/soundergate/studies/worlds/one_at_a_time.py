"""The bench of both tornados: setups played with one default at an end of its range, in all alike.

All is played on common nights. What a default leaves as it is, is not played again.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from soundergate.scenario.errors import ScenarioError
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.stopping import Progress, check_nights
from soundergate.studies.players import check_workers
from soundergate.studies.worlds.inputs import Input, moved

if TYPE_CHECKING:
    import numpy as np

    from soundergate.engine.outcomes import Outcomes
    from soundergate.engine.plan import NightPlan
    from soundergate.scenario.schema import Scenario

Answer = TypeVar("Answer")
Plans = tuple["NightPlan", ...]
Nights = tuple["Outcomes", ...]
"""Common nights of the setups, in their order."""

LOW, HIGH = "low", "high"
BASE = "as it is"


class Bench(ABC):
    """Plans of some setups as they are and with every default at either end; nights on request.

    Defaults whose two ends give the very same plans as the base are left out: no night reads them.

    Parameters
    ----------
    setups : each scenario, and those of its defaults that are to be moved, by id
    """

    def __init__(
        self,
        setups: Sequence[tuple[Scenario, Mapping[str, Input]]],
        seed: int,
        workers: int | None,
        progress: Progress | None,
    ) -> None:
        from soundergate.engine.work.executors import available_workers

        check_workers(workers)
        self.setups, self.seed, self.progress = setups, seed, progress
        self.workers = available_workers() if workers is None else workers
        self.unbuilt: dict[str, str] = {}
        self.base: Plans = tuple(plan_of(scenario) for scenario, _ in setups)
        self.plans: dict[tuple[str, str], Plans] = {}
        every: dict[str, Input] = {}
        for _, mine in reversed(setups):
            every |= mine
        self.considered = len(every)
        for name, one in every.items():
            for end, share in ((LOW, 0.0), (HIGH, 1.0)):
                try:
                    self.plans[name, end] = self._at(name, share)
                except ScenarioError as error:
                    value = f"{one.at(share)} {one.entry.unit}".strip()
                    self.unbuilt[name] = f"not built at {value}: {error.problem}"
        self.inputs = [one for one in every.values() if self._matters(one.id)]

    @abstractmethod
    def per_night(self, played: Nights) -> np.ndarray:
        """The answer of each night, float[nights]."""

    def screened(self, count: int) -> list[Input]:
        """The inputs in order of how far they move the mean answer of the first nights."""

        def reach(_: Input, played: Mapping[str, Nights]) -> float:
            means = [float(self.per_night(nights).mean()) for nights in played.values()]
            return max(means) - min(means)

        reaches = self.over(self.inputs, self.play(self.base, 0, count), 0, count, reach)
        order = sorted(range(len(reaches)), key=lambda k: -reaches[k])
        return [self.inputs[k] for k in order]

    def over(
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
                    played[end] = self.play(plans, first, count, base)
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

    def play(self, plans: Plans, first: int, count: int, known: Nights | None = None) -> Nights:
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


def check_counts(nights: int, screen: int, top: int) -> None:
    """Raises StudyError for a number of nights or of defaults that cannot be."""
    check_nights(nights)
    if screen:
        check_nights(screen)
    if isinstance(top, bool) or not isinstance(top, int) or top < 1:
        raise StudyError(f"top is {top!r}; wanted a whole number, 1 or more")


def plan_of(scenario: Scenario) -> NightPlan:
    """Steel solved and the night laid out. Raises ScenarioError if that cannot be built."""
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    return build(scenario, solve(scenario))


def same_plan(a: NightPlan, b: NightPlan) -> bool:
    """Whether two plans are the very same numbers, so that no night can differ."""
    return all(x.shape == y.shape and x.tobytes() == y.tobytes() for x, y in zip(a, b, strict=True))
