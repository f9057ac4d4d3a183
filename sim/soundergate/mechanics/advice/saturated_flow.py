"""How many animals go through an open gate at most, when all want in at once.

A crossing takes (depth of the gate + length of the body) / speed and the headway to the one
before; as many cross abreast as their widths, each times the side clearance, fit the opening. The
saturated flow of a mixed group is that of its members one kind after another, median bodies.
"""

from __future__ import annotations

from math import floor
from typing import Any

from soundergate.mechanics.clearance import CLASSES

CHUTE_A_MINUTE = (8.3, 10.0)
"""Market pigs driven in single file, 500 to 600 an hour: the rates from which handlers are advised
to add a second chute (Grandin, Keep loading chutes simple)."""

PEOPLE_A_METRE = 1.3
"""People a second and metre of clear width, greatest specific flow (IMO MSC.1/Circ.1533,
evacuation analysis, table of corridors and doorways)."""


def abreast(scenario: Any, index: int, mass: float) -> int:
    """Bodies of ``mass`` kg that fit opening ``index`` side by side; one always may try."""
    body = scenario.body
    shoulder = body.width_coefficient * mass**body.exponent
    room = scenario.opening[index].width / (shoulder * scenario.movement.side_clearance)
    return max(1, floor(room + 1e-9))


def crossing_time(scenario: Any, index: int, mass: float) -> float:
    """Mean time (s) for which a body of ``mass`` kg that had to wait takes its place up."""
    movement, body = scenario.movement, scenario.body
    if movement.crossing is not None:
        crossing = movement.crossing.mean()
    else:
        length = body.length_coefficient * mass**body.exponent
        crossing = (scenario.opening[index].gate.depth + length) / movement.cross_speed
    return float(crossing + movement.headway.mean())


def saturated_flow(scenario: Any, index: int) -> float:
    """Animals a second through opening ``index`` while all of the group want in; inf if untimed."""
    animals, seconds = 0, 0.0
    for sounder in (scenario.sounder, *scenario.other):
        for name, key in CLASSES.items():
            count, mass = getattr(sounder, key), getattr(sounder.mass, name).median
            lanes = abreast(scenario, index, mass)
            animals += count
            seconds += count * crossing_time(scenario, index, mass) / lanes
    return animals / seconds if seconds > 0.0 else float("inf")


def people_a_minute(width: float) -> float:
    """People a minute through a doorway ``width`` m wide, for scale."""
    return 60.0 * PEOPLE_A_METRE * width
