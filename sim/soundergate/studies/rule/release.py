"""`rule`: the release rule that does best for a setup, and how it does on nights of its own.

Beside it stand the rule of the file and two plain ones: in plausible worlds in which it was not
sought, and on nights in which all is as it is assumed. Of the latter it is also said what one would
come to who knew each of them beforehand.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.scenario.triggers.person import PersonTrigger
from soundergate.studies.arms import Arm
from soundergate.studies.compare import Comparison, compare
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.stopping import Counter, Progress, check_nights
from soundergate.studies.options import checked
from soundergate.studies.players import as_scenario, check_workers
from soundergate.studies.rule.release_rule import (
    NEVER,
    Played,
    Rule,
    Step,
    best_rule,
    play_hindsight,
    plays_of,
)
from soundergate.studies.rule.release_value import TAUGHT_COSTS, Objective, Value, Values, values_of
from soundergate.studies.rule.search import search_as_assumed, search_in_worlds
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import inputs_of
from soundergate.studies.worlds.negligible import NEGLIGIBLE
from soundergate.studies.worlds.robust import DEFAULT_NIGHTS as WORLD_NIGHTS
from soundergate.studies.worlds.robust import asks_worlds, robust
from soundergate.studies.worlds.robust_result import RobustComparison
from soundergate.studies.worlds.verdicts import Verdict, check_negligible
from soundergate.triggers.person import rule_steps

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario

FOUND, OWN, ALL, FIRST = "the rule found", "the file's own", "all in sight", "the first in sight"
WANTED = ("fraction_caught", "whole_group")
"""What a rule may be sought for."""
TOLD = ("fraction_caught", "whole_group", "educated")
"""Measures in which rules are compared."""
SEARCHED = 4_000
"""Nights on which a rule is sought."""
DEFAULT_NIGHTS = 10_000
TIE_ERRORS = 1.0
"""Standard errors of their difference within which two rules tie; see `best_rule`."""


@dataclass(frozen=True)
class ReleaseResult:
    """A rule, and what it does on nights on which it was not sought.

    ``values``: what each rule is worth on fresh nights, by the objective. ``hindsight``: mean of
    the best that any stage and count, or any rule of ``values``, did on each of the same nights, by
    the same objective: what is lost to not knowing. ``in_sample``: what the rule and the file's own
    come to on the nights searched; the rule is the file's own if nothing that was tried is as good
    there. ``worlds``: every rule over plausible worlds, None if none were played; the rule was then
    sought in ``sought_in`` other worlds.
    """

    scenario: Scenario = field(repr=False)
    rule: Rule
    objective: Objective
    group: int
    comparison: Comparison = field(repr=False)
    values: Values
    hindsight: Value
    in_sample: dict[str, float]
    searched: int
    worlds: RobustComparison | None = field(repr=False, default=None)
    sought_in: int = 0

    @property
    def verdicts(self) -> list[Verdict]:
        """No matter, ahead or depends, of the rule found and each other one, by the objective."""
        if self.worlds is None:
            return []
        return [self.worlds.verdict(a, b) for a, b in self.worlds.pairs]

    @property
    def table(self) -> pd.DataFrame:
        """The rule: minutes after the alert, and the least count or share of the group.

        The lesser of the two releases; inf for one that does not, and wait where both are inf.
        """
        import pandas as pd

        rows = [(step.after / 60, step.count if step.count < NEVER else np.inf, step.share)
                for step in self.rule.steps]  # fmt: skip
        return pd.DataFrame(rows, columns=["minutes_after_alert", "count", "share"])

    def plot(self, ax: Any = None) -> Any:
        """Draw the card; returns the axes."""
        from soundergate.report.figures.rule_card import rule_card

        return rule_card(self.rule, self.group, ax)

    def interval(self, measure: str = "fraction_caught", level: float = 0.95) -> Interval:
        """Interval of a measure of the rule found, on fresh nights."""
        return self.comparison[FOUND].interval(measure, level)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import nights, rule, table

        return table.html(*rule.rule_tables(self), nights.arm_table(self.comparison))

    def to_json(self) -> dict[str, Any]:
        """Rule, what it was sought for and is worth, hindsight, the comparison, and the worlds."""
        return {
            "rule": self.rule.values(),
            "wanted": self.objective.wanted,
            "taught_costs": self.objective.taught_costs,
            "nights_searched": self.searched,
            "worlds_searched": self.sought_in,
            "in_sample": self.in_sample,
            "values": self.values.to_json(),
            "with_hindsight": self.hindsight.to_json(),
            "comparison": self.comparison.to_json(),
            "worlds": None if self.worlds is None else self._over_worlds(self.worlds),
        }  # fmt: skip

    @staticmethod
    def _over_worlds(worlds: RobustComparison) -> dict[str, Any]:
        """The recipe of the worlds, verdicts, and of every rule and measure where it lies."""
        names = ("low", "middle", "high")
        told = worlds.to_json()
        kept = ("worlds", "worlds_asked", "nights_each", "seed", "level", "negligible",
                "played_longer", "further_nights", "verdicts", "failed")  # fmt: skip
        return {name: told[name] for name in kept} | {
            "rules": {
                arm: {
                    measure: dict(
                        zip(names, (q.to_json() for q in worlds.quantiles(arm, measure)),
                            strict=True)
                    )
                    for measure in worlds.measures
                }
                for arm in worlds.arms
            }
        }  # fmt: skip


@checked
def rule(
    scenario: Given,
    wanted: str = "fraction_caught",
    nights: int | None = None,
    seed: int | None = 1,
    workers: int | None = None,
    *,
    taught_costs: float = TAUGHT_COSTS,
    worlds: int = 0,
    negligible: float = NEGLIGIBLE,
    level: float = 0.95,
    searched: int = SEARCHED,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> ReleaseResult:
    """Find a release rule and try it.

    Parameters
    ----------
    scenario : path, dict or Scenario, as for `load`, whose trigger is one person on a link
    wanted : "fraction_caught" or "whole_group"
    nights : nights on which rules are compared, 10,000 if not said
    taught_costs : pigs lost by one that got away and saw the gate close, see `Objective`
    worlds : plausible worlds, 20 or more, in which the rule found is set against the others; it is
        then sought on nights of other worlds, and with 0 where every unknown is as it is assumed
    negligible : difference of scores, as a share of the group, below which it is no matter which
        rule one takes
    searched : nights on which the rule is sought, 100 or more
    seed, workers, level, executor, progress : as for `run`

    Returns
    -------
    ReleaseResult
        The rule as steps, times in minutes after the alert, and what it does on fresh nights.

    Raises
    ------
    ScenarioError
        For bad input, also as StudyError; such as a trigger that is not one person on a link.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.rule("watch.toml", nights=50, searched=100)
    >>> list(found.table.columns)
    ['minutes_after_alert', 'count', 'share']
    """
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    given = as_scenario(scenario)
    _check(given, wanted, taught_costs, searched)
    check_workers(workers)
    check_negligible(negligible)
    if asks_worlds(worlds) and not inputs_of(given):
        worlds = 0  # there is one world
    chosen, level = check_seed(seed), check_level(level)
    fresh = check_nights(nights) or DEFAULT_NIGHTS
    plan = build(given, solve(given))
    plays = plays_of(plan.group_size)
    tell = Counter(progress, searched * (1 + plays) + fresh * plays + worlds * WORLD_NIGHTS)
    objective = Objective(wanted, float(taught_costs))
    if worlds:
        sought = search_in_worlds(given, plan.group_size, objective.of, chosen, searched, tell)
    else:
        sought = search_as_assumed(
            plan, objective.of, chosen, searched, workers, executor, tell
        )  # fmt: skip
    found, in_sample = _found(sought.played, own_rule(given), sought.own)
    arms = arms_of(given, found)
    over = _over_worlds(arms, objective, worlds, chosen, level, negligible, tell)
    comparison = compare(
        arms,
        nights=fresh,
        seed=chosen,
        workers=workers,
        keep_outcomes=True,
        level=level,
        measures=TOLD,
        against=FOUND,
        executor=executor,
    )
    nights_of = {
        arm.name: Outcomes.concatenate(arm.result.night_parts or ()) for arm in comparison.arms
    }
    tried = play_hindsight(
        plan, objective.of, chosen, fresh,
        executor=executor, workers=workers, advance=tell,
    )  # fmt: skip
    judged = [objective.of(outcomes) for outcomes in nights_of.values()]
    best = np.maximum.reduce([tried, *judged])
    return ReleaseResult(
        given, found, objective, plan.group_size, _without_nights(comparison),
        values_of(nights_of, objective, level), objective.mean(best, level), in_sample,
        sought.nights, over, sought.worlds,
    )  # fmt: skip


def _over_worlds(
    arms: list[Arm],
    objective: Objective,
    worlds: int,
    seed: int,
    level: float,
    negligible: float,
    tell: Counter,
) -> RobustComparison | None:
    """The rule found against each other one in plausible worlds, by the objective first."""
    if not worlds:
        return None
    before = tell.done
    return robust(
        arms, worlds, WORLD_NIGHTS, seed, level=level, negligible=negligible,
        measures=[objective.measure, *TOLD], pairs=[(FOUND, arm.name) for arm in arms[1:]],
        progress=lambda done, _: tell(before + done - tell.done),
    )  # fmt: skip


def _found(played: Played, own: Rule, own_worth: float) -> tuple[Rule, dict[str, float]]:
    """The rule to give, never worse on the nights searched than the file's own; and their worth."""
    for errors in (TIE_ERRORS, 0.0):
        rule = best_rule(played, errors)
        worth = played.worth(played.chosen(rule))
        if worth >= own_worth:
            return rule, {FOUND: worth, OWN: own_worth}
    return own, {FOUND: own_worth, OWN: own_worth}


def own_rule(scenario: Scenario) -> Rule:
    """The rule of the file's person, as steps."""
    assert isinstance(scenario.trigger, PersonTrigger)
    steps = rule_steps(scenario.trigger)
    return Rule(tuple(Step(at, int(min(count, NEVER)), share) for at, count, share in steps))


def _without_nights(comparison: Comparison) -> Comparison:
    arms = [replace(arm, result=replace(arm.result, outcomes=None)) for arm in comparison.arms]
    return replace(comparison, arms=arms)


def arms_of(scenario: Scenario, rule: Rule) -> list[Arm]:
    """The setup with the rule found, with its own, and with two plain ones."""
    n = scenario.animals
    plain = {FOUND: rule.values(), ALL: _at_once(n), FIRST: _at_once(1)}
    arms = {name: Arm(name, with_release(scenario, steps)) for name, steps in plain.items()}
    arms[OWN] = Arm(OWN, scenario)
    return [arms[name] for name in (FOUND, OWN, ALL, FIRST)]


def _at_once(count: int) -> list[dict[str, object]]:
    return [{"after": "0 min", "count": count}]


def with_release(scenario: Scenario, steps: list[dict[str, object]]) -> Scenario:
    """The scenario with another rule for its person."""
    from soundergate.scenario.loading import from_table

    raw = scenario.raw
    others = {k: v for k, v in raw["trigger"].items() if k not in ("count", "share", "rule")}
    return from_table({**raw, "trigger": {**others, "rule": steps}}, scenario.source or "<table>")


def _check(scenario: Scenario, wanted: str, taught_costs: float, searched: int) -> None:
    kind = getattr(scenario.trigger, "kind", "several triggers")
    if kind != "person":
        raise StudyError(
            f"is {kind!r}; a release rule is for a person on a link",
            file=os.path.basename(scenario.source) or None,
            key="trigger.kind",
            hint='wanted kind = "person", alone',
        )
    if wanted not in WANTED:
        raise StudyError(f"measure is {wanted!r}; it must be one of {', '.join(WANTED)}")
    number = isinstance(taught_costs, int | float) and not isinstance(taught_costs, bool)
    if not number or not 0 <= taught_costs <= 100:
        raise StudyError(f"taught costs is {taught_costs!r}; wanted a number from 0 to 100")
    if isinstance(searched, bool) or not isinstance(searched, int) or searched < 100:
        raise StudyError(f"searched is {searched!r}; wanted a whole number of nights, 100 or more")
