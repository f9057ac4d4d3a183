"""Results as rows of text."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from soundergate.report.figures import scale_of
from soundergate.study.measures import MEASURES, REQUIRED

if TYPE_CHECKING:
    from soundergate.study.compare import Comparison
    from soundergate.study.estimate import RunResult
    from soundergate.study.tally import Estimate

RUN_RIGHT, PAIR_RIGHT = (1, 2), (2, 3)
"""Columns of numbers, to be set flush right."""


def run_table(result: RunResult) -> tuple[list[str], list[list[str]]]:
    """Columns and rows: one row a measure."""
    columns = ["measure", "estimate", f"{100 * result.level:g} % range", "unit"]
    return columns, [[MEASURES[e.name].words, *_cells(e)] for e in result]


def arm_table(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Columns and rows: one row an arm, the measures that every result carries."""
    heads = [f"{MEASURES[name].words} ({scale_of(name)[1]})" for name in REQUIRED]
    rows = []
    for arm in comparison.arms:
        cells = [_cells(arm.result[name]) for name in REQUIRED]
        rows.append([arm.name, *(f"{value} ({span})" for value, span, _ in cells)])
    return ["setup", *heads], rows


def difference_table(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Columns and rows: one row a pair of arms and measure."""
    head = f"{100 * comparison.level:g} % range"
    rows = []
    for d in comparison.differences:
        factor, unit = scale_of(d.measure)
        value = _number(factor * d.estimate, factor, signed=True)
        words = MEASURES[d.measure].words
        settled = "yes" if d.settled else "no"
        rows.append(
            [f"{d.a} − {d.b}", words, value, _span(d.low, d.high, factor, True), unit, settled]
        )
    return ["difference", "in", "estimate", head, "unit", "settled"], rows


def _cells(e: Estimate) -> tuple[str, str, str]:
    factor, unit = scale_of(e.name)
    return _number(factor * e.estimate, factor), _span(e.low, e.high, factor), unit or e.unit


def _span(low: float, high: float, factor: float, signed: bool = False) -> str:
    if math.isnan(low):
        return "-"
    ends: Iterable[str] = (_number(factor * end, factor, signed) for end in (low, high))
    return " to ".join(ends)


def _number(value: float, factor: float, signed: bool = False) -> str:
    if math.isnan(value):
        return "-"
    digits = 2 if factor == 1 else 1
    return f"{value:{'+' if signed else ''}.{digits}f}".replace("-", "−")
