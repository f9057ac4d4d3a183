"""The first and the last words of an answer; what lies between is said as in the reports."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.words.answers import run_answer

if TYPE_CHECKING:
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.estimates.tally import Estimate

STANDING = (
    "A simulated share is no promise. Local codes and licensed practice come first; block a raised "
    "gate before anyone works under it; check a set trap at least daily."
)


def run_words(result: RunResult) -> list[str]:
    """What a setup catches, how surely, and what the range does not hold."""
    _, *rest = run_answer(result)
    caught = result["caught"]
    return [
        f"{_about(result)} ({_sure(caught)}).",
        *rest,
        f"The ranges say how well {result.nights:,} nights pin down the average. A single night "
        "varies far more, and what nobody knows about pigs is not in them.",
    ]


def stopped(nights: int) -> str:
    """What Ctrl-C leaves, for those who asked for nothing else to be said."""
    return f"Stopped after {nights:,} nights, which all count."


def _about(result: RunResult) -> str:
    mean, group = result["caught"].estimate, result.group_size
    if group == 1:
        return f"The one pig is caught on about {100 * mean:.0f} nights in 100"
    least = result.tally.smallest_group
    of = f"of {group} pigs caught on an average night"
    if least != group:
        of = f"pigs of {least} to {group} caught on an average night"
    if mean < 0.05:
        return f"Hardly any {of}"
    return f"About {mean:.0f} {of}" if mean >= 2.5 else f"About {mean:.1f} {of}"


def _sure(e: Estimate) -> str:
    if math.isnan(e.low):
        return "too few nights to say how surely"
    digits = 1 if e.high - e.low >= 0.1 else 2
    return f"{100 * e.level:g} % sure: {e.low:.{digits}f} to {e.high:.{digits}f}"
