"""A rigid plate turning about one edge: its inertia, its hinge, and what the air does to it.

Angles are measured from hanging shut, in radians: 0 shut, pi/2 horizontal, pi upright above the
hinge.
"""

from __future__ import annotations

import numpy as np

from soundergate.mechanics.model import Array
from soundergate.scenario.constants import GRAVITY

Values = float | Array
"""A number, or an array of them."""

AIR_DENSITY = 1.204
"""Density of dry air at 20 degrees C and 101.325 kPa, kg/m^3."""

CD_SQUARE = 1.17
CD_LONG = 1.98
"""Drag coefficients of a square and of a very long plate held across the flow.

Source: Aeronautical Engineer's Data Book, figure 5.13b.
"""


def edge_inertia(mass: float, length: float) -> float:
    """Moment of inertia of a uniform plate about one edge, m L^2 / 3 (kg m^2)."""
    return mass * length * length / 3.0


def drag_coefficient(width: float, length: float) -> float:
    """Drag coefficient of a ``width`` by ``length`` (m) plate across the flow.

    The two handbook values, square 1.17 and very long 1.98, are joined by a straight line in
    short side / long side: the line between them is our assumption.
    """
    ratio = min(width, length) / max(width, length)
    return CD_LONG + (CD_SQUARE - CD_LONG) * ratio


def air_moment(
    width: float,
    length: float,
    coefficient: float,
    rate: Values = 0.0,
    wind: Values = 0.0,
    density: float = AIR_DENSITY,
) -> Values:
    """Moment of the air about the hinge, N m, positive when it helps the plate to close.

    ``width`` along the hinge and ``length`` away from it (m); ``coefficient`` drag coefficient,
    already times the solidity for mesh; ``rate`` closing rate (rad/s); ``wind`` speed (m/s) of the
    air normal to the plate, positive when it pushes the plate shut (both may be arrays of one
    shape). A strip at distance x meets air at V - w x, so the moment is (rho Cd b / 2) times the
    integral of (V - w x)|V - w x| x over 0..L; with no wind that is -(1/8) rho Cd b L^4 w^2, with
    no motion (1/4) rho Cd b L^2 V^2.
    """
    v, w = np.asarray(wind, dtype=float), np.asarray(rate, dtype=float)
    force = 0.5 * density * coefficient * width
    if v.ndim == 0 and v == 0.0:  # as below, in a fraction of the time
        still: Values = force * np.copysign(length**2 * (w * w * length**2 / 4.0), -w)
        return still
    whole = length**2 * (v * v / 2.0 - 2.0 * v * w * length / 3.0 + w * w * length**2 / 4.0)
    turns_over = v * (v - w * length) < 0.0  # the flow reverses somewhere along the plate
    to_there = v * v * v * v / (12.0 * np.where(turns_over, w * w, 1.0))
    plain = np.copysign(whole, v - 0.5 * w * length)
    split = np.copysign(1.0, v) * (2.0 * to_there - whole)
    moment: Values = force * np.where(turns_over, split, plain)
    return moment


def hinge_reaction(mass: float, length: float, angle: Values, rate: Values = 0.0) -> Values:
    """Size of the force (N) on the hinge of a freely swinging uniform plate.

    Along the plate m g cos(angle) + m w^2 L / 2; across it m g sin(angle) / 4, since the middle of
    the plate already falls with 3/4 of g sin(angle).
    """
    along = mass * GRAVITY * np.cos(angle) + 0.5 * mass * length * rate * rate
    reaction: Values = np.hypot(along, 0.25 * mass * GRAVITY * np.sin(angle))
    return reaction
