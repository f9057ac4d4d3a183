"""A known time added to an uncertain one."""

from __future__ import annotations

from math import log
from statistics import NormalDist

from soundergate.scenario.distributions import Duration

_TAIL = 0.9
_TAIL_Z = NormalDist().inv_cdf(_TAIL)


def later(duration: Duration, seconds: float) -> Duration:
    """``duration`` plus a constant (s, at least 0), as a duration again.

    Exact for fixed and uniform times. Any other kind becomes the log-normal with the same median
    and the same 90th percentile as the shifted time.
    """
    if seconds == 0.0:
        return duration
    if duration.kind in ("fixed", "uniform"):
        b = duration.b + seconds if duration.kind == "uniform" else 0.0
        return Duration(duration.kind, duration.a + seconds, b)
    median = duration.median() + seconds
    tail = duration.quantile(_TAIL) + seconds
    return Duration("lognormal", log(median), log(tail / median) / _TAIL_Z)
