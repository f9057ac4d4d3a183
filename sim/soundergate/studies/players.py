"""From what the user gives to something that plays nights.

A player is a function (seed, first, count) -> Outcomes: nights first to first + count - 1 of the
run with that seed. Anything that keeps that promise can be estimated and compared, so outcomes
may also come from elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.engine.plan import NightPlan
    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario

Player = Callable[[int, int, int], Outcomes]


@dataclass(frozen=True)
class PlanPlayer:
    """The night plan of a setup, and who plays it."""

    plan: NightPlan
    engine: str
    executor: Executor

    def __call__(self, seed: int, first: int, count: int) -> Outcomes:
        from soundergate.engine.work.executors import run_chunks

        return run_chunks(self.plan, seed, first, count, engine=self.engine, executor=self.executor)


def player(
    scenario: Scenario,
    engine: str = "batch",
    workers: int | None = None,
    executor: Executor | None = None,
) -> PlanPlayer:
    """Solve the steel, build the plan of the night, and return what plays it.

    ``workers`` None takes every core; ``executor`` plays chunks elsewhere, such as on a cluster.
    Raises StudyError for an unknown engine or a wrong number of workers.
    """
    from soundergate.engine import ENGINES
    from soundergate.engine.work.executors import choose_executor

    if engine not in ENGINES:
        raise StudyError(f"engine is {engine!r}; it must be one of {', '.join(ENGINES)}")
    check_workers(workers)
    runner = choose_executor(workers, engine) if executor is None else executor
    return PlanPlayer(plan_of(scenario), engine, runner)


def plan_of(scenario: Scenario) -> NightPlan:
    """The plan of a night, its steel solved. Raises ScenarioError if that cannot be built."""
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    return build(scenario, solve(scenario))


def check_workers(workers: int | None) -> None:
    """Raises StudyError unless None or a whole number above 0."""
    if workers is None:
        return
    if isinstance(workers, bool) or not isinstance(workers, int) or workers < 1:
        raise StudyError(f"workers is {workers!r}; wanted a whole number, 1 or more")


def as_scenario(given: Given) -> Scenario:
    """A Scenario as it is; a path or a dict is loaded. Raises ScenarioError for anything else."""
    from soundergate.scenario.loading import load

    return load(given)
