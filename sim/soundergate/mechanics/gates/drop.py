"""A drop gate: a rigid panel that falls between two channels.

Gravity acts at the centre of mass, so a mass that hangs off centre alone gives no contact force
and the panel falls freely. Contact forces come from racking. With width w, guided length b, and
friction coefficient mu:

* drag R in one channel over the other (mud, rust, warp) has the moment R w/2, carried by a couple
  N b: N = R w / (2 b). Both contacts rub, so R brakes with R (1 + mu w / b):
  a = g - (R/m) (1 + mu w/b);
* a rope of tension T at an offset e from the centre of mass gives N = T e / b in the same way;
* a side load S on the face (wind, an animal leaning) brakes with mu S;
* a counterweight m_c on a rope: T = m_c (g + a); with no friction a = g (m - m_c)/(m + m_c);
* an animal that lifts the shut gate with F at a distance x from its centre of mass racks it as a
  rope does: F = W + 2 mu F x/b, so that F = W/(1 - 2 mu x/b), and at a corner W/(1 - mu w/b). From
  2 mu x = b on no force lifts it there. What mud and rust add is not counted on to hold it.

A gate held off its centre of mass by e is already racked while it is set; let go, it can hold
itself when 2 mu e >= b (the drawer rule). As a gate rises out of a channel shorter than the travel
and the panel together, its guided length shrinks, and grows again as it falls. One coefficient
serves for rest and for motion: its scatter (`friction.sigma`) is far wider than the difference.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, inf, isinf, log10, sin, sqrt
from typing import Any

import numpy as np
from scipy.special import ndtr

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.gates import channel, plate
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.materials import gate_mass, solidity
from soundergate.mechanics.model import Array, ClosingCurve, GateSolution, Site
from soundergate.mechanics.numbers_in_words import Units
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem

SLIDING_STEEL = LogNormal(0.42, 0.3)
"""Clean steel on steel, sliding: 0.42 (trade table); its scatter is an assumption."""

NO_DRAG = LogNormal(0.0)

HAND_LIFT = 23.0 * GRAVITY
"""N; load constant of the revised NIOSH lifting equation (Waters et al. 1993, Ergonomics 36)."""


@dataclass(frozen=True)
class DropGate:
    """A drop gate in plain numbers (SI).

    ``height`` is the clear height when set and the length of the panel; ``guided_length`` the
    length of panel edge that runs in the channels (the panel's if None); ``drag`` the force in
    one channel over the other; ``offset`` the distance of the centre of mass from
    the middle of the width, ``pull_offset`` that of the pin or rope it hangs from, positive to the
    same side; ``side_load`` the force pressing the face against the channels, ``lip_force`` what
    one spot of a channel's lip bears before it bends.
    """

    width: float
    height: float
    mass: float
    channel_length: float
    friction: LogNormal = SLIDING_STEEL
    drag: LogNormal = NO_DRAG
    guided_length: float | None = None
    offset: float = 0.0
    pull_offset: float = 0.0
    counterweight: float = 0.0
    side_load: float = 0.0
    lock: bool = True
    restitution: float = 0.2
    lip_force: float = inf

    def __post_init__(self) -> None:
        for name in ("width", "height", "mass", "channel_length"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be positive, got {getattr(self, name)!r}")
        if self.counterweight < 0.0 or self.side_load < 0.0:
            raise ValueError("counterweight and side_load must not be negative")

    @property
    def eccentricity(self) -> float:
        """Distance between the pull that holds the gate and its centre of mass, m."""
        return abs(self.pull_offset - self.offset)

    def guided(self, clear: Array | float) -> Array:
        """Guided length (m) with the bottom edge at ``clear`` (m); 0 when out of the channels."""
        edge = self.height if self.guided_length is None else self.guided_length
        return np.clip(self.channel_length - np.asarray(clear, dtype=float), 0.0, edge)

    def net_force(self, clear: Array | float, friction: float, drag: float) -> Array:
        """Net closing force (N) on gate and counterweight together, at ``clear`` (m).

        -inf where the gate is out of its channels while anything racks it. The rope's friction
        goes with its tension m_c (g + a): divide by `moving_mass` to get a.
        """
        b = self.guided(clear)
        moment = drag * self.width / 2.0 + self.counterweight * GRAVITY * self.eccentricity
        with np.errstate(divide="ignore", invalid="ignore"):
            racked = np.where(moment > 0.0, 2.0 * friction * moment / b, 0.0)
        weight = (self.mass - self.counterweight) * GRAVITY
        return weight - drag - racked - friction * self.side_load

    def moving_mass(self, clear: Array | float, friction: float) -> Array:
        """Mass (kg) that the net force accelerates, rope friction included."""
        b = self.guided(clear)
        with np.errstate(divide="ignore", invalid="ignore"):
            rub = np.where(b > 0.0, 2.0 * friction * self.eccentricity / b, 0.0)
        return self.mass + self.counterweight * (1.0 + rub)

    def wedged(self, friction: float) -> bool:
        """Whether the set gate, racked by the pull it hangs from, holds itself: 2 mu e >= b."""
        b = float(self.guided(self.height))
        return self.eccentricity > 0.0 and 2.0 * friction * self.eccentricity >= b

    def lift_at(self, place: float, clear: float = 0.0) -> float:
        """Force (N) that lifts the gate at ``place`` (m from the middle of its width).

        The counterweight's rope helps with its weight and racks with it: with F at x and T at e
        from the centre of mass, F = W - T + 2 mu |F x + T e| / b. inf where it jams.
        """
        x, e = place - self.offset, self.pull_offset - self.offset
        b, rope = float(self.guided(clear)), self.counterweight * GRAVITY
        weight = max(self.mass - self.counterweight, 0.0) * GRAVITY
        if b <= 0.0:
            return weight if x == 0.0 and e == 0.0 else inf
        rub = 2.0 * self.friction.median / b
        for side in (1.0, -1.0):
            if 1.0 - side * rub * x <= 0.0:
                continue
            force = (weight + side * rub * rope * e) / (1.0 - side * rub * x)
            if side * (force * x + rope * e) >= 0.0:
                return force
        return inf

    def corner_force(self) -> float:
        """Force (N) that pries the shut gate up at the corner where less does it; inf: it jams."""
        return min(self.lift_at(0.5 * self.width), self.lift_at(-0.5 * self.width))

    def acceleration(self, clear: float, friction: float, drag: float) -> float:
        """Downward acceleration (m/s^2) of a gate that moves, at ``clear`` (m)."""
        force = float(self.net_force(clear, friction, drag))
        return force / float(self.moving_mass(clear, friction))

    def falls(self, friction: float, drag: float) -> bool:
        """Whether the set gate, let go at rest, starts to fall."""
        if float(self.guided(self.height)) <= 0.0 or self.wedged(friction):
            return False
        return float(self.net_force(self.height, friction, drag)) > 0.0

    def closing_curve(
        self, friction: float | None = None, drag: float | None = None
    ) -> ClosingCurve:
        """The closing curve at the median friction and drag, or at those given."""
        mu = self.friction.median if friction is None else friction
        resisting = self.drag.median if drag is None else drag
        if not self.falls(mu, resisting):
            return curves.never(self.height)
        clear = curves.clearances(self.height)
        return curves.from_force(
            clear,
            clear,
            lambda c: self.net_force(c, mu, resisting) / self.moving_mass(c, mu),
            inertia=1.0,
            struck_inertia=self.mass,
        )

    def hang_probability(self) -> float:
        """Probability that the gate, let go, does not start to fall.

        Drag and friction are independent log-normals. For each drag (trapezoidal rule over its
        normal, +-8 sigma) there is one friction coefficient from which on the gate hangs, so the
        second integral is a normal tail.
        """
        b = float(self.guided(self.height))
        weight = (self.mass - self.counterweight) * GRAVITY
        if b <= 0.0 or weight <= 0.0:
            return 1.0
        z, density = _normal_nodes(self.drag.sigma)
        drags = self.drag.median * np.exp(self.drag.sigma * z)
        moment = drags * self.width / 2.0 + self.counterweight * GRAVITY * self.eccentricity
        spare, rub = weight - drags, 2.0 * moment / b + self.side_load
        with np.errstate(divide="ignore", invalid="ignore"):
            limit = np.where(spare <= 0.0, 0.0, np.where(rub > 0.0, spare / rub, np.inf))
        if self.eccentricity > 0.0:
            limit = np.minimum(limit, b / (2.0 * self.eccentricity))
        return float(np.clip((density * self._exceeds(limit)).sum(), 0.0, 1.0))

    def _exceeds(self, limit: Array) -> Array:
        """Probability that the friction coefficient is at least ``limit``."""
        median, sigma = self.friction.median, self.friction.sigma
        if sigma == 0.0 or median == 0.0:
            return np.where(limit <= median, 1.0, 0.0)
        with np.errstate(divide="ignore"):
            return ndtr((np.log(median) - np.log(limit)) / sigma)

    def solution(self) -> GateSolution:
        """Everything `setup` needs of this gate."""
        curve = self.closing_curve()
        weight = max(self.mass - self.counterweight, 0.0) * GRAVITY
        # One bounce: e^2 h for a free fall, the same energy share for a braked one.
        fall = float(curve.speed[0]) ** 2 / (2.0 * GRAVITY)
        rebound = 0.0 if self.lock else self.restitution**2 * fall
        return GateSolution(
            kind="drop",
            mass=self.mass,
            inertia=self.mass + self.counterweight,
            holding_load=weight,
            curve=curve,
            lift_force=self.lift_at(0.0),
            pry_force=self.corner_force(),
            set_weight=weight,
            hang_probability=self.hang_probability(),
            jams=not curve.shuts,
            locked=self.lock,
            rebound=rebound,
            rebound_time=2.0 * sqrt(2.0 * rebound / GRAVITY),
            pry_by_clear=np.full(len(curve.clear), weight),
            notes=self._notes(curve),
            cautions=self._cautions(),
            sketch={
                "width": self.width,
                "height": self.height,
                "channel_length": self.channel_length,
                "guided_when_set": float(self.guided(self.height)),
                "counterweight": self.counterweight,
                "lip_force": self.lip_force,
            },
        )

    def _notes(self, curve: ClosingCurve) -> tuple[str, ...]:
        """Why a gate jams, in words, and what a short channel costs."""
        mu, b = self.friction.median, float(self.guided(self.height))
        if self.counterweight >= self.mass:
            return ("the counterweight is as heavy as the gate, so the gate does not fall",)
        if b <= 0.0:
            return ("raised, the gate is out of its channels; lengthen them",)
        if self.wedged(mu):
            return (
                "held off its centre of mass the gate wedges itself (2 mu e is at least the "
                "guided length); hang it from its middle or lengthen the channels",
            )
        if not curve.shuts:
            return ("drag and racking hold the gate up; free the channels or lengthen them",)
        lines = []
        if b < self.height:
            lines.append("raised, part of the gate is above its channels, which racks it more")
        if isinf(self.corner_force()):
            lines.append("pried at a corner it jams in its channels; only near its middle it lifts")
        return tuple(lines)

    def _cautions(self) -> tuple[str, ...]:
        """What can hurt someone here."""
        lines = [
            "A raised drop gate is a suspended load: block it before anyone works or reaches under "
            "it, and keep children, helpers and dogs out of the opening."
        ]
        if (self.mass - self.counterweight) * GRAVITY > HAND_LIFT:
            lines.append(
                "Setting this gate is more than one person should lift by hand "
                f"({words.mass(HAND_LIFT / GRAVITY)} in the best posture): use a winch, a "
                "counterweight or a second person."
            )
        if 0.5 * self.side_load > self.lip_force:
            lines.append(
                f"Wind, lean and side load press each side of this gate with "
                f"{words.force(0.5 * self.side_load)}, and the channel lips begin to bend at "
                f"{words.force(self.lip_force)}: take thicker channels or back the lips, or the "
                "gate can jump out of them."
            )
        return tuple(lines)


def _normal_nodes(sigma: float) -> tuple[Array, Array]:
    """Nodes and weights for a standard normal; one node when sigma is 0."""
    if sigma == 0.0:
        return np.zeros(1), np.ones(1)
    z = np.linspace(-8.0, 8.0, 321)
    weight = np.exp(-0.5 * z**2)
    return z, weight / weight.sum()


def most_counterweight(gate: DropGate) -> float:
    """The counterweight (kg) below which the gate still starts to fall at typical friction.

    From W - W_c - R - mu S - 2 mu (R w/2 + W_c e)/b > 0 with drag R, side load S, offset e of the
    rope and guided length b. 0 when the gate does not fall even without one.
    """
    mu, drag = gate.friction.median, gate.drag.median
    if not replace(gate, counterweight=0.0).falls(mu, drag):
        return 0.0
    spare = float(replace(gate, counterweight=0.0).net_force(gate.height, mu, drag))
    b = float(gate.guided(gate.height))
    return spare / (GRAVITY * (1.0 + 2.0 * mu * gate.eccentricity / b))


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The drop gate of a scenario's opening."""
    mass = gate_mass(gate, opening.width, opening.height)
    return from_table(gate, opening, mass).solution()


def from_table(gate: Any, opening: Any, mass: float) -> DropGate:
    """A scenario's drop gate (its table and its opening's) in plain numbers."""
    weight = mass * GRAVITY
    leaning = weight * sin(gate.out_of_plumb)
    area = opening.width * opening.height * solidity(gate)
    coefficient = plate.drag_coefficient(opening.width, opening.height)
    wind = 0.5 * plate.AIR_DENSITY * coefficient * area * gate.wind**2
    return DropGate(
        width=opening.width,
        height=opening.height,
        mass=mass,
        channel_length=gate.channel_length,
        friction=gate.friction,
        drag=_drag(gate, weight),
        guided_length=gate.guided_length,
        offset=gate.offset,
        pull_offset=gate.pull_offset,
        counterweight=gate.counterweight,
        side_load=gate.side_load + leaning + wind,
        lock=gate.lock,
        restitution=gate.restitution,
        lip_force=channel.lip_force(channel.thickness_of(gate)),
    )


def _drag(gate: Any, weight: float) -> LogNormal:
    """The one-sided drag (N) of a scenario's gate: as stated, or its share of the weight."""
    if gate.drag is not None:
        return gate.drag
    return gate.drag_share.scaled(weight)


def unloaded(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """What to change in a scenario whose gate does not load its latch; the key is below opening."""
    plain = from_table(opening.gate, opening, gate.mass)
    most = most_counterweight(plain)
    hint = "make it lighter than the gate"
    if most > 0.0:
        hint = f"at typical friction the gate still falls with {_below(most, units)} or less"
    return Problem(
        f"the latch carries no load: the counterweight is as heavy as the gate, "
        f"{units.mass(gate.mass)}, or heavier, so that the gate does not fall",
        key="gate.counterweight",
        hint=hint,
    )


def _below(mass: float, units: Units) -> str:
    """The largest mass of three figures below ``mass``, as text."""
    size = units.masses[1]
    step = size * 10.0 ** (floor(log10(mass / size)) - 2)
    return units.mass(floor((1.0 - 1e-9) * mass / step) * step)
