"""Closed forms of a plate that swings about one edge, with which its differential equation agrees.

Angles are measured from hanging shut, in radians: 0 shut, pi/2 horizontal, pi upright above the
hinge. A uniform plate of length L has I = m L^2 / 3 about its edge, so it moves like a simple
pendulum whose unit of time is sqrt(2 L / (3 g)).
"""

from __future__ import annotations

from math import asin, cos, pi, sin, sqrt

from scipy.special import ellipkinc, ellipkm1

from soundergate.scenario.constants import GRAVITY


def unit_time(length: float) -> float:
    """sqrt(2 L / (3 g)), the time (s) in which the swing of a plate L m long is counted."""
    return sqrt(2.0 * length / (3.0 * GRAVITY))


def period_ratio(amplitude: float) -> float:
    """Period of a pendulum over its small-swing period, (2 / pi) K(sin(amplitude / 2)).

    ``amplitude`` in rad, 0 <= amplitude < pi. Source: the complete elliptic integral of the first
    kind, DLMF 19.2.8 and 22.19(i).
    """
    return float(2.0 / pi * ellipkm1(cos(amplitude / 2.0) ** 2))


def swing_time(length: float, start: float, end: float = 0.0) -> float:
    """Exact time (s) a uniform plate, let go at rest at ``start``, takes to reach ``end``.

    ``length`` m; angles in rad from hanging, 0 <= end <= start < pi. Without friction and air,
    t = sqrt(2 L / 3 g) (K(k) - F(asin(sin(end / 2) / k), k)), k = sin(start / 2) (DLMF 22.19(i)).
    A plate balanced exactly upright (start = pi) never moves: inf.
    """
    if start >= pi:
        return float("inf")
    if end >= start:
        return 0.0
    k = sin(start / 2.0)
    whole = ellipkm1(cos(start / 2.0) ** 2)
    left = ellipkinc(asin(min(1.0, sin(end / 2.0) / k)), k * k)
    return float(unit_time(length) * (whole - left))


def swing_rate(length: float, start: float, angle: float) -> float:
    """Rate of turning (rad/s) at ``angle`` of a plate let go at rest at ``start``, no losses.

    Energy: w^2 = 3 g (cos(angle) - cos(start)) / L.
    """
    return sqrt(max(0.0, 3.0 * GRAVITY * (cos(angle) - cos(start)) / length))
