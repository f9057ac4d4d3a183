"""Tables of a release rule: the card, and what each rule is worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import number, span
from soundergate.report.words.rule_answers import rule_lines, unit

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult


def rule_tables(result: ReleaseResult) -> list[Table]:
    """Both of them."""
    return [rule_table(result), value_table(result)]


def rule_table(result: ReleaseResult) -> Table:
    """The card as a table."""
    rows = [[when, what] for when, what in rule_lines(result.rule, result.group)]
    return Table("Release rule", ["since the alert", f"counted, of {result.group}"], rows)


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
    title = f"Score: {unit(result.objective)}"
    return Table(title, columns, rows, frozenset({1, 2, 3, 4}))
