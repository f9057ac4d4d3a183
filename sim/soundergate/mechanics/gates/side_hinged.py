"""A side-hinged gate: one or two leaves closed by a spring, a rising hinge or a weight.

Angles are measured from shut. Closing moments on one leaf of mass m and width w:

* torsion spring of rate k, wound up by p when shut: k (angle + p);
* rising hinge that lifts the leaf by s a radian: m g s, whatever the angle; lifting the leaf adds
  m s^2 to its inertia;
* weight m_c whose rope pulls at an arm r: m_c g r; the weight adds m_c r^2 to the inertia.

Friction at the hinges resists with a steady torque M_f, so a spring-closed leaf comes to rest at
an angle above shut when k p < M_f. The clearance is the straight gap at the leaf's edge: for one
leaf of width w 2 w sin(angle / 2), for two of w/2 w (1 - cos angle), never more than w.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from math import acos, asin, cos, floor, log, log10, pi, sin
from typing import Any

import numpy as np

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates import plate
from soundergate.mechanics.gates.plate import Values
from soundergate.mechanics.gates.swing import (
    Bounce,
    Dissipation,
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


def clear_gap(width: float, leaves: int, angle: float) -> float:
    """Clear gap (m) of an opening ``width`` m wide with its leaves at ``angle`` (rad) from shut."""
    if leaves == 1:
        return width * min(1.0, 2.0 * sin(min(angle, pi) / 2.0))
    return width * min(1.0, 1.0 - cos(min(angle, pi)))


def angle_at_gap(width: float, leaves: int, gap: float) -> float:
    """Angle (rad) at which ``gap`` (m) is clear; the least one when the whole width is."""
    share = min(1.0, gap / width)
    return 2.0 * asin(share / 2.0) if leaves == 1 else acos(1.0 - share)


def hinge_friction(
    mass: float, width: float, spacing: float, pin_radius: float, friction: float
) -> float:
    """Friction torque (N m) of the two hinges of one leaf.

    The weight m g at w/2 is carried by a couple m g w / (2 s) at each hinge, rubbing on its pin of
    radius r, and by one thrust face that rubs with mu m g at 2 r / 3.
    """
    weight = mass * GRAVITY
    couple = weight * width / (2.0 * spacing)
    return friction * pin_radius * (2.0 * couple + 2.0 / 3.0 * weight)


@dataclass(frozen=True)
class Spring:
    """Torsion spring on each leaf: ``rate`` N m/rad, ``preload`` rad wound up when shut."""

    rate: float
    preload: float


@dataclass(frozen=True)
class RisingHinge:
    """Hinges that lift the leaf as it opens: ``pitch`` m a radian."""

    pitch: float


@dataclass(frozen=True)
class Weight:
    """Hanging ``mass`` kg on each leaf, its rope pulling at ``arm`` m from the hinge."""

    mass: float
    arm: float


Closer = Spring | RisingHinge | Weight


@dataclass(frozen=True)
class SideHinged:
    """A side-hinged gate in plain numbers (SI, rad); ``mass`` is that of all leaves together.

    ``friction_torque`` N m is that of one leaf's hinges. ``solidity`` is the share of the face
    that meets the air; ``wind`` m/s blows across the opening, positive when it pushes a leaf shut.
    Two leaves are taken as moving together.
    """

    width: float
    height: float
    mass: float
    closer: Closer
    leaves: int = 1
    set_angle: float = pi / 2.0
    friction_torque: LogNormal = NO_FRICTION
    solidity: float = 1.0
    wind: float = 0.0
    lock: bool = True
    restitution: float = 0.2

    def __post_init__(self) -> None:
        for name in ("width", "height", "mass", "set_angle"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be positive, got {getattr(self, name)!r}")
        if self.leaves not in (1, 2):
            raise ValueError(f"leaves must be 1 or 2, got {self.leaves!r}")
        if self.set_angle > pi:
            raise ValueError("set_angle must not be beyond half a turn")

    @property
    def leaf_width(self) -> float:
        """m."""
        return self.width / self.leaves

    @property
    def leaf_mass(self) -> float:
        """kg."""
        return self.mass / self.leaves

    @property
    def leaf_inertia(self) -> float:
        """Of one leaf alone about its hinge, kg m^2."""
        return plate.edge_inertia(self.leaf_mass, self.leaf_width)

    @cached_property
    def _drag(self) -> float:
        return self.solidity * plate.drag_coefficient(self.leaf_width, self.height)

    def air(self, angle: Values, rate: Values) -> Values:
        """Moment of the air on one leaf (N m), positive when it closes.

        Only the part of the wind across the leaf counts: V cos(angle).
        """
        across = self.wind * np.cos(angle) if self.wind else 0.0
        return plate.air_moment(self.height, self.leaf_width, self._drag, rate, across)

    @cached_property
    def swing(self) -> Swing:
        """What turns one leaf."""
        return _closer_swing(
            self.closer,
            self.leaf_mass,
            self.leaf_inertia,
            self.friction_torque.median,
            self.air,
        )

    def fall(self) -> Motion:
        """The motion of one leaf from the set angle until it is shut or stops."""
        return move(self.swing, self.set_angle)

    def curve(self) -> ClosingCurve:
        """The closing curve over the clear gap."""
        clear = curves.clearances(self.width)
        angles = np.array([angle_at_gap(self.width, self.leaves, c) for c in clear])
        struck = self.leaves * self.leaf_inertia
        return closing_curve(
            self.swing, self.set_angle, clear, angles, struck, self.leaf_width, "gap"
        )

    def closing_moment(self, angle: float) -> float:
        """Of one leaf's closer at ``angle`` (N m), friction not deducted."""
        return float(self.swing.moment(angle))

    def holding_load(self) -> float:
        """Force on the latch while the gate is set (N), all leaves, wind included."""
        moment = self.closing_moment(self.set_angle) + float(self.air(self.set_angle, 0.0))
        return max(0.0, self.leaves * moment / self.leaf_width)

    def edge_force(self, angle: float) -> float:
        """Force (N) at the edge of one leaf that begins to open it further from ``angle``."""
        return (self.closing_moment(angle) + self.friction_torque.median) / self.leaf_width

    def hang_probability(self) -> float:
        """Probability that uncertain friction keeps the leaf from starting or from shutting.

        A leaf whose closer weakens as it shuts (a spring) is judged where it is weakest.
        """
        from scipy.special import ndtr

        limit = self._friction_limit()
        median, sigma = self.friction_torque.median, self.friction_torque.sigma
        if limit <= 0.0:
            return 1.0
        if median == 0.0 or sigma == 0.0:
            return 0.0 if median < limit else 1.0
        return float(ndtr(log(median / limit) / sigma))

    def _friction_limit(self) -> float:
        """The steady friction torque (N m) at which a leaf let go just gets shut, without air.

        All of the closer's work is then rubbed away: M_f = work / angle; and it must start.
        """
        work = float(self.swing.potential(self.set_angle) - self.swing.potential(0.0))
        return min(work / self.set_angle, self.closing_moment(self.set_angle))

    def after_shut(self) -> Bounce:
        """The first bounce off the stop."""
        if self.lock or not (motion := self.fall()).shut:
            return Bounce(0.0, 0.0)
        return bounce(self.swing, float(motion.rate[-1]), self.restitution)

    def solution(self) -> GateSolution:
        """Everything `setup` needs of this gate."""
        curve, after = self.curve(), self.after_shut()
        angles = [angle_at_gap(self.width, self.leaves, c) for c in curve.clear]
        return GateSolution(
            kind="side-hinged",
            mass=self.mass,
            inertia=self.leaf_inertia,
            holding_load=self.holding_load(),
            curve=curve,
            lift_force=2.0 * self.edge_force(0.0),  # on the middle of a leaf, half the arm
            pry_force=self.edge_force(0.0),
            set_weight=self.edge_force(self.set_angle),
            hang_probability=self.hang_probability(),
            jams=not curve.shuts,
            locked=self.lock,
            rebound=clear_gap(self.width, self.leaves, after.angle),
            rebound_time=after.time,
            pry_by_clear=np.array([self.edge_force(angle) for angle in angles]),
            notes=self._notes(curve),
            cautions=(
                "A leaf that swings shut strikes at the speed of its edge: keep children, helpers "
                "and dogs out of its sweep, and hands away from the post.",
            ),
            sketch={
                "width": self.width,
                "height": self.height,
                "leaves": self.leaves,
                "set_angle": self.set_angle,
                "closer": type(self.closer).__name__,
            },
        )

    def _notes(self, curve: ClosingCurve) -> tuple[str, ...]:
        lines = []
        full = clear_gap(self.width, self.leaves, self.set_angle)
        if full < self.width:
            lines.append(f"set at this angle only {words.distance(full)} of the width is clear")
        if self.swing.starting_moment(self.set_angle) <= 0.0:
            lines.append("hinge friction holds the leaf where it is set: a stronger closer is due")
        elif not curve.shuts:
            lines.append(
                "the leaf stops short of shut: its closer is weaker than hinge friction there"
            )
        elif self.swing.starting_moment(0.0) <= 0.0:
            lines.append("let go from rest near shut, as after an animal propped it, it stays ajar")
        if self.leaves == 2:
            lines.append(
                "both leaves are assumed to be let go together, by one latch each or a shared one"
            )
        return tuple(lines)


def _closer_swing(
    closer: Closer, mass: float, inertia: float, friction: float, air: Dissipation
) -> Swing:
    """What turns one leaf of ``mass`` kg and ``inertia`` kg m^2 with its closer."""
    if isinstance(closer, Spring):
        k, p = closer.rate, closer.preload
        return Swing(
            inertia=inertia,
            moment=lambda angle: k * (angle + p),
            potential=lambda angle: 0.5 * k * (angle + p) ** 2,
            friction=lambda *_: friction,
            air=air,
        )
    if isinstance(closer, RisingHinge):
        added, torque = mass * closer.pitch**2, mass * GRAVITY * closer.pitch
    else:
        added, torque = closer.mass * closer.arm**2, closer.mass * GRAVITY * closer.arm
    return Swing(
        inertia=inertia + added,
        moment=lambda _: torque,
        potential=lambda angle: torque * angle,
        friction=lambda *_: friction,
        air=air,
    )


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The side-hinged gate of a scenario's opening."""
    return in_wind_from_either_side(from_table(gate, opening))


def from_table(gate: Any, opening: Any) -> SideHinged:
    """A scenario's side-hinged gate (its table and its opening's) in plain numbers.

    A stated hinge torque stands in for friction and pin radius and scatters as friction does.
    Raises Problem for hinges further apart than the gate is high.
    """
    if gate.hinge_spacing > opening.height * (1.0 + 1e-9):
        raise Problem(
            "the hinges would be further apart than the gate is high",
            key="gate.hinge_spacing",
            hint=f"at most {words.distance(opening.height)}",
        )
    mass = gate_mass(gate, opening.width, opening.height)
    rub = gate.friction
    torque = gate.hinge_friction
    if torque is None:
        torque = hinge_friction(
            mass / gate.leaves,
            opening.width / gate.leaves,
            gate.hinge_spacing,
            gate.pin_radius,
            rub.median,
        )
    return SideHinged(
        width=opening.width,
        height=opening.height,
        mass=mass,
        closer=_closer(gate, opening.width),
        leaves=gate.leaves,
        set_angle=gate.set_angle,
        friction_torque=LogNormal(torque, rub.sigma),
        solidity=solidity(gate),
        wind=gate.wind,
        lock=gate.lock,
        restitution=gate.restitution,
    )


def _closer(gate: Any, width: float) -> Closer:
    if gate.closer == "spring":
        return spring_of(gate, width)
    if gate.closer == "rising hinge":
        return RisingHinge(gate.rise / gate.set_angle)
    return Weight(gate.closing_weight, gate.arm)


def spring_of(gate: Any, width: float) -> Spring:
    """The spring of each leaf, by its rate, or by the pull at the leaf's end.

    A pull F at the end of a leaf of length w is a torque F w, and the spring's is k (p + angle):
    from F at the set angle a and F0 shut, k = (F - F0) w / a and p = F0 w / k; from F alone and
    the preload, k = F w / (p + a).
    """
    if gate.pull_set is None:
        return Spring(gate.spring_rate, gate.preload)
    leaf = width / gate.leaves
    if gate.pull_shut is None:
        return Spring(gate.pull_set * leaf / (gate.preload + gate.set_angle), gate.preload)
    rate = (gate.pull_set - gate.pull_shut) * leaf / gate.set_angle
    return Spring(rate, gate.pull_shut * leaf / rate)


def unloaded(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """What to change in a scenario whose gate does not load its latch; the key is below opening."""
    table = opening.gate
    if table.closer == "weight":
        return Problem(
            "the latch carries no load: next to nothing pulls the gate shut",
            key="gate.arm",
            hint="a longer arm or a heavier closing_weight loads the latch",
        )
    plain = from_table(table, opening)
    need = plain.friction_torque.median
    said = "the latch carries no load: nothing closes the gate"
    if table.closer == "rising hinge":
        pitch = need / (plain.leaf_mass * GRAVITY)
        unit = units.shorts[1] / table.set_angle
        rise = _enough(plain, lambda x: RisingHinge(unit * x), pitch / unit)
        enough = units.short(rise * units.shorts[1])
        return Problem(said, key="gate.rise", hint=f"{enough} shuts it at typical friction")
    own = spring_of(table, opening.width)
    least = need / (0.5 * table.set_angle + own.preload)
    rate = _enough(plain, lambda k: Spring(k, own.preload), least)
    if table.pull_set is not None:
        wanted = rate * (own.preload + table.set_angle) * table.leaves / opening.width
        return Problem(
            said,
            key="gate.pull_set",
            hint=f"{units.force(wanted)} shuts it at typical friction",
        )
    return Problem(
        said, key="gate.spring_rate", hint=f"{rate:.3g} N*m shuts it at typical friction"
    )


def _enough(gate: SideHinged, closer: Callable[[float], Closer], least: float) -> float:
    """A strength, in two figures, with which ``closer`` shuts the gate at typical friction.

    ``least`` is the strength without air drag (0 where nothing rubs); the answer is at most about
    a quarter above what it takes.
    """
    strength = _two_figures(max(least, 1e-3))
    for _ in range(_TRIES):
        if replace(gate, closer=closer(strength)).fall().shut:
            break
        strength = _two_figures(1.1 * strength)
    return strength


_TRIES = 200
"""Strengths tried, each about a tenth above the last: a hundred million times the first."""


def _two_figures(value: float) -> float:
    """The next greater number of two figures."""
    step = 10.0 ** (floor(log10(value)) - 1)
    return (floor(value / step) + 1) * step
