"""A push panel: a one-way entrance hinged on top or at the side."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.gates.entrance import entrance
from soundergate.mechanics.gates.side_hinged import SideHinged, Spring, angle_at_gap
from soundergate.mechanics.gates.top_hinged import TopHinged, angle_at_clear
from soundergate.mechanics.materials import gate_mass, solidity
from soundergate.mechanics.model import GateSolution, Site


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
    return entrance(free.solution(), "push panel", max(push, by_weight), notes, hinge="top")


def side_panel(panel: SideHinged, push: float) -> GateSolution:
    """A push panel (or a pair) hinged at the side, returned by a spring.

    ``push`` N at the edge opens it to its full gap.
    """
    wide = angle_at_gap(panel.width, panel.leaves, panel.width)
    free = replace(panel, set_angle=wide, lock=False)
    notes = [f"from inside an edge pulled with {words.force(free.edge_force(0.0))} begins to open"]
    return entrance(free.solution(), "push panel", push, notes, hinge="side")


def return_spring(push: float, width: float, leaves: int, rest_share: float) -> Spring:
    """The spring of a side panel that ``push`` N at the edge opens to the full gap.

    It is wound so that ``rest_share`` (below 1) of that force is left when the panel is shut.
    """
    wide = angle_at_gap(width, leaves, width)
    rate = push * (width / leaves) * (1.0 - rest_share) / wide
    if rate == 0.0:
        return Spring(0.0, 0.0)
    return Spring(rate, wide * rest_share / (1.0 - rest_share))


def solve(gate: Any, opening: Any, site: Site) -> GateSolution:
    """The push panel of a scenario's opening."""
    width, height, push = opening.width, opening.height, gate.push_force.median
    mass = gate_mass(gate, width, height)
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
