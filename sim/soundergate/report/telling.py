"""Which of very many differences are shown: a hundred setups have 4,950 pairs, and nobody reads on.

All of them stand in differences.csv and in the JSON. What is drawn or printed is the largest of
those that are settled, and then the largest of the others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol, TypeVar

DRAWN, PRINTED, ON_PAGE = 40, 60, 200
"""Most differences of one measure in a picture, in a table of a terminal, in a table of a page."""


class _Compared(Protocol):
    @property
    def estimate(self) -> float: ...
    @property
    def settled(self) -> bool: ...


C = TypeVar("C", bound=_Compared)


def most_telling(rows: Sequence[C], most: int) -> list[C]:
    """All rows as they are if they are few enough, else the ``most`` that say most, in order."""
    if len(rows) <= most:
        return list(rows)
    size = [-1.0 if math.isnan(row.estimate) else abs(row.estimate) for row in rows]
    ranked = sorted(range(len(rows)), key=lambda n: (not rows[n].settled, -size[n], n))
    return [rows[n] for n in sorted(ranked[:most])]


def left_out(shown: int, of: int) -> str:
    """That some are not shown and where they stand; "" if all are."""
    if shown == of:
        return ""
    return (
        f"The {shown} largest of {of:,}, settled ones first; "
        "all of them stand in differences.csv of --out, and with --json."
    )
