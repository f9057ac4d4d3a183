"""Whether a pull frees a latch: two log-normal quantities compared.

Required R and available A are log-normal and independent, so ln(A/R) is normal and
P(A >= R) = Phi(ln(median A / median R) / sqrt(sA^2 + sR^2)): the load-against-resistance form of
structural reliability.
"""

from __future__ import annotations

from math import hypot, inf, log

import numpy as np
from scipy.special import ndtr, owens_t

from soundergate.mechanics.model import Array
from soundergate.scenario.distributions import LogNormal


def probability(required: LogNormal, available: LogNormal) -> float:
    """Probability that the pull available is at least the pull required (medians in N).

    With no uncertainty at all it is 1 or 0, and just enough is enough; a latch that needs no
    pull is always freed, and no pull frees none that needs one.
    """
    if required.median <= 0.0:
        return 1.0
    if available.median <= 0.0:
        return 0.0
    spread = hypot(required.sigma, available.sigma)
    if spread == 0.0:
        return 1.0 if available.median >= required.median else 0.0
    return float(ndtr(log(available.median / required.median) / spread))


def margin(required: LogNormal, available: LogNormal) -> float:
    """Median pull available over median pull required; inf when none is required."""
    return available.median / required.median if required.median > 0.0 else inf


def both_exceed(a: Array | float, b: Array | float, correlation: float) -> Array:
    """P(X > a and Y > b) of two standard normals, by Owen's T function.

    D. B. Owen, "Tables for computing bivariate normal probabilities", Annals of Mathematical
    Statistics 27 (1956) 1075-1090, equation 2.1 (for lower tails; by symmetry for upper ones).
    """
    h, k = (np.clip(-np.asarray(x, dtype=np.float64), -40.0, 40.0) for x in (a, b))
    if correlation >= 1.0 - 1e-12:
        return np.asarray(ndtr(np.minimum(h, k)))
    if correlation <= -1.0 + 1e-12:
        return np.asarray(np.maximum(0.0, ndtr(h) + ndtr(k) - 1.0))
    h, k = (np.where(x == 0.0, 1e-300, x) for x in (h, k))
    width = np.sqrt(1.0 - correlation * correlation)
    with np.errstate(over="ignore"):
        of_h = owens_t(h, (k - correlation * h) / (h * width))
        of_k = owens_t(k, (h - correlation * k) / (k * width))
    apart = np.where(h * k < 0.0, 0.5, np.where((h < 0.0) != (k < 0.0), 0.5, 0.0))
    return np.asarray(np.clip(0.5 * (ndtr(h) + ndtr(k)) - of_h - of_k - apart, 0.0, 1.0))
