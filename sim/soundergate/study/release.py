"""`rule`: the release rule that does best for a setup, and how it does on nights of its own.

Beside it stand the rule of the file and two plain ones, on the same nights; what one would catch
who knew each night beforehand; and, over plausible worlds, how often it is ahead of the file's.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.study.arms import Arm
from soundergate.study.compare import Comparison, compare
from soundergate.study.errors import StudyError
from soundergate.study.estimate import check_level
from soundergate.study.intervals import Interval, mean_t
from soundergate.study.players import as_scenario, check_workers
from soundergate.study.release_rule import (
    Played,
    Rule,
    best_rule,
    play_stages,
    plays_of,
)
from soundergate.study.robust import robust
from soundergate.study.robust_result import RobustComparison
from soundergate.study.seeds import check_seed
from soundergate.study.stopping import Counter, Progress, check_nights

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.executors import Executor
    from soundergate.engine.outcomes import Outcomes
    from soundergate.scenario.schema import Scenario

FOUND, OWN, ALL, FIRST = "the rule found", "the file's own", "all in sight", "the first in sight"
WANTED = ("fraction_caught", "whole_group")
"""What a rule may be sought for."""
TOLD = ("fraction_caught", "whole_group", "educated")
"""Measures in which rules are compared."""
SEARCHED = 4_000
"""Nights on which a rule is sought."""
DEFAULT_NIGHTS = 10_000
WORLD_NIGHTS = 100
_TIE = 1e-3
"""Where only whole groups count, what a share of the group is worth between rules that tie."""


@dataclass(frozen=True)
class ReleaseResult:
    """A rule, and what it does on nights on which it was not sought.

    ``hindsight``: mean of the best that any of the rules tried did on each night searched, in the
    measure sought, with its interval: what is lost to not knowing. ``worlds`` None if none were
    played.
    """

    scenario: Scenario = field(repr=False)
    rule: Rule
    wanted: str
    taught_costs: float
    group: int
    comparison: Comparison = field(repr=False)
    hindsight: tuple[float, Interval]
    searched: int
    worlds: RobustComparison | None = field(repr=False, default=None)

    @property
    def table(self) -> pd.DataFrame:
        """The rule: minutes after the alert, and the least count (inf: wait)."""
        import pandas as pd

        rows = [(step.after / 60, step.count if step.count <= 2 * self.group else np.inf)
                for step in self.rule.steps]  # fmt: skip
        return pd.DataFrame(rows, columns=["minutes_after_alert", "count"])

    def plot(self, ax: Any = None) -> Any:
        """Draw the card; returns the axes."""
        from soundergate.report.rule_card import rule_card

        return rule_card(self.rule, self.group, ax)

    def interval(self, measure: str = "fraction_caught", level: float = 0.95) -> Interval:
        """Interval of a measure of the rule found, on fresh nights."""
        return self.comparison[FOUND].interval(measure, level)

    def _repr_html_(self) -> str:
        return str(self.table.to_html(index=False))

    def to_json(self) -> dict[str, Any]:
        """Rule, what it was sought for, hindsight, the comparison, and the worlds."""
        mean, interval = self.hindsight
        low, high = interval.ends
        return {
            "rule": self.rule.values(),
            "wanted": self.wanted,
            "taught_costs": self.taught_costs,
            "nights_searched": self.searched,
            "with_hindsight": {
                "estimate": mean, "low": low, "high": high,
                "level": interval.level,
            },
            "comparison": self.comparison.to_json(),
            "worlds": None if self.worlds is None else self.worlds.to_json(),
        }  # fmt: skip


def worth(wanted: str, taught_costs: float) -> Callable[[Outcomes], np.ndarray]:
    """What a night is worth: the share caught, or the whole group; less what the taught cost.

    ``taught_costs``: what an animal that is free and has met the closing gate takes away, in
    animals caught.
    """

    def of(outcomes: Outcomes) -> np.ndarray:
        size = outcomes["group_size"]
        share = (outcomes["caught"] - taught_costs * outcomes["educated"]) / size
        if wanted == "fraction_caught":
            return np.asarray(share)
        return np.asarray(outcomes["whole_group"] + _TIE * share)

    return of


def rule(
    scenario: Scenario | str | os.PathLike[str],
    wanted: str = "fraction_caught",
    nights: int | None = None,
    seed: int | None = 1,
    workers: int | None = None,
    *,
    taught_costs: float = 0.0,
    worlds: int = 0,
    level: float = 0.95,
    searched: int = SEARCHED,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> ReleaseResult:
    """Find a release rule and try it.

    Parameters
    ----------
    wanted : "fraction_caught" or "whole_group"
    nights : nights on which rules are compared, 10,000 if not said
    taught_costs : animals that one taught by the gate takes away, see `worth`
    worlds : plausible worlds in which the rule found is set against the file's own

    Raises
    ------
    ScenarioError
        For bad input, also as StudyError; such as a trigger that is not one person on a link.
    """
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    given = as_scenario(scenario)
    _check(given, wanted, taught_costs, searched)
    check_workers(workers)
    chosen, level = check_seed(seed), check_level(level)
    fresh = check_nights(nights) or DEFAULT_NIGHTS
    plan = build(given, solve(given))
    tell = Counter(progress, searched * plays_of(plan.group_size))
    played = play_stages(
        plan, worth(wanted, taught_costs), chosen, searched,
        executor=executor, workers=workers, told=tell,
    )  # fmt: skip
    found = best_rule(played)
    arms = arms_of(given, found)
    comparison = compare(
        [arm.scenario for arm in arms],
        nights=fresh,
        seed=chosen,
        workers=workers,
        level=level,
        measures=TOLD,
        against=FOUND,
        names=[arm.name for arm in arms],
        executor=executor,
    )
    return ReleaseResult(
        given, found, wanted, taught_costs, plan.group_size, comparison,
        _hindsight(played, level), searched,
        robust(arms[:2], worlds, WORLD_NIGHTS, chosen, level=level, measures=TOLD[:1])
        if worlds else None,
    )  # fmt: skip


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


def _hindsight(played: Played, level: float) -> tuple[float, Interval]:
    best = played.with_hindsight
    return float(best.mean()), mean_t(best, level)


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
