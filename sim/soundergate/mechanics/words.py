"""Numbers inside the sentences of the mechanics room: SI first, trade units in brackets."""

from __future__ import annotations

from soundergate.mechanics.materials import FOOT, INCH, LB
from soundergate.mechanics.model import GRAVITY

LBF = LB * GRAVITY
"""N in a pound-force."""

PSI = LBF / INCH**2
"""Pa in a pound-force per square inch."""

FOOT_POUND = LBF * FOOT
"""J in a foot pound-force."""


def force(newtons: float) -> str:
    """A force, as in "719 N (161.7 lbf)"."""
    return f"{newtons:.0f} N ({newtons / LBF:.1f} lbf)"


def travel(metres: float) -> str:
    """A short length, as in "25 mm (0.98 in)"."""
    return f"{metres * 1e3:.0f} mm ({metres / INCH:.2f} in)"


def pressure(pascals: float) -> str:
    """A gauge pressure, as in "690 kPa (100 psi)"."""
    return f"{pascals / 1e3:.0f} kPa ({pascals / PSI:.0f} psi)"
