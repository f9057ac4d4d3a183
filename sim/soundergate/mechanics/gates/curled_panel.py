"""A curled panel: an unframed flexible panel that bends aside and springs back.

It is fixed along one upright edge and sprung against its neighbour at the other; a left and a
right shape are mirror images of one type.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, inf, sqrt
from typing import Any

import numpy as np

from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates.entrance import entrance
from soundergate.mechanics.materials import gate_mass
from soundergate.mechanics.model import GateSolution, Site

CANTILEVER_MASS = 33.0 / 140.0
"""Share of a uniform cantilever's mass that moves with its free end (Rayleigh's method)."""


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
        return entrance(base, "curled panel", self.push, notes)


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The curled panel of a scenario's opening."""
    width, height = opening.width, opening.height
    mass, push = gate_mass(gate, width, height), gate.push_force.median
    return CurledPanel(width, height, mass, push, gate.rest_share, gate.hand).solution()
