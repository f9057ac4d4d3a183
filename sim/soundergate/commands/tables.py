"""Results as rows of text."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from soundergate.report.quantities import scale_of
from soundergate.report.words.answers import measures_told
from soundergate.report.words.numbers import digits_shown
from soundergate.report.words.telling import PRINTED, left_out, most_telling, settled_words
from soundergate.studies.estimates.measures import MEASURES

if TYPE_CHECKING:
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.estimates.tally import Estimate

RUN_RIGHT, ARM_RIGHT, PAIR_RIGHT = (1, 2), range(1, 8), (1, 2)
"""Columns of numbers, to be set flush right."""


def run_table(result: RunResult) -> tuple[list[str], list[list[str]]]:
    """Columns and rows: one row a measure that has a meaning for the trap."""
    columns = ["measure", "estimate", f"{100 * result.level:g} % range", "unit"]
    return columns, [[words, *_cells(e)] for words, e in measures_told(result)]


def arm_table(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Columns and rows: one row an arm. Ranges of the other measures are in JSON and summary.csv.

    What is compared has its ranges in the tables of differences.
    """
    rows = []
    for arm in comparison.arms:
        first, *others = (_cells(arm.result[name]) for name in _ARM_HEADS)
        rows.append([arm.name, first[0], first[1], *(cells[0] for cells in others)])
    head, *heads = _ARM_HEADS.values()
    return ["setup", head, f"{100 * comparison.level:g} % range", *heads], rows


_ARM_HEADS = {
    "fraction_caught": "caught, % of group",
    "caught": "pigs caught",
    "escaped": "pigs escaped",
    "whole_group": "whole group, % of nights",
    "released": "gate closed, % of nights",
    "failed_release": "failed release, % of nights",
}


def difference_tables(
    comparison: Comparison,
) -> Iterator[tuple[str, list[str], list[list[str]]]]:
    """Title, columns and rows: one table a measure, one row a pair of arms.

    Of very many pairs the most telling (`report.words.telling`); the title says so.
    """
    columns = ["difference", "estimate", f"{100 * comparison.level:g} % range", "settled"]
    for name in dict.fromkeys(d.measure for d in comparison.differences):
        factor, unit = scale_of(name)
        unit = unit.replace("% ", "percentage points ")
        every = [d for d in comparison.differences if d.measure == name]
        shown = most_telling(every, PRINTED)
        rows = [
            [
                f"{d.a} − {d.b}",
                _number(d.estimate, factor, digits_shown(d.low, d.high, factor), signed=True),
                _span(d.low, d.high, factor, signed=True),
                settled_words(d),
            ]
            for d in shown
        ]
        lead = f"Difference in {MEASURES[name].words} ({unit})"
        yield f"{lead}\n{left_out(len(shown), len(every))}".strip(), columns, rows


def _cells(e: Estimate) -> tuple[str, str, str]:
    factor, unit = scale_of(e.name)
    digits = digits_shown(e.low, e.high, factor)
    return _number(e.estimate, factor, digits), _span(e.low, e.high, factor), unit or e.unit


def _span(low: float, high: float, factor: float, signed: bool = False) -> str:
    if math.isnan(low):
        return "-"
    digits = digits_shown(low, high, factor)
    return " to ".join(_number(end, factor, digits, signed) for end in (low, high))


def _number(value: float, factor: float, digits: int, signed: bool = False) -> str:
    if math.isnan(value):
        return "-"
    return f"{factor * value:{'+' if signed else ''}.{digits}f}".replace("-", "−")
