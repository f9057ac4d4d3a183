"""What a release rule is sought for, says and is worth, in sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.words.answers import AS_ASSUMED
from soundergate.report.words.numbers import number, percent, span, with_range
from soundergate.report.words.world_answers import between, left_out
from soundergate.studies.rule.release import FOUND, OWN, own_rule
from soundergate.studies.rule.release_rule import NEVER
from soundergate.studies.sentences import about_percent

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult
    from soundergate.studies.rule.release_rule import Rule, Step
    from soundergate.studies.rule.release_value import Objective, Value
    from soundergate.studies.worlds.robust_result import RobustComparison


def rule_answer(result: ReleaseResult) -> list[str]:
    """What is sought and the rule; how it does over plausible worlds; then what it is worth and
    catches where every unknown is as it is assumed, and what hindsight would."""
    found, own = (result.comparison[name] for name in (FOUND, OWN))
    over = result.worlds
    return [
        sought(result.objective, result.group),
        "; ".join(f"{when}: {what}" for when, what in rule_lines(result.rule, result.group)) + ".",
        *(_over_worlds(over, result) if over is not None else ()),
        _worth(result),
        f"It catches {percent(found['fraction_caught'])} of the group, the whole of it on "
        f"{percent(found['whole_group'])} of nights; the file's own rule "
        f"{percent(own['fraction_caught'])} and {percent(own['whole_group'])}. In brackets stands "
        "the Monte Carlo error: how well these nights pin down the average.",
        f"With hindsight, released at the best moment of each of these nights, it would be "
        f"{_value(result.hindsight)}: no rule can do better on them.",
        *(() if over is not None else (_ONE_WORLD,)),
    ]


_ONE_WORLD = "No plausible worlds were played: this rule is for pigs that behave as assumed."


def _over_worlds(over: RobustComparison, result: ReleaseResult) -> list[str]:
    """What the rule catches over plausible worlds, and in how many it does better than others."""
    least, middle, most = over.quantiles(FOUND, "fraction_caught")
    seldom, half, often = over.quantiles(FOUND, "whole_group")
    told = [
        f"In nine of ten plausible worlds this rule catches {between(least, most)} of the group, "
        f"in the middle one {about_percent(middle.estimate)}; the whole group on "
        f"{between(seldom, often)} of nights, in the middle world on "
        f"{about_percent(half.estimate)}.",
        f"Rules are judged by a score: {unit(result.objective)}.",
        *over.verdict_sentences,
        f"The rule was sought in {result.sought_in} plausible worlds and judged in {over.worlds} "
        "others.",
    ]
    if over.failed:
        told.append(left_out(over.failed, over.asked))
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
    nights = f"{result.comparison.nights:,} other nights than it was found on"
    if result.worlds is not None:
        lead = f"{AS_ASSUMED}, on {nights}"
    else:
        lead = f"Score: {unit(result.objective)}. On {nights}"
    return f"{lead}, this rule scores {_value(values[FOUND])}, {others}.{more}"


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
