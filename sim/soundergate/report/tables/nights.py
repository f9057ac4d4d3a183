"""Tables of nights: what a run measures, setups side by side, their differences, one night."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from soundergate.report.figures.estimates import pair_cell, wrapped
from soundergate.report.tables.table import Table
from soundergate.report.words.answers import may_stay_open, measures_shown
from soundergate.report.words.numbers import estimate_cells, points, scale_of, with_range
from soundergate.report.words.telling import (
    PRINTED,
    few_words,
    left_out,
    most_telling,
    settled_words,
)
from soundergate.studies.estimates.measures import MEASURES

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.estimates.paired import Difference


OPEN_TRAP = (
    "A pig that stands in a trap with a way still open at the check is not caught. It counts as "
    "escaped if it was inside at the release, and else as in and out before."
)
"""What two of the measures hold besides what their words say."""


_RANGES = (
    "Ranges say how well the nights played pin down the average of one world (Monte Carlo "
    "error). They count nights, not animals: the animals of one night share its luck."
)


def measure_table(result: RunResult, caption: str = "") -> Table:
    """One row a measure that has a meaning for the trap."""
    return Table(
        caption,
        ["measure", "estimate", f"{100 * result.level:g} % Monte Carlo range", "unit"],
        [[words, *estimate_cells(e)] for words, e in measures_shown(result)],
        frozenset({1, 2}),
        f"{OPEN_TRAP} {_RANGES}" if may_stay_open(result) else _RANGES,
    )


_ARM_HEADS = {
    "fraction_caught": "caught, % of group",
    "caught": "pigs caught",
    "escaped": "pigs escaped",
    "whole_group": "whole group, % of nights",
    "released": "gate closed, % of nights",
    "failed_release": "failed release, % of nights",
}


def arm_table(comparison: Comparison, narrow: bool = False) -> Table:
    """One row a setup, each figure with its range; ``narrow``, for a terminal, below it."""
    rows = []
    for arm in comparison.arms:
        cells = [estimate_cells(arm.result[name]) for name in _ARM_HEADS]
        ranged = [with_range(value, ends) for value, ends, _ in cells]
        if narrow:
            ranged = [cell.replace(" (", "\n(") for cell in ranged]
        rows.append([wrapped(arm.name) if narrow else arm.name, *ranged])
    heads = [head.replace(", ", ",\n") if narrow else head for head in _ARM_HEADS.values()]
    return Table(
        f"Every setup, with {100 * comparison.level:g} % Monte Carlo ranges",
        ["setup", *heads],
        rows,
        frozenset(range(1, len(_ARM_HEADS) + 1)),
    )


_TOGETHER = "Ranges of one measure hold together over all pairs, so picking the largest is allowed."


def difference_tables(
    comparison: Comparison, most: int = PRINTED, narrow: bool = False
) -> list[Table]:
    """One table a measure, one row a pair of setups; of very many pairs the ``most`` telling.

    ``narrow``, for a terminal: a pair on as many lines as it needs.
    """
    tables = []
    for name in dict.fromkeys(d.measure for d in comparison.differences):
        every = [d for d in comparison.differences if d.measure == name]
        shown = most_telling(every, most)
        lead = f"Difference in {MEASURES[name].words} ({points(scale_of(name)[1])})"
        tables.append(
            Table(
                f"{lead}\n{left_out(len(shown), len(every))}".strip(),
                ["difference", "estimate", f"{100 * comparison.level:g} % range", "settled"],
                [_difference_row(d, narrow) for d in shown],
                frozenset({1, 2}),
                few_words(shown),
            )
        )
    if tables:  # said once
        note = f"{tables[-1].note} {_TOGETHER}".strip()
        tables[-1] = replace(tables[-1], note=note)
    return tables


def _difference_row(d: Difference, narrow: bool) -> list[str]:
    pair = pair_cell(d.a, d.b) if narrow else f"{d.a} − {d.b}"
    return [pair, *estimate_cells(d, signed=True)[:2], settled_words(d)]


def event_table(trace: Trace) -> Table:
    """Everything that happened in one night."""
    rows = [[str(cell) for cell in row] for row in trace.table.itertuples(index=False)]
    return Table("Everything that happened", [str(name) for name in trace.table.columns], rows)


def failed_table(failed: Mapping[str, str]) -> Sequence[Table]:
    """Setups of a study that could not be played, and why; nothing if all were."""
    rows = list(failed.items())
    return [Table("Setups that could not be played", ["setup", "why"], rows)] if rows else []
