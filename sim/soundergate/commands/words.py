"""The answer in words that need no statistics, for the first lines that a command prints."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soundergate.study.compare import Comparison
    from soundergate.study.estimate import RunResult
    from soundergate.study.tally import Estimate

STANDING = (
    "A simulated share is no promise. Local codes and licensed practice come first; block a raised "
    "gate before anyone works under it; check a set trap at least daily."
)


def run_words(result: RunResult) -> list[str]:
    """What a setup catches, how surely, and what the range does not hold."""
    caught, whole = result["caught"], result["whole_group"]
    lines = [
        f"{_about(caught, result.group_size)} ({_sure(caught)}).",
        f"The whole group on {_nights(whole)}. {_escapes(result['escaped'])}",
        _release(result),
    ]
    lines += _ending(result.interrupted, result.nights, result.precision_reached)
    lines.append(
        f"The ranges say how well {result.nights:,} nights pin down the average. A single night "
        "varies far more, and what nobody knows about pigs is not in them."
    )
    return lines


def comparison_words(comparison: Comparison) -> list[str]:
    """Which setup catches most, whether that is settled, and what the differences say."""
    from soundergate.report.answers import comparison_answer

    return comparison_answer(comparison)


def stopped(nights: int) -> str:
    """What Ctrl-C leaves."""
    return f"Stopped by hand after {nights:,} nights, which all count."


def _ending(interrupted: bool, nights: int, reached: bool | None) -> list[str]:
    lines = [stopped(nights)] if interrupted else []
    if reached is False:
        lines.append("The precision asked for was not reached: play more nights.")
    return lines


def _about(caught: Estimate, group: int) -> str:
    mean = caught.estimate
    pigs = "pig" if group == 1 else "pigs"
    if group == 1:
        return f"The one pig is caught on about {100 * mean:.0f} nights in 100"
    if mean < 0.05:
        return f"Hardly any of {group} {pigs} caught on an average night"
    number = f"{mean:.0f}" if mean >= 2.5 else f"{mean:.1f}"
    return f"About {number} of {group} {pigs} caught on an average night"


def _sure(e: Estimate) -> str:
    if math.isnan(e.low):
        return "too few nights to say how surely"
    digits = 1 if e.high - e.low >= 0.1 else 2
    return f"{100 * e.level:g} % sure: {e.low:.{digits}f} to {e.high:.{digits}f}"


def _nights(e: Estimate) -> str:
    """A share of nights as a count in a hundred, with its range."""
    share, low, high = (100 * value for value in (e.estimate, e.low, e.high))
    if math.isnan(low):
        return f"{share:.0f} nights in 100"
    digits = 0 if high - low >= 2 else 1
    return f"{share:.{digits}f} nights in 100 ({low:.{digits}f} to {high:.{digits}f})"


def _escapes(escaped: Estimate) -> str:
    if escaped.estimate == 0:
        return "No pig that was inside at the release got out."
    if escaped.estimate < 0.1:
        per = 1 / escaped.estimate
        return f"Of those inside at the release, one pig gets out about every {per:.0f} nights."
    return f"Of those inside at the release, {escaped.estimate:.1f} a night get out."


def _release(result: RunResult) -> str:
    text = f"A gate closes on {_nights(result['released'])}"
    failed = result["failed_release"]
    if failed.estimate > 0:
        text += f"; on {_nights(failed)} the latch is pulled and no gate closes"
    return text + "."
