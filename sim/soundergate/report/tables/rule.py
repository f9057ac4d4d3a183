"""Tables of a release rule: the card, and what each rule is worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import number, span
from soundergate.report.words.rule_answers import rule_lines, unit
from soundergate.report.words.world_answers import end_words
from soundergate.studies.sentences import about_percent
from soundergate.studies.worlds.verdicts import AHEAD

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult


def rule_tables(result: ReleaseResult) -> list[Table]:
    """All of them."""
    return [rule_table(result), *rule_world_tables(result), value_table(result)]


def rule_table(result: ReleaseResult) -> Table:
    """The card as a table."""
    rows = [[when, what] for when, what in rule_lines(result.rule, result.group)]
    return Table("Release rule", ["since the alert", f"counted, of {result.group}"], rows)


def rule_world_tables(result: ReleaseResult) -> list[Table]:
    """What each rule catches over plausible worlds, and the rule found against each other one."""
    over = result.worlds
    if over is None:
        return []
    caught = [
        [arm, *(end_words(q, 100, 0) for q in over.quantiles(arm, "fraction_caught"))]
        + [about_percent(q.estimate) for q in over.quantiles(arm, "whole_group")[1:2]]
        for arm in over.arms
    ]
    against = []
    for v in result.verdicts:
        said = f"“{v.ahead}” ahead" if v.verdict == AHEAD else v.verdict
        shares = (v.a_better, 1 - v.a_better - v.b_better, v.b_better)
        ends = span(100 * v.mean_low, 100 * v.mean_high, 1, signed=True)
        average = f"{number(100 * v.mean, 1, signed=True)} ({ends})"
        against.append([v.b, said, *(about_percent(abs(one)) for one in shares), average])
    limit = f"{100 * over.negligible:g} points"
    level = f"{100 * over.level:g} %"
    return [
        Table(
            f"Over {over.worlds} plausible worlds in which the rule was not sought, "
            f"{over.nights} nights in each",
            ["rule", "caught, %: low end", "middle", "high end", "whole group, middle"],
            caught,
            frozenset({1, 2, 3, 4}),
            "Nine of ten plausible worlds lie between low end and high end. In brackets: where "
            f"each of the three lies with {level} confidence.",
        ),
        Table(
            "The rule found against each other one, by the score",
            ["other rule", "verdict", "better in", "alike in", "worse in", "average, points"],
            against,
            frozenset({2, 3, 4, 5}),
            f"Better or worse: by more than {limit}. Shares of worlds; all rules together at "
            f"{level}.",
        ),
    ]


def value_table(result: ReleaseResult) -> Table:
    """What each rule is worth on the same nights, and how far the rule found is ahead."""
    rows = []
    for name, value in result.values.each.items():
        low, high, level = value.interval
        row = [name, number(100 * value.estimate, 1), span(100 * low, 100 * high, 1)]
        gap = result.values.ahead.get(name)
        if gap is not None:
            low, high, _ = gap.interval
            ahead = span(100 * low, 100 * high, 1, signed=True)
            row += [
                number(100 * gap.estimate, 1, signed=True),
                ahead,
                "yes" if gap.settled else "no",
            ]
        rows.append(row if gap is not None else [*row, "", "", ""])
    columns = [
        "rule",
        "score",
        f"{100 * level:g} % range",
        "rule found is ahead by",
        "range",
        "settled",
    ]
    lead = "Score with its Monte Carlo error" if result.worlds is not None else "Score"
    title = f"{lead}: {unit(result.objective)}"
    return Table(title, columns, rows, frozenset({1, 2, 3, 4}))
