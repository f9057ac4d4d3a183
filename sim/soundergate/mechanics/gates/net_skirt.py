"""A net skirt: a net that hangs to the ground and lies inward on it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates.entrance import entrance
from soundergate.mechanics.materials import gate_mass
from soundergate.mechanics.model import GateSolution, Site
from soundergate.scenario.constants import GRAVITY


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
        return entrance(base, "net skirt", self.push, notes)


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The net skirt of a scenario's opening."""
    width, height = opening.width, opening.height
    mass, push = gate_mass(gate, width, height), gate.push_force.median
    if gate.mass is None:  # the net goes on where the opening ends
        mass *= 1.0 + gate.skirt / height
    return NetSkirt(width, height, mass, push, gate.skirt, gate.snout).solution()
