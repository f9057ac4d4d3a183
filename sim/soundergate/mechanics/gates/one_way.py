"""One-way entrances: animals push in from outside, and the entrance shuts behind them.

Three types: a push panel hinged on top or at the side, a curled panel (an unframed flexible panel,
fixed along one upright edge and sprung against its neighbour at the other; a left and a right
shape are mirror images of one type), and a net skirt (a net that hangs to the ground and lies
inward on it). Each has a force to push in, a return from wherever the last animal left it, and a
force that gets an animal out again: none is locked, so what holds is that force alone, and that
it has to be applied by rooting at an edge instead of by walking.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import acos, inf, pi, sqrt
from typing import Any

import numpy as np

from soundergate.mechanics import sentences as words
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates.side_hinged import SideHinged, Spring, angle_at_gap
from soundergate.mechanics.gates.top_hinged import TopHinged, angle_at_clear
from soundergate.mechanics.materials import gate_mass, solidity
from soundergate.mechanics.model import GRAVITY, GateSolution, Site

CAUTION = (
    "Animals can get in at any time, also those not wanted: check at least daily and let others go."
)

CANTILEVER_MASS = 33.0 / 140.0
"""Share of a uniform cantilever's mass that moves with its free end (Rayleigh's method)."""


def top_panel(panel: TopHinged, push: float) -> GateSolution:
    """A push panel hinged on top, ``panel`` raised to the angle at which it is held open.

    ``push`` N is the stated force at the edge; the panel's own weight asks at least (W/2) sin
    angle with half of the height clear, and the greater of the two counts.
    """
    free = replace(panel, set_angle=pi / 2.0, lock=False)
    by_weight = free.pry_force(angle_at_clear(free.height, 0.5 * free.height))
    notes = []
    if by_weight > push:
        notes.append(
            f"its weight alone asks {words.force(by_weight)} at the edge to be pushed half open"
        )
    notes.append("animals inside can root its edge up: nothing but its weight resists")
    return _entrance(free.solution(), "push panel", max(push, by_weight), notes, hinge="top")


def side_panel(panel: SideHinged, push: float) -> GateSolution:
    """A push panel (or a pair) hinged at the side, returned by a spring.

    ``push`` N at the edge opens it to its full gap.
    """
    wide = angle_at_gap(panel.width, panel.leaves, panel.width)
    free = replace(panel, set_angle=wide, lock=False)
    notes = [f"from inside an edge pulled with {words.force(free.edge_force(0.0))} begins to open"]
    return _entrance(free.solution(), "push panel", push, notes, hinge="side")


def return_spring(push: float, width: float, leaves: int, rest_share: float) -> Spring:
    """The spring of a side panel that ``push`` N at the edge opens to the full gap.

    It is wound so that ``rest_share`` (below 1) of that force is left when the panel is shut.
    """
    wide = angle_at_gap(width, leaves, width)
    rate = push * (width / leaves) * (1.0 - rest_share) / wide
    if rate == 0.0:
        return Spring(0.0, 0.0)
    return Spring(rate, wide * rest_share / (1.0 - rest_share))


@dataclass(frozen=True)
class CurledPanel:
    """A flexible panel that bends aside (SI). ``push`` N at the free edge opens the full width.

    Its free edge is a mass on a spring: `CANTILEVER_MASS` of the panel, rate (1 - share) push /
    width, resting on the neighbour with ``rest_share`` (below 1) of the push. ``hand`` only
    mirrors it.
    """

    width: float
    height: float
    mass: float
    push: float
    rest_share: float
    hand: str = "left"

    @property
    def rate(self) -> float:
        """Spring rate at the free edge, N/m."""
        return self.push * (1.0 - self.rest_share) / self.width

    @property
    def curl(self) -> float:
        """How far (m) the panel would curl on if its neighbour were not there."""
        return self.width * self.rest_share / (1.0 - self.rest_share)

    @property
    def moving_mass(self) -> float:
        """kg."""
        return CANTILEVER_MASS * self.mass

    def force(self, gap: float) -> float:
        """Force (N) at the free edge that holds ``gap`` (m) open."""
        return self.rate * (gap + self.curl)

    def return_time(self, start: float, end: float) -> float:
        """Time (s) from rest at gap ``start`` to gap ``end`` (m): sqrt(m/k) acos of a ratio."""
        if self.push <= 0.0:
            return inf
        ratio = (end + self.curl) / (start + self.curl)
        return sqrt(self.moving_mass / self.rate) * acos(min(1.0, ratio))

    def return_speed(self, start: float, end: float) -> float:
        """Speed (m/s) of the free edge at gap ``end`` after rest at ``start``."""
        square = (start + self.curl) ** 2 - (end + self.curl) ** 2
        return sqrt(self.rate / self.moving_mass * max(0.0, square))

    def solution(self) -> GateSolution:
        """Everything `setup` needs of this entrance."""
        clear = curves.clearances(self.width)
        curve = curves.from_closed_form(
            clear,
            clear,
            lambda a, b: self.return_time(a, b) if b < a else 0.0,
            lambda a, b: self.return_speed(a, b) if b < a else 0.0,
            inertia=self.moving_mass,
            measure="gap",
        )
        base = GateSolution(
            kind="curled panel",
            mass=self.mass,
            inertia=self.moving_mass,
            holding_load=0.0,
            curve=curve,
            lift_force=inf,  # pushed outward it bears on its neighbour
            pry_force=self.force(0.0),
            set_weight=self.push,
            jams=not curve.shuts,
            pry_by_clear=np.array([self.force(c) for c in clear]),
            sketch={"width": self.width, "height": self.height, "hand": self.hand},
        )
        notes = [f"pushed outward it bears on its neighbour; its {self.hand} edge has to be pulled"]
        return _entrance(base, "curled panel", self.push, notes)


@dataclass(frozen=True)
class NetSkirt:
    """A net across the opening whose foot lies ``skirt`` m inward on the ground (SI).

    ``mass`` kg of the whole net. Its foot, let go, falls freely. From inside an animal has to nose
    up a tent of net, skirt and all: ``snout`` m wide at its top, flanks at 45 degrees (a shape
    chosen for its simplicity).
    """

    width: float
    height: float
    mass: float
    push: float
    skirt: float
    snout: float

    @property
    def area_mass(self) -> float:
        """kg/m^2."""
        return self.mass / (self.width * (self.height + self.skirt))

    def force_out(self, clear: float) -> float:
        """Weight (N) of net that is off the ground with ``clear`` m nosed up from inside."""
        across = min(self.width, self.snout + 2.0 * clear)
        middle = 0.5 * (self.snout + across)
        return self.area_mass * GRAVITY * (self.skirt * across + clear * middle)

    def solution(self) -> GateSolution:
        """Everything `setup` needs of this entrance."""
        clear = curves.clearances(self.height)
        curve = curves.from_closed_form(
            clear,
            clear,
            lambda a, b: sqrt(2.0 * max(0.0, a - b) / GRAVITY),
            lambda a, b: sqrt(2.0 * max(0.0, a - b) * GRAVITY),
            inertia=self.mass,
        )
        base = GateSolution(
            kind="net skirt",
            mass=self.mass,
            inertia=self.mass,
            holding_load=0.0,
            curve=curve,
            lift_force=self.force_out(0.0),
            pry_force=self.force_out(0.0),
            set_weight=self.mass * GRAVITY,
            pry_by_clear=np.array([self.force_out(c) for c in clear]),
            sketch={"width": self.width, "height": self.height, "skirt": self.skirt},
        )
        notes = ["what keeps animals in is the skirt they stand on, not the net's weight"]
        return _entrance(base, "net skirt", self.push, notes)


def _entrance(
    base: GateSolution, kind: str, push: float, notes: list[str], **sketch: Any
) -> GateSolution:
    """A swinging or falling gate as an entrance: no latch, passable by pushing, never locked."""
    return replace(
        base,
        kind=kind,
        holding_load=0.0,
        locked=False,
        passable=True,
        push_force=push,
        hang_probability=0.0,
        notes=tuple(notes),
        cautions=(CAUTION,),
        sketch={**base.sketch, **sketch, "push_force": push},
    )


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The one-way entrance of a scenario's opening."""
    width, height = opening.width, opening.height
    mass, push = gate_mass(gate, width, height), gate.push_force.median
    if gate.kind == "curled panel":
        return CurledPanel(width, height, mass, push, gate.rest_share, gate.hand).solution()
    if gate.kind == "net skirt":
        if gate.mass is None:  # the net goes on where the opening ends
            mass *= 1.0 + gate.skirt / height
        return NetSkirt(width, height, mass, push, gate.skirt, gate.snout).solution()
    if gate.hinge == "top":
        panel = TopHinged(
            width, height, mass, solidity=solidity(gate), restitution=gate.restitution
        )
        return top_panel(panel, push)
    leaf = SideHinged(
        width,
        height,
        mass,
        return_spring(push, width, gate.leaves, gate.rest_share),
        leaves=gate.leaves,
        solidity=solidity(gate),
        restitution=gate.restitution,
    )
    return side_panel(leaf, push)
