"""Two pulls that scatter, one part of each only: what is needed against what is there.

A pull is X = (m - c) exp(s z) + c with z standard normal: log-normal about a part c that does not
scatter (`LogNormal`). Air gives area times a pressure that scatters, less the seals' drag, which
does not. A finger needs friction's part, which scatters, and the load's own turn on it, which does
not and may be negative: with too little friction it slips by itself.

    P(free when told) = P(0 <= R <= A) = E[ P(A >= R | R); R >= 0 ],

a sum over one normal, and in closed form where both are plain log-normals or one is certain.
"""

from __future__ import annotations

from math import exp, hypot, inf, log, pi, sqrt

from scipy.special import ndtr, ndtri

from soundergate.scenario.distributions import LogNormal

_WIDEST = 9.0
"""Standard deviations to which the normal is summed: what lies beyond is below 1e-18."""


def at_least(pull: LogNormal, value: float) -> float:
    """P(X >= ``value``), N."""
    above, varying = value - pull.steady, pull.median - pull.steady
    if above <= 0.0:
        return 1.0 if varying >= 0.0 and pull.steady >= value else float(varying >= above)
    if varying <= 0.0:
        return 0.0
    if pull.sigma == 0.0:
        return float(varying >= above)
    return float(ndtr(log(varying / above) / pull.sigma))


def stays_put(required: LogNormal) -> float:
    """Probability that a latch which needs ``required`` (N) is not opened by its own load."""
    return at_least(required, 0.0)


def frees(required: LogNormal, available: LogNormal) -> float:
    """Probability that a latch stays put until it is pulled, and lets go then (pulls in N).

    A latch that needs no pull at all, and yet stays, is freed by any puller, a dead one too.
    """
    least = _least(required)
    if least == inf:
        return 0.0
    varying = required.median - required.steady
    if varying == 0.0 or required.sigma == 0.0:
        return _there(available, required.median)
    if required.steady == 0.0 and available.steady == 0.0:
        return _plain(required, available)
    if available.sigma == 0.0 or available.median == available.steady:
        return _between(required, least, available.median)
    return _summed(required, available, least)


def frees_with(required: LogNormal, available: LogNormal, factor: float) -> float:
    """The same with ``factor`` times the pull available."""
    return frees(required, available.scaled(factor))


def factor_for(target: float, required: LogNormal, available: LogNormal) -> float | None:
    """By how much the pull must be multiplied to free the latch with probability ``target``.

    None when no pull does, because the latch stays put too seldom or nothing is there to multiply.
    """
    if available.median <= 0.0 or stays_put(required) <= target:
        return None
    low, high = 1e-6, 1e6
    if frees_with(required, available, high) < target:
        return None
    if frees_with(required, available, low) >= target:
        return low
    for _ in range(200):
        middle = sqrt(low * high)
        if frees_with(required, available, middle) >= target:
            high = middle
        else:
            low = middle
        if high < low * (1.0 + 1e-12):
            break
    return high


def quantile(pull: LogNormal, share: float) -> float:
    """The pull (N) not exceeded with probability ``share`` (between 0 and 1)."""
    return pull.steady + (pull.median - pull.steady) * exp(float(ndtri(share)) * pull.sigma)


def _least(required: LogNormal) -> float:
    """The z from which on the pull needed is at least 0: -inf always, inf never."""
    varying = required.median - required.steady
    if required.steady >= 0.0:
        return -inf
    if varying <= 0.0:
        return inf
    if required.sigma == 0.0:
        return -inf if required.median >= 0.0 else inf
    return log(-required.steady / varying) / required.sigma


def _there(available: LogNormal, need: float) -> float:
    """P(A >= need); a need of 0 is always met."""
    if need < 0.0:
        return 0.0
    return 1.0 if need == 0.0 else at_least(available, need)


def _plain(required: LogNormal, available: LogNormal) -> float:
    """P(A >= R) of two log-normals: Phi(ln(median A / median R) / sqrt(sA^2 + sR^2))."""
    if available.median <= 0.0:
        return 0.0
    spread = hypot(required.sigma, available.sigma)
    return float(ndtr(log(available.median / required.median) / spread))


def _between(required: LogNormal, least: float, most: float) -> float:
    """P(0 <= R <= ``most``) where the pull available is certain."""
    if most <= 0.0:
        return 0.0
    above, varying = most - required.steady, required.median - required.steady
    if above <= 0.0:
        return 0.0
    return float(max(0.0, ndtr(log(above / varying) / required.sigma) - ndtr(least)))


def _summed(required: LogNormal, available: LogNormal, least: float) -> float:
    from scipy.integrate import quad

    varying = required.median - required.steady

    def share(z: float) -> float:
        need = required.steady + varying * exp(required.sigma * z)
        return exp(-0.5 * z * z) / sqrt(2.0 * pi) * _there(available, max(need, 0.0))

    low = max(least, -_WIDEST)
    if low >= _WIDEST:
        return 0.0
    # Where the need crosses the pull at hand the integrand falls, and may fall steeply.
    above = available.median - required.steady
    falls = log(above / varying) / required.sigma if above > 0.0 else low
    inside = sorted({min(max(falls + d, low), _WIDEST) for d in (-1.0, -0.1, 0.0, 0.1, 1.0)})
    total, _ = quad(share, low, _WIDEST, points=inside, limit=400, epsabs=1e-12, epsrel=1e-10)
    return float(min(1.0, max(0.0, total)))
