"""From what the user gives to something that plays nights.

A player is a function (seed, first, count) -> Outcomes: nights first to first + count - 1 of the
run with that seed. Anything that keeps that promise can be estimated and compared, so outcomes
may also come from elsewhere.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.engine.plan import NightPlan
    from soundergate.engine.reference.person_rule import PersonRule, Seen
    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario

Player = Callable[[int, int, int], Outcomes]
Decide: TypeAlias = "Callable[[Seen], bool]"
"""A release rule in Python: what a person sees -> True to release, False to wait."""


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
    from soundergate.engine.work.executors import choose_executor

    check_engine(engine)
    check_workers(workers)
    runner = choose_executor(workers, engine) if executor is None else executor
    return PlanPlayer(plan_of(scenario), engine, runner)


@dataclass(frozen=True)
class RulePlayer:
    """The night plan of a setup whose people release by a rule in Python: the reference engine."""

    plan: NightPlan
    rule: PersonRule

    def __call__(self, seed: int, first: int, count: int) -> Outcomes:
        from soundergate.engine.reference.night import play_reference

        return play_reference(self.plan, seed, first, count, self.rule)


def check_rule(rule: Decide, scenario: Scenario, engine: str = "reference") -> PersonRule:
    """A rule in Python for the people of a scenario; warns, in a line, that it is slow.

    Raises StudyError for what is no function, for an engine that cannot ask it, and for a scenario
    without a person, or with one whose picture is unbroken, so that there are no looks.
    """
    from soundergate.engine.reference.person_rule import HINT, PersonRule
    from soundergate.scenario.triggers.person import PersonTrigger

    source = scenario.source or None
    if not callable(rule):
        raise StudyError(
            "is no function", file=source, key="rule", value=rule,
            hint=f"{HINT}; a table stands in the scenario, as trigger.rule",
        )  # fmt: skip
    if engine != "reference":
        raise StudyError(
            f"a rule in Python cannot be played by the engine {engine!r}",
            file=source, key="rule",
            hint='give engine="reference", which is slow, or write the rule as a table in the '
            "scenario, as trigger.rule, which every engine plays",
        )  # fmt: skip
    people = [part for part in scenario.trigger.parts if isinstance(part, PersonTrigger)]
    if not people:
        raise StudyError(
            "there is no person on a link to follow it", file=source, key="rule",
            hint='wanted a scenario with kind = "person" in its trigger',
        )  # fmt: skip
    if any(person.frame_interval == 0.0 for person in people):
        raise StudyError(
            "a rule in Python is asked at every look, and an unbroken picture has none",
            file=source, key="trigger.frame_interval", value="0 s",
            hint='give the time between looks, such as "5 s"',
        )  # fmt: skip
    warnings.warn(
        "a release rule in Python plays one night at a time, far slower than a table of steps",
        stacklevel=4,
    )
    return PersonRule(rule, scenario.source)


def plan_of(scenario: Scenario) -> NightPlan:
    """The plan of a night, its steel solved. Raises ScenarioError if that cannot be built."""
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    return build(scenario, solve(scenario))


def check_engine(engine: str) -> None:
    """Raises StudyError unless one of the two."""
    from soundergate.engine import ENGINES

    if engine not in ENGINES:
        raise StudyError(f"engine is {engine!r}; it must be one of {', '.join(ENGINES)}")


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
