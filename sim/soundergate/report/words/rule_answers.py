"""What a release rule is sought for, says and is worth, in sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.words.answers import robust_answer
from soundergate.report.words.numbers import number, percent, span, with_range
from soundergate.studies.rule.release import FOUND, OWN, own_rule
from soundergate.studies.rule.release_rule import NEVER

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult
    from soundergate.studies.rule.release_rule import Rule, Step
    from soundergate.studies.rule.release_value import Objective, Value


def rule_answer(result: ReleaseResult) -> list[str]:
    """What is sought, the rule, what it is worth and catches, what hindsight would, whether it
    lasts."""
    found, own = (result.comparison[name] for name in (FOUND, OWN))
    told = [
        sought(result.objective, result.group),
        "; ".join(f"{when}: {what}" for when, what in rule_lines(result.rule, result.group)) + ".",
        _worth(result),
        f"It catches {percent(found['fraction_caught'])} of the group, the whole of it on "
        f"{percent(found['whole_group'])} of nights; the file's own rule "
        f"{percent(own['fraction_caught'])} and {percent(own['whole_group'])}.",
        f"With hindsight, released at the best moment of each of these nights, it would be "
        f"{_value(result.hindsight)}: no rule can do better on them.",
    ]
    if result.worlds is not None:
        told += robust_answer(result.worlds)
    else:
        told.append(
            "This rule is for pigs that behave as assumed; --worlds 100 tries it on others."
        )
    return told


def sought(objective: Objective, group: int) -> str:
    """The objective in a sentence."""
    what = {
        "fraction_caught": "catch the largest share of the group",
        "whole_group": "catch the whole group on as many nights as possible",
    }[objective.wanted]
    costs = objective.taught_costs
    if costs == 0:
        return f"Goal: {what}. Pigs that get away and saw the gate close cost nothing here."
    pigs = "one pig" if costs == 1 else f"{costs:g} pigs"
    as_group = f", and {group} such pigs as {'one group' if costs == 1 else f'{costs:g} groups'}"
    more = as_group if objective.wanted == "whole_group" else ""
    return f"Goal: {what}. A pig that gets away and saw the gate close counts as {pigs} lost{more}."


def unit(objective: Objective) -> str:
    """What a score counts."""
    what = {
        "fraction_caught": "% of the group caught",
        "whole_group": "whole groups caught in 100 nights",
    }[objective.wanted]
    costs = objective.taught_costs
    if not costs:
        return what
    times = "" if costs == 1 else f"{costs:g} times "
    parts = ", as parts of a group" if objective.wanted == "whole_group" else ""
    return f"{what}, less {times}the pigs that got away and saw the gate close{parts}"


def _worth(result: ReleaseResult) -> str:
    values = result.values.each
    others = ", ".join(f"{name} {_value(values[name])}" for name in values if name != FOUND)
    kept = result.rule == own_rule(result.scenario)
    more = " It is the file's own: nothing that was tried is better." if kept else ""
    return (
        f"Score: {unit(result.objective)}. On {result.comparison.nights:,} other nights than it "
        f"was found on, this rule scores {_value(values[FOUND])}, {others}.{more}"
    )


def _value(value: Value) -> str:
    low, high, _ = value.interval
    return with_range(number(100 * value.estimate, 1), span(100 * low, 100 * high, 1))


def rule_lines(rule: Rule, group: int) -> list[tuple[str, str]]:
    """(when, what to do), one line a step."""
    lines = []
    for place, step in enumerate(rule.steps):
        begin = f"{step.after / 60:g}"
        later = rule.steps[place + 1].after / 60 if place + 1 < len(rule.steps) else None
        when = f"{begin} to {later:g} min" if later is not None else f"from {begin} min on"
        lines.append((when, what_to_do(step, group)))
    return lines


def what_to_do(step: Step, group: int) -> str:
    """In words for one step."""
    count = step.count
    if step.waits or (count > 2 * group and step.share == math.inf):
        return "wait"
    if step.share < math.inf:
        fewest = f"{count}, or " if count < NEVER else ""
        return f"release at {fewest}{100 * step.share:g} %"
    if count >= group:
        return f"release at all {group}" if count == group else f"release at {count}"
    return f"release at {count} or more"
