"""How large a field trial would have to be to see a difference that nights show.

The unit of a trial is a sounder, met once by one of two setups. Means are compared by Welch's
test, whose power follows from the noncentral t distribution (Cohen 1988, Statistical Power
Analysis, ch. 2, for equal variances); shares of sounders caught whole by Fisher's exact test, with
the sample size of Casagrande, Pike and Smith (1978, Biometrics 34:483-486), which holds its power
nearly exactly.

Simulated nights differ less than sounders in the field do, and the difference is only as good as
the model: what stands here is the least that a trial would need.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import finite
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.options import checked

if TYPE_CHECKING:
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import RunResult

MEASURED = ("fraction_caught", "whole_group")
"""What a trial would look at: the share of a sounder caught, and whether it was caught whole."""
MOST = 100_000
"""Sounders in each arm beyond which a trial is not worth naming."""


@dataclass(frozen=True)
class TrialSize:
    """Sounders that each of two arms would need.

    ``sounders`` at the difference as estimated; ``fewest`` and ``most`` at the ends of its
    interval, inf where no number up to `MOST` is enough or the end is no difference.
    ``at_twenty``: power with twenty sounders in each arm.
    """

    a: str
    b: str
    measure: str
    difference: float
    sounders: float
    fewest: float
    most: float
    at_twenty: float
    power: float
    level: float

    def to_json(self) -> dict[str, Any]:
        """All fields; None for inf."""
        return {name: finite(value) for name, value in vars(self).items()}


@checked
def trial_sizes(comparison: Comparison, power: float = 0.8) -> list[TrialSize]:
    """What every pair of a comparison would need, measure by measure.

    Parameters
    ----------
    comparison : Comparison
        What `compare` gave.
    power : float
        Chance that the trial settles the difference, at the comparison's level.

    Returns
    -------
    list of TrialSize
        Sounders in each arm; Welch's and Fisher's tests, sources at the head of this module.

    Raises
    ------
    StudyError
        For what is no comparison, and unless the power lies between 0 and 1.

    Example
    -------
    >>> import soundergate
    >>> both = soundergate.compare("trap.toml", "opening.width=4 ft,8 ft", nights=50)
    >>> [size.measure for size in soundergate.trial_sizes(both)]
    ['fraction_caught', 'whole_group']
    """
    if not hasattr(comparison, "differences"):
        raise StudyError("is no comparison", key="comparison", value=comparison,
                         hint="wanted what soundergate.compare gave")  # fmt: skip
    check_power(power)
    return [
        _size(comparison, d.a, d.b, d.measure, (d.estimate, d.low, d.high), power)
        for d in comparison.differences
        if d.measure in MEASURED
    ]


def check_power(power: float) -> float:
    """Raises StudyError unless a number between 0 and 1."""
    number = isinstance(power, int | float) and not isinstance(power, bool)
    if not number or not 0 < power < 1:
        raise StudyError(f"power is {power!r}; a power is between 0 and 1, such as 0.8")
    return float(power)


def _size(
    comparison: Comparison,
    a: str,
    b: str,
    measure: str,
    difference: tuple[float, float, float],
    power: float,
) -> TrialSize:
    level = check_level(comparison.level)
    one, other = comparison[a], comparison[b]

    def needed(gap: float) -> float:
        return least_sounders(lambda n: _power(one, other, measure, gap, n, level), power)

    estimate, low, high = difference
    nearest = 0.0 if low <= 0 <= high else min(abs(low), abs(high))
    fewest, most = needed(max(abs(low), abs(high))), needed(nearest)
    return TrialSize(
        a, b, measure, estimate, needed(abs(estimate)), fewest, most,
        _power(one, other, measure, abs(estimate), 20, level), power, level,
    )  # fmt: skip


def _power(
    one: RunResult, other: RunResult, measure: str, gap: float, n: int, level: float
) -> float:
    """Power with ``n`` sounders in each arm for a difference ``gap`` about the arms' middle."""
    first, second = (r.tally.moments[measure] for r in (one, other))
    if not MEASURES[measure].yes_no:
        return welch_power(gap, first.variance, second.variance, n, level)
    middle = (first.mean + second.mean) / 2
    low, high = max(middle - gap / 2, 0.0), min(middle + gap / 2, 1.0)
    return share_power(low, high, n, level)


def welch_power(gap: float, variance: float, other: float, n: int, level: float = 0.95) -> float:
    """Chance that Welch's two-sided test settles means that differ by ``gap``.

    Parameters
    ----------
    variance, other : of one sounder in either arm
    n : sounders in each arm, 2 or more
    """
    from scipy.stats import nct, norm, t

    both = variance + other
    if gap == 0:
        return 1 - level
    if both == 0:
        return 1.0
    freedom = both**2 * (n - 1) / (variance**2 + other**2)
    edge = t.ppf((1 + level) / 2, freedom)
    shift = gap / math.sqrt(both / n)
    if freedom > 5_000 or shift > edge + 10:  # where the noncentral t is normal, or fails
        return float(norm.sf(edge - shift))
    wrong_side = nct.cdf(-edge, freedom, shift) if shift < 5 else 0.0  # nothing, and then nan
    return float(nct.sf(edge, freedom, shift) + wrong_side)


def share_power(p: float, q: float, n: int, level: float = 0.95) -> float:
    """Chance that Fisher's two-sided test settles shares ``p`` and ``q`` of ``n`` sounders each.

    The sample size of Casagrande, Pike and Smith (1978) solved for its power: with the gap d, n is
    first lessened to n' = (n - 1 / d)^2 / n for continuity, then taken as the normal test's.
    """
    from scipy.stats import norm

    gap = abs(p - q)
    if gap == 0:
        return 1 - level
    lessened = (max(n - 1 / gap, 0.0)) ** 2 / n
    middle = (p + q) / 2
    alike = math.sqrt(2 * middle * (1 - middle))
    apart = math.sqrt(p * (1 - p) + q * (1 - q))
    reach = gap * math.sqrt(lessened) - norm.ppf((1 + level) / 2) * alike
    return float(norm.cdf(reach / apart)) if apart > 0 else float(reach > 0)


def least_sounders(power_at: Callable[[int], float], power: float) -> float:
    """The fewest sounders in each arm with that power; inf beyond `MOST`."""
    if power_at(MOST) < power:
        return math.inf
    low, high = 1, MOST  # low is too few, high is enough
    while high - low > 1:
        middle = (low + high) // 2
        if power_at(max(middle, 2)) >= power:
            high = middle
        else:
            low = middle
    return float(max(high, 2))
