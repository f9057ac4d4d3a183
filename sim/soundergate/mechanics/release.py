"""Whether a pull frees a latch: two log-normal quantities compared.

Required R and available A are log-normal and independent, so ln(A/R) is normal and
P(A > R) = Phi(ln(median A / median R) / sqrt(sA^2 + sR^2)): the load-against-resistance form of
structural reliability.
"""

from __future__ import annotations

from math import exp, hypot, inf, log

from scipy.special import ndtr, ndtri

from soundergate.mechanics.model import Uncertain


def probability(required: Uncertain, available: Uncertain) -> float:
    """Probability that the pull available exceeds the pull required (medians in N).

    With no uncertainty at all it is 1 or 0; a latch that needs no pull is always freed, and no
    pull frees none that needs one.
    """
    if required.median <= 0.0:
        return 1.0
    if available.median <= 0.0:
        return 0.0
    spread = hypot(required.sigma, available.sigma)
    if spread == 0.0:
        return 1.0 if available.median > required.median else 0.0
    return float(ndtr(log(available.median / required.median) / spread))


def margin(required: Uncertain, available: Uncertain) -> float:
    """Median pull available over median pull required; inf when none is required."""
    return available.median / required.median if required.median > 0.0 else inf


def margin_for(target: float, required_sigma: float, available_sigma: float) -> float:
    """The margin that releases with probability ``target`` (between 0 and 1)."""
    if not 0.0 < target < 1.0:
        raise ValueError(f"target must lie between 0 and 1, got {target!r}")
    return exp(float(ndtri(target)) * hypot(required_sigma, available_sigma))


def pull_for(target: float, required: Uncertain, available_sigma: float) -> float:
    """The median pull (N) that frees the latch with probability ``target``."""
    return required.median * margin_for(target, required.sigma, available_sigma)
