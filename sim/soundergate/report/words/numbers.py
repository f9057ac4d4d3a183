"""Numbers for people: cells of tables, and shares in sentences.

What is not nothing never reads as nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.studies.estimates.measures import MEASURES

if TYPE_CHECKING:
    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.estimates.tally import Estimate

MOST_DIGITS = 5

NONE = "—"
"""The cell of a number that there is not."""


def scale_of(measure: str) -> tuple[float, str]:
    """What a measure is multiplied by to be shown, and the unit of the result."""
    known = MEASURES.get(measure)
    return (1.0, "") if known is None else scale(known.unit)


def scale(unit: str) -> tuple[float, str]:
    """The same by its unit: a share "of nights" is shown in %, a time "s after ..." in minutes."""
    if unit.startswith("of "):
        return 100.0, f"% {unit}"
    if unit.startswith("s "):
        return 1 / 60, f"min {unit[2:]}"
    return 1.0, unit


def points(unit: str) -> str:
    """The unit of a difference: of percentages, percentage points."""
    return unit.replace("% ", "percentage points ")


def number(value: float, digits: int, signed: bool = False) -> str:
    """A number with so many decimals, `NONE` for nan."""
    if math.isnan(value):
        return NONE
    plain = f"{value:{'+' if signed else 'z'},.{digits}f}"
    return plain.replace("-", "−")


def span(low: float, high: float, digits: int, signed: bool = False) -> str:
    """Two ends, "2.0 to 3.5"; `NONE` if either is nan."""
    if math.isnan(low) or math.isnan(high):
        return NONE
    return f"{number(low, digits, signed)} to {number(high, digits, signed)}"


def with_range(value: str, ends: str) -> str:
    """An estimate and its range in one cell, "2.7 (2.0 to 3.5)"."""
    return value if NONE in (value, ends) else f"{value} ({ends})"


def estimate_cells(e: Estimate | Difference, signed: bool = False) -> tuple[str, str, str]:
    """Three cells: the estimate, its range, the unit of both."""
    factor, unit = scale(e.unit)
    digits = digits_shown(e.low, e.high, factor)
    value = number(factor * e.estimate, digits, signed)
    return value, span(factor * e.low, factor * e.high, digits, signed), unit


def digits_of(low: float, high: float, least: int = 0) -> int:
    """Decimals for percentages with this interval (in %), so that both its ends can be told.

    As many as the width asks for, and more (up to five) where an end that is not 0 or 100 would
    read as if it were. nan, no interval, gets the least, but one at least.
    """
    if math.isnan(low) or math.isnan(high):
        return max(least, 1)
    width = high - low
    digits = 0 if width >= 2 else 1 if width >= 0.1 or width <= 0 else 2
    return _more((low, high), max(digits, least), (0, 100))


def digits_shown(low: float, high: float, factor: float) -> int:
    """Decimals of a table's cell, for ends that are multiplied by `factor`, 100 or less.

    Two for counts, one for percentages, points and minutes; more where an end would read as 0 and
    is not.
    """
    least, marks = 2 if factor == 1 else 1, (0, 100) if factor == 100 else (0,)
    if math.isnan(low) or math.isnan(high):
        return least
    return _more((factor * low, factor * high), least, marks)


def _more(ends: tuple[float, float], least: int, marks: tuple[int, ...]) -> int:
    """Decimals, at least so many, by which no end reads as a mark that it only comes close to.

    An end closer to it than five decimals can tell counts as the mark.
    """
    digits = least
    close = [(end, mark) for end in ends for mark in marks if round(end, MOST_DIGITS) != mark]
    while any(round(end, digits) == mark for end, mark in close):
        digits += 1
    return digits


def percent(e: Estimate) -> str:
    """A share with its interval: "37 % (36 to 38 %)"; "an unknown share" for nan."""
    value, low, high = (100 * v for v in (e.estimate, e.low, e.high))
    if math.isnan(value):
        return "an unknown share"
    digits = digits_of(low, high)
    text = f"{value:z.{digits}f} %"
    if math.isnan(low):
        return text
    return f"{text} ({_end(low, digits)} to {_end(high, digits)} %)"


def _end(percent_: float, digits: int) -> str:
    return f"{percent_:z.0f}" if percent_ in (0, 100) else f"{percent_:z.{digits}f}"


def of_nights(e: Estimate) -> str:
    """On how many nights: "70 % (67 to 73 %) of nights", "none of the 1,000 nights (...)"."""
    if e.nights and e.estimate in (0.0, 1.0):
        which = "none of" if e.estimate == 0 else "all of" if e.nights > 1 else "all"
        nights = f"the {e.nights:,} nights" if e.nights > 1 else "the one night"
        return f"{which} {nights}{_bound(e)}"
    return f"{percent(e)} of nights"


def _bound(e: Estimate) -> str:
    """How often it may still happen, or fail to, in the long run."""
    rest = e.high if e.estimate == 0 else 1 - e.low
    if math.isnan(rest) or rest <= 0 or rest > 0.5:
        return ""
    return f" (in the long run {'on' if e.estimate == 0 else 'not on'} at most {_share(rest)})"


def _share(share: float) -> str:
    if share >= 0.01:
        return f"{100 * share:.0f} % of nights"
    step = 10 ** max(math.floor(math.log10(1 / share)) - 1, 0)
    return f"1 night in {int(1 / share // step * step):,}"
