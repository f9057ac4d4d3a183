"""How large a field trial would have to be, as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import number
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.sentences import about_percent

if TYPE_CHECKING:
    from soundergate.studies.trial_size import TrialSize

NOTE = (
    "Sounders in the field differ by more than these nights do, and a difference is only as good "
    "as the model: these numbers are the least that a trial would need."
)


def trial_table(sizes: Sequence[TrialSize]) -> Table:
    """One row a pair and measure: sounders in each arm, and what twenty would show."""
    first = sizes[0]
    rows = [
        [
            f"{one.a} − {one.b}",
            MEASURES[one.measure].words,
            number(100 * one.difference, 1, signed=True),
            _sounders(one.sounders),
            f"{_sounders(one.fewest)} to {_sounders(one.most)}",
            about_percent(one.at_twenty),
        ]
        for one in sizes
    ]
    chance = f"to settle it in {100 * first.power:g} % of trials"
    return Table(
        f"A field trial, at {100 * first.level:g} % confidence",
        [
            "difference", "in", "points", f"sounders in each arm {chance}",
            "at the ends of its range", "settled with 20 in each arm",
        ],
        rows,
        frozenset({2, 3, 4, 5}),
        NOTE,
    )  # fmt: skip


def _sounders(number_of: float) -> str:
    return "no number" if math.isinf(number_of) else number(number_of, 0)
