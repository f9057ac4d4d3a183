"""Sentences, tables and the page of a release rule."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.report.contents import Picture, Table
from soundergate.report.figures.rule_card import rule_card, rule_lines
from soundergate.report.pages import study_parts
from soundergate.report.pages.comparison import comparison_page
from soundergate.report.pages.page import Page
from soundergate.report.words.answers import robust_answer
from soundergate.report.words.numbers import percent
from soundergate.studies.rule.release import FOUND, OWN, own_rule

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult
    from soundergate.studies.rule.release_value import Objective, Value

CAUTIONS = (
    "Whoever releases from afar must see the opening first: no person, dog or other animal may be "
    "in it or near it, and nobody may be at work at the trap.",
)


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
        f"Whoever knew each of these nights beforehand, and released at its best moment, would "
        f"come to {_value(result.hindsight)}: no rule of this kind can do better on them.",
    ]
    if result.worlds is not None:
        told += robust_answer(result.worlds)
    else:
        told.append("Sought for pigs as assumed; --worlds asks whether it lasts where they differ.")
    return told


def sought(objective: Objective, group: int) -> str:
    """The objective in a sentence."""
    what = {
        "fraction_caught": "the largest share of the group caught",
        "whole_group": "the most nights on which the whole group is caught",
    }[objective.wanted]
    costs = objective.taught_costs
    if costs == 0:
        return f"Sought: {what}. Pigs that got away and saw the gate close cost nothing here."
    pigs = "one pig" if costs == 1 else f"{costs:g} pigs"
    as_group = f", and {group} such pigs as {'one group' if costs == 1 else f'{costs:g} groups'}"
    more = as_group if objective.wanted == "whole_group" else ""
    return (
        f"Sought: {what}. A pig that got away and saw the gate close counts as {pigs} lost{more}."
    )


def unit(objective: Objective) -> str:
    """What values count, in words that can begin a sentence."""
    what = {
        "fraction_caught": "Caught, in % of the group",
        "whole_group": "Whole groups caught in 100 nights",
    }[objective.wanted]
    costs = objective.taught_costs
    if not costs:
        return what
    times = "" if costs == 1 else f"{costs:g} times "
    parts = ", as parts of a group" if objective.wanted == "whole_group" else ""
    return f"{what}, minus {times}the pigs that got away and saw the gate close{parts}"


def _worth(result: ReleaseResult) -> str:
    values = result.values.each
    others = ", ".join(f"{name} to {_value(values[name])}" for name in values if name != FOUND)
    kept = result.rule == own_rule(result.scenario)
    more = " It is the file's own: nothing that was tried is better." if kept else ""
    return (
        f"{unit(result.objective)}: on {result.comparison.nights:,} nights that it was not "
        f"sought on, this rule comes to {_value(values[FOUND])}, {others}.{more}"
    )


def _value(value: Value) -> str:
    low, high, _ = value.interval
    span = "" if math.isnan(low) else f" ({_number(low)} to {_number(high)})"
    return f"{_number(value.estimate)}{span}"


def _number(value: float, sign: str = "") -> str:
    return f"{100 * value:{sign}.1f}".replace("-", "−")


def value_table(result: ReleaseResult) -> Table:
    """What each rule is worth on the same nights, and how far the rule found is ahead."""
    rows = []
    for name, value in result.values.each.items():
        low, high, level = value.interval
        row = [name, _number(value.estimate), _span(low, high)]
        gap = result.values.ahead.get(name)
        if gap is None:
            row += ["", "", ""]
        else:
            row += [
                _number(gap.estimate, "+"), _span(*gap.interval[:2], sign="+"),
                "yes" if gap.settled else "no",
            ]  # fmt: skip
        rows.append(row)
    columns = [
        "rule",
        "worth",
        f"{100 * level:g} % range",
        "rule found is ahead by",
        "range",
        "settled",
    ]
    title = f"Worth by what was sought. {unit(result.objective)}"
    return Table(title, columns, rows, frozenset({1, 2, 3, 4}))


def _span(low: float, high: float, sign: str = "") -> str:
    return "-" if math.isnan(low) else f"{_number(low, sign)} to {_number(high, sign)}"


def rule_table(result: ReleaseResult) -> Table:
    """The card as a table."""
    rows = [[when, what] for when, what in rule_lines(result.rule, result.group)]
    return Table("Release rule", ["since the alert", f"counted, of {result.group}"], rows)


def rule_page(result: ReleaseResult) -> Page:
    """A page that begins with the card."""
    page = comparison_page(result.comparison, title=result.scenario.title or "Release rule")
    page.kind = f"Release rule, tried on {result.comparison.nights:,} nights"
    page.answer = rule_answer(result)
    card = Picture(
        rule_card(result.rule, result.group).figure,  # type: ignore[arg-type]
        "Card: " + "; ".join(": ".join(line) for line in rule_lines(result.rule, result.group)),
        "The card, to be read at night.",
        "card",
    )
    page.pictures = [card, *page.pictures, *_worlds(result)]
    tables: Sequence[Table] = [rule_table(result), value_table(result), *page.tables]
    if result.worlds is not None:
        tables = [*tables, *study_parts.robust_tables(result.worlds)]
    page.tables = tables
    page.added_cautions = CAUTIONS
    page.scenario_text = json.dumps(
        {"rule": result.rule.toml(), "scenario": result.scenario.raw},
        indent=2, ensure_ascii=False, default=str,
    )  # fmt: skip
    page.data = result.to_json()
    return page


def _worlds(result: ReleaseResult) -> list[Picture]:
    """How the difference lies over the worlds. What is worth knowing stands in a table: a rule that
    is ahead in nearly all of them leaves nothing to draw."""
    return [] if result.worlds is None else study_parts.robust_pictures(result.worlds)[:1]
