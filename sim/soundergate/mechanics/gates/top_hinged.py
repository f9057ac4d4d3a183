"""A top-hinged gate: a rigid plate let go from any raised angle, up to nearly upright.

Angles are measured from hanging shut: 90 degrees is horizontal, 175 leaves 5 degrees off upright.
With weight W, length L (the height of the opening) and a the angle off upright, the latch at a
distance r from the hinge holds W (L/2) sin a / r; W (L/2) sin a also has to beat the hinge's
friction and the wind, or the gate stays where it is. Above horizontal the opening is wholly
clear; below, L (1 - cos angle) is. Wind blows across the opening, positive when it pushes an
upright gate shut; below horizontal the same wind holds the gate open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import acos, asin, atan2, cos, degrees, floor, hypot, inf, log, pi, sin, sqrt
from typing import Any

import numpy as np

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates import plate
from soundergate.mechanics.gates.drop import HAND_LIFT
from soundergate.mechanics.gates.plate import Values
from soundergate.mechanics.gates.swing import (
    Bounce,
    Motion,
    Swing,
    bounce,
    closing_curve,
    in_wind_from_either_side,
    move,
)
from soundergate.mechanics.materials import gate_mass, solidity
from soundergate.mechanics.model import ClosingCurve, GateSolution, Site
from soundergate.mechanics.numbers_in_words import Units
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem

NO_FRICTION = LogNormal(0.0)

STRONG_BREEZE = 13.8
"""m/s, upper end of Beaufort force 6 (WMO No. 306, code table 1100; from memory)."""


def clear_height(length: float, angle: float) -> float:
    """Clear height (m) under the edge: L (1 - cos angle), never more than L."""
    return length * min(1.0, 1.0 - cos(angle))


def angle_at_clear(length: float, clear: float) -> float:
    """Angle from hanging (rad, up to pi/2) at which ``clear`` (m) is free under the edge."""
    return acos(max(0.0, 1.0 - clear / length))


def contact_angle(length: float, back_height: float, distance: float) -> float:
    """Angle (rad) at which the falling plate lands on a back ``back_height`` m high.

    The back is ``distance`` m from the opening on the side the plate sweeps: it is met where
    L - x / tan(angle) equals its height. 0 when the plate does not reach it.
    """
    below_hinge = length - back_height
    if hypot(distance, below_hinge) > length:
        return 0.0
    return atan2(distance, below_hinge)


@dataclass(frozen=True)
class TopHinged:
    """A top-hinged gate in plain numbers (SI, rad).

    ``set_angle`` from hanging shut. ``hinge_torque`` N m is a stated friction torque; ``friction``
    and ``pin_radius`` instead give mu r times the hinge's reaction (both may act). ``wind`` m/s;
    ``solidity`` share of the face that the air meets; ``latch_arm`` m from hinge to latch (None:
    the edge). ``framed`` says the gate shuts against a frame; without one it swings through.
    """

    width: float
    height: float
    mass: float
    set_angle: float = pi / 2.0
    hinge_torque: LogNormal = NO_FRICTION
    friction: LogNormal = NO_FRICTION
    pin_radius: float = 0.0
    wind: float = 0.0
    solidity: float = 1.0
    latch_arm: float | None = None
    lock: bool = True
    framed: bool = True
    restitution: float = 0.2

    def __post_init__(self) -> None:
        for name in ("width", "height", "mass", "set_angle"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be positive, got {getattr(self, name)!r}")
        if self.set_angle > pi:
            raise ValueError("set_angle must not be beyond upright, 180 degrees")

    @property
    def weight(self) -> float:
        """N."""
        return self.mass * GRAVITY

    @property
    def inertia(self) -> float:
        """About the hinge, kg m^2."""
        return plate.edge_inertia(self.mass, self.height)

    @property
    def arm(self) -> float:
        """Distance from hinge to latch, m."""
        return self.height if self.latch_arm is None else self.latch_arm

    @cached_property
    def _drag(self) -> float:
        return self.solidity * plate.drag_coefficient(self.width, self.height)

    def gravity_moment(self, angle: Values) -> Values:
        """Closing moment of the weight (N m), W (L/2) sin(angle)."""
        moment: Values = 0.5 * self.weight * self.height * np.sin(angle)
        return moment

    def wind_moment(self, angle: Values, wind: float | None = None, rate: Values = 0.0) -> Values:
        """Closing moment of the air (N m) at ``angle`` in ``wind`` m/s; ``rate`` rad/s closing.

        Only the part of the wind across the plate counts: V cos a, with a from upright.
        """
        speed = self.wind if wind is None else wind
        across = -speed * np.cos(angle) if speed else 0.0
        return plate.air_moment(self.width, self.height, self._drag, rate, across)

    def friction_moment(self, angle: Values, rate: Values) -> Values:
        """Friction torque of the hinge (N m); at rest its pin carries the whole weight."""
        stated, arm = self.hinge_torque.median, self.friction.median * self.pin_radius
        if arm == 0.0:
            return stated
        moving = plate.hinge_reaction(self.mass, self.height, angle, rate)
        load: Values = np.where(np.asarray(rate) != 0.0, moving, self.weight)
        return stated + arm * load

    @cached_property
    def swing(self) -> Swing:
        """What turns the plate."""
        half = 0.5 * self.weight * self.height
        return Swing(
            inertia=self.inertia,
            moment=self.gravity_moment,
            potential=lambda angle: -half * np.cos(angle),
            friction=self.friction_moment,
            air=lambda angle, rate: self.wind_moment(angle, rate=rate),
        )

    def starts(self) -> bool:
        """Whether the gate moves when it is let go at its set angle."""
        return self.swing.starting_moment(self.set_angle) > 0.0

    def holding_load(self) -> float:
        """Force on the latch while the gate is set (N), wind included; 0 if the wind holds it."""
        return max(0.0, self._driving_moment()) / self.arm

    def _driving_moment(self) -> float:
        """Of weight and wind at the set angle (N m)."""
        return float(self.gravity_moment(self.set_angle) + self.wind_moment(self.set_angle))

    def _per_square(self, angle: float) -> float:
        """Size of the moment (N m) of a wind of 1 m/s at ``angle``; it grows with V^2."""
        return abs(float(self.wind_moment(angle, wind=1.0)))

    def holding_gust(self) -> float:
        """Wind speed (m/s) against which the set gate, let go, would not move; inf if none can.

        Above horizontal a wind from one side does it, below horizontal one from the other.
        """
        weight = float(self.gravity_moment(self.set_angle))
        return self._balancing_gust(
            self.set_angle, weight - float(self.friction_moment(self.set_angle, 0.0))
        )

    def lifting_gust(self) -> float:
        """Wind speed (m/s) that moves the latched gate past upright, against its weight."""
        return self._balancing_gust(self.set_angle, float(self.gravity_moment(self.set_angle)))

    def _balancing_gust(self, angle: float, moment: float) -> float:
        """Wind speed (m/s) whose moment at ``angle`` is ``moment`` (N m)."""
        if moment <= 0.0:
            return 0.0
        per_square = self._per_square(angle)
        return sqrt(moment / per_square) if per_square > 1e-12 * moment else inf

    def stopping_gust(self, angle: float) -> float:
        """Wind speed (m/s) whose moment balances the weight below horizontal, at ``angle``."""
        return self._balancing_gust(angle, float(self.gravity_moment(angle)))

    def sweep_depth(self) -> float:
        """Depth of the zone that the plate sweeps (m): L, or L sin(angle) set below horizontal."""
        return self.height * (1.0 if self.set_angle >= pi / 2.0 else sin(self.set_angle))

    def pry_force(self, angle: float) -> float:
        """Force (N) square to the plate at its edge that opens it further from ``angle``:
        (W/2) sin(angle), and the hinge's friction."""
        rub = float(self.friction_moment(angle, 0.0)) / self.height
        return 0.5 * self.weight * sin(angle) + rub

    def push_force(self, angle: float) -> float:
        """Force (N) square to the plate at its middle: half the arm takes twice the force."""
        return 2.0 * self.pry_force(angle)

    def fall(self) -> Motion:
        """The motion from the set angle until the plate hangs shut or stops."""
        return move(self.swing, self.set_angle)

    def curve(self) -> ClosingCurve:
        """The closing curve over clear height."""
        clear = curves.clearances(self.height)
        angles = np.array([angle_at_clear(self.height, c) for c in clear])
        return closing_curve(self.swing, self.set_angle, clear, angles, self.inertia, self.height)

    def after_shut(self) -> Bounce:
        """First opening after the plate passes shut: off the frame, or through to the far side."""
        if self.lock or not (motion := self.fall()).shut:
            return Bounce(0.0, 0.0)
        rate = float(motion.rate[-1])
        return bounce(self.swing, rate, self.restitution if self.framed else 1.0)

    def hang_probability(self) -> float:
        """Probability that uncertain hinge friction keeps the set gate from moving.

        Stated torque and coefficient scatter together, as one log-normal factor.
        """
        from scipy.special import ndtr

        friction = float(self.friction_moment(self.set_angle, 0.0))
        driving = self._driving_moment()
        sigma = max(self.hinge_torque.sigma, self.friction.sigma if self.pin_radius else 0.0)
        if driving <= 0.0:
            return 1.0
        if friction == 0.0 or sigma == 0.0:
            return 0.0 if driving > friction else 1.0
        return float(ndtr(log(friction / driving) / sigma))

    def solution(self) -> GateSolution:
        """Everything `setup` needs of this gate."""
        curve, after = self.curve(), self.after_shut()
        angles = [angle_at_clear(self.height, c) for c in curve.clear]
        return GateSolution(
            kind="top-hinged",
            mass=self.mass,
            inertia=self.inertia,
            holding_load=self.holding_load(),
            curve=curve,
            lift_force=self.push_force(0.0),
            pry_force=self.pry_force(0.0),
            set_weight=0.5 * self.weight * sin(min(self.set_angle, pi / 2.0)),
            hang_probability=self.hang_probability(),
            jams=not curve.shuts,
            locked=self.lock,
            rebound=clear_height(self.height, after.angle),
            rebound_time=after.time,
            pry_by_clear=np.array([self.pry_force(angle) for angle in angles]),
            notes=self._notes(curve),
            cautions=self._cautions(),
            sketch={
                "width": self.width,
                "height": self.height,
                "set_angle": self.set_angle,
                "sweep_depth": self.sweep_depth(),
                "holding_gust": self.holding_gust(),
            },
        )

    def _notes(self, curve: ClosingCurve) -> tuple[str, ...]:
        sweep = words.distance(self.sweep_depth())
        lines = [f"sweeps a zone {sweep} deep, where an animal's back props it open"]
        full = clear_height(self.height, self.set_angle)
        if full < self.height:
            lines.append(
                f"set below horizontal: only {words.distance(full)} is clear when it is set"
            )
        if not self.starts():
            lines.append(
                "set so near upright that hinge friction or wind holds it: lower the set angle"
            )
        elif not curve.shuts:
            lines.append("wind or hinge friction stops it before it is shut")
        gust = self.holding_gust()
        if 0.0 < gust < STRONG_BREEZE:
            lines.append(f"a gust of {words.wind(gust)} can hold this gate up when it is let go")
        if not self.lock:
            lines.append("without a catch it rests shut by its weight alone and can be nosed open")
        return tuple(lines)

    def _cautions(self) -> tuple[str, ...]:
        lines = [
            "A raised top-hinged gate is a suspended load that swings through the space in front "
            "of it: block it before anyone works under it, and keep children, helpers and dogs "
            "out of its sweep."
        ]
        if self.set_angle > pi / 2.0 and self.lifting_gust() < STRONG_BREEZE:
            lines.append(
                f"Set {degrees(pi - self.set_angle):.0f} degrees off upright, a gust of "
                f"{words.wind(self.lifting_gust())} can throw it over backwards or load the latch."
            )
        if 0.5 * self.weight > HAND_LIFT:
            lines.append("Raising this gate is more than one person should lift by hand.")
        return tuple(lines)


def most_set_angle(gate: TopHinged) -> float:
    """The set angle (rad) above level below which the gate starts to fall by itself; 0 if none.

    At typical friction of the hinge, in still air: W (L/2) sin a = friction, a from upright.
    """
    level = replace(gate, set_angle=pi / 2.0, wind=0.0)
    share = float(level.friction_moment(pi / 2.0, 0.0)) / float(level.gravity_moment(pi / 2.0))
    return pi - asin(share) if share < 1.0 else 0.0


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The top-hinged gate of a scenario's opening."""
    return in_wind_from_either_side(from_table(gate, opening))


def from_table(gate: Any, opening: Any) -> TopHinged:
    """A scenario's top-hinged gate (its table and its opening's) in plain numbers.

    A stated hinge torque stands in for friction and pin radius and scatters as friction does.
    Raises Problem for a latch further from the hinge than the gate reaches.
    """
    if gate.hold_distance > opening.height * (1.0 + 1e-9):
        raise Problem(
            "the latch would hold beyond the gate's edge",
            key="gate.hold_distance",
            hint=f"at most the height of the opening, {words.distance(opening.height)}",
        )
    stated = gate.hinge_friction is not None
    rub = gate.friction
    return TopHinged(
        width=opening.width,
        height=opening.height,
        mass=gate_mass(gate, opening.width, opening.height),
        set_angle=gate.set_angle,
        hinge_torque=LogNormal(gate.hinge_friction, rub.sigma) if stated else NO_FRICTION,
        friction=NO_FRICTION if stated else rub,
        pin_radius=0.0 if stated else gate.pin_radius,
        wind=gate.wind,
        solidity=solidity(gate),
        latch_arm=gate.hold_distance,
        lock=gate.lock,
        framed=not gate.swings_through,
        restitution=gate.restitution,
    )


def unloaded(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """What to change in a scenario whose gate does not load its latch; the key is below opening."""
    plain = from_table(opening.gate, opening)
    most = floor(degrees(most_set_angle(plain)))
    hint = "a smaller angle lets its weight load the latch"
    if most > 0:
        hint = f"at typical friction of the hinge it starts to fall from {most} deg or less"
    return Problem(
        "the latch carries no load: the gate stands upright on its hinge and does not fall",
        key="gate.set_angle",
        hint=hint,
    )
