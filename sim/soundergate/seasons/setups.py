"""The campaigns of one setup, and what they say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.engine.work.chunks import cut
from soundergate.engine.work.executors import choose_executor, iterate
from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.campaign import CampaignJob, Course, together
from soundergate.seasons.campaigns.outcomes import Floats
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.campaigns.rules import rules_of
from soundergate.seasons.money.cost_summary import CostSummary, cost_summary
from soundergate.seasons.money.costs import campaign_costs
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import Interval, mean_t
from soundergate.studies.estimates.stopping import Advance
from soundergate.studies.estimates.tally import Estimate

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.plan import NightPlan
    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.schema import Scenario

CHUNK = {"batch": 1_000, "reference": 10}
"""Campaigns that are played as one piece of work, by engine."""


@dataclass(frozen=True)
class SetupSeason:
    """Campaigns of one setup.

    ``course`` holds what became of each; ``costs`` what they cost as far as the file states prices.
    """

    name: str
    scenario: Scenario = field(repr=False)
    seed: int
    level: float
    course: Course = field(repr=False)

    @property
    def campaigns(self) -> int:
        """How many were played."""
        return len(self.course.campaigns)

    def first(self, most: int) -> SetupSeason:
        """The first campaigns of these, ``most`` at most."""
        if self.campaigns <= most:
            return self
        return replace(self, course=self.course.part(most))

    @cached_property
    def measures(self) -> dict[str, Estimate]:
        """Every question of `seasons.campaigns.questions` by name."""
        return {
            name: question.estimate(self.course.campaigns, self.level)
            for name, question in QUESTIONS.items()
        }

    @property
    def prices(self) -> Costs:
        """What the file states of costs."""
        return self.scenario.costs or Costs()

    @cached_property
    def costs(self) -> CostSummary:
        """Money and hours of a campaign."""
        return cost_summary(self.prices, self.course.campaigns, self.name, self.level)

    @cached_property
    def any_price(self) -> bool:
        """Whether the file states any price."""
        return bool(campaign_costs(self.prices, self.course.campaigns).money)

    def __getitem__(self, name: str) -> Estimate:
        if name not in self.measures:
            raise StudyError(
                "no such figure of a campaign", key=name, hint=f"wanted {', '.join(QUESTIONS)}"
            )
        return self.measures[name]

    def __iter__(self) -> Iterator[Estimate]:
        return iter(self.measures.values())

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Interval of a figure at any level."""
        self[name]
        e = QUESTIONS[name].estimate(self.course.campaigns, level)
        return Interval(e.low, e.high, level)

    @cached_property
    def caught_by_night(self) -> list[tuple[float, Interval]]:
        """Share of the group caught by the end of each set night, with its interval."""
        size = self.course.campaigns.group_size[:, np.newaxis]
        shares: Floats = self.course.caught_by / size
        return [(float(s.mean()), mean_t(s, self.level, (0.0, 1.0))) for s in shares.T]

    @property
    def table(self) -> pd.DataFrame:
        """One row a figure: estimate, low, high, level, unit, and why one is not known.

        After the questions, where the file has costs: their figures, then "money: PART" and
        "hours: PART", means a campaign by what they are spent on.
        """
        import pandas as pd

        rows = {e.name: (e.estimate, e.low, e.high, e.level, e.unit, "") for e in self}
        if self.scenario.costs is not None:
            figures = (*self.costs.figures.values(), *self.costs.by_part.values())
            rows |= {f.name: (f.estimate, f.low, f.high, f.level, f.unit, f.why) for f in figures}
        columns = ["estimate", "low", "high", "level", "unit", "why"]
        table = pd.DataFrame.from_dict(rows, orient="index", columns=columns)
        table.index.name = "measure"
        return table

    def plot(self, ax: Any = None) -> Any:
        """Draw the share of the group caught night by night; returns the axes."""
        from soundergate.report.figures.season import caught_by_night

        return caught_by_night([self], ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())

    def to_json(self) -> dict[str, Any]:
        """Name, campaigns, one estimate a figure, caught by night, and costs."""
        nights = [
            {"night": j, "estimate": mean, "low": i.low, "high": i.high, "level": i.level}
            for j, (mean, i) in enumerate(self.caught_by_night, 1)
        ]
        return {
            "name": self.name,
            "campaigns": self.campaigns,
            **{e.name: e.to_json() for e in self},
            "caught_by_night": nights,
            "costs": self.costs.to_json(),
        }


def job_of(
    scenario: Scenario,
    seed: int,
    engine: str = "batch",
    plans: tuple[NightPlan, ...] | None = None,
) -> CampaignJob:
    """The work of playing campaigns of a scenario, whose plans may be there already.

    Raises
    ------
    ScenarioError
        If the steel cannot be solved or the plan not built.
    """
    return CampaignJob(plans or plans_of(scenario), rules_of(scenario), seed, engine)


def plans_of(scenario: Scenario) -> tuple[NightPlan, ...]:
    """`CampaignJob.plans` of a scenario."""
    from soundergate.engine.build import build, retrained
    from soundergate.mechanics.setup import solve

    rules, setup = rules_of(scenario), solve(scenario)
    plans = [build(scenario, setup)]
    for more in range(1, rules.set_nights):
        trained = _trained(scenario, min(rules.pre_bait_nights + more, 365))
        plans.append(retrained(plans[0], trained, setup))
    return tuple(plans)


def _trained(scenario: Scenario, nights: int) -> Scenario:
    """The scenario after so many nights of training, which nothing else in it depends on."""
    training = scenario.training.model_copy(update={"nights": nights})
    return scenario.model_copy(update={"training": training})


def play_setup(
    name: str,
    scenario: Scenario,
    campaigns: int,
    seed: int,
    level: float = 0.95,
    workers: int | None = None,
    engine: str = "batch",
    executor: Executor | None = None,
    advance: Advance | None = None,
    plans: tuple[NightPlan, ...] | None = None,
) -> SetupSeason:
    """Play campaigns 0 to ``campaigns - 1`` of a scenario.

    ``plans``: its plans, if they are there already (`CampaignJob.plans`).
    """
    job = job_of(scenario, seed, engine, plans)
    runner = choose_executor(workers, engine) if executor is None else executor
    parts = []
    for course in iterate(job, cut(0, campaigns, CHUNK[engine]), runner):
        parts.append(course)
        if advance is not None:
            advance(len(course.campaigns))
    return SetupSeason(name, scenario, seed, level, together(parts))
