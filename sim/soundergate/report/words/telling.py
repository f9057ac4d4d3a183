"""Which of very many differences are shown: a hundred setups have 4,950 pairs, and nobody reads on.

All of them stand in differences.csv and in the JSON. What is drawn or printed is the largest of
those that are settled, and then the largest of the others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol, TypeVar

from soundergate.studies.estimates.paired import FEW_APART

DRAWN, PRINTED, ON_PAGE = 40, 60, 200
"""Most differences of one measure in a picture, in a table of a terminal, in a table of a page."""


class _Compared(Protocol):
    @property
    def estimate(self) -> float: ...
    @property
    def settled(self) -> bool: ...
    @property
    def few(self) -> bool: ...


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


def settled_words(row: _Compared) -> str:
    """The cell that says whether a difference is settled."""
    if row.few:
        return "too few nights to tell"
    return "yes" if row.settled else "no"


def few_words(rows: Sequence[_Compared]) -> str:
    """What too few nights are, if any row has them."""
    if not any(row.few for row in rows):
        return ""
    return (
        f"Too few nights to tell: the difference rests on fewer than {FEW_APART} nights, and "
        "the interval is not to be trusted; play more nights."
    )
