"""Which nights of a run are shown as examples: a typical one, the worst and the best.

Typical: a night that catches the median number (the lower of the two middle ones), ends the way
most of those nights end (a gate closed; the latch was pulled and none closed; nothing was
released), and among these lets the median number escape; of several the first. Worst and best: by
the share of the group caught; of equal ones the worst is the one with most escapes, the best the
one with fewest; of several the first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes

TYPICAL, WORST, BEST = "typical", "worst", "best"


def chosen_nights(outcomes: Outcomes) -> dict[int, str]:
    """Night number -> what it is: "typical", "worst", "best", or several, such as "typical, best".

    At most three, typical first; empty for no nights.
    """
    if not len(outcomes):
        return {}
    named: dict[int, list[str]] = {}
    rows = {TYPICAL: _typical(outcomes), WORST: _extreme(outcomes, 1), BEST: _extreme(outcomes, -1)}
    for name, row in rows.items():
        named.setdefault(int(outcomes["night"][row]), []).append(name)
    return {night: ", ".join(names) for night, names in named.items()}


def _typical(outcomes: Outcomes) -> int:
    """Row of the typical night."""
    rows = _at_median(outcomes["caught"], np.arange(len(outcomes)))
    ends = np.where(outcomes["released"], 2, np.isfinite(outcomes["release_s"]).astype(int))
    kinds, counts = np.unique(ends[rows], return_counts=True)
    rows = rows[ends[rows] == kinds[::-1][np.argmax(counts[::-1])]]
    rows = _at_median(_escapes(outcomes), rows)
    return int(rows[np.argmin(outcomes["night"][rows])])


def _at_median(values: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Those of the rows whose value is the lower median over them."""
    middle = np.sort(values[rows])[(len(rows) - 1) // 2]
    return rows[values[rows] == middle]


def _extreme(outcomes: Outcomes, sign: int) -> int:
    """Row of the night that catches the smallest share (sign 1) or the largest (sign -1)."""
    share = outcomes["caught"] / np.maximum(outcomes["group_size"], 1)
    return int(np.lexsort((outcomes["night"], -sign * _escapes(outcomes), sign * share))[0])


def _escapes(outcomes: Outcomes) -> np.ndarray:
    return outcomes["escaped_during"] + outcomes["escaped_after"]
