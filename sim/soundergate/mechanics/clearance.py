"""What the bodies of a scenario's animals need of a closing gate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.mechanics.opening import OpeningSetup

CLASSES = {"sow": "sows", "boar": "boars", "juvenile": "juveniles", "piglet": "piglets"}
"""Class of animal -> the key of its number in a sounder."""


def clearance(scenario: Any, name: str, measure: str = "height", sounder: Any = None) -> float:
    """The clearance (m) that a median animal of a class needs to pass a closing gate.

    Under a falling gate ("height") its back height times the share it ducks to, through a closing
    "gap" its shoulder width; both grow with W^0.33 as the scenario's `body` table states. Masses
    are those of ``sounder``, the scenario's first if None.
    """
    body = scenario.body
    size = body.width_coefficient if measure == "gap" else body.height_coefficient * body.duck
    mass = getattr((sounder or scenario.sounder).mass, name).median
    return float(size * mass**body.exponent)


def opens_with(opening: OpeningSetup, needed: float) -> float:
    """Force (N) with which an animal inside opens the shut, unlocked gate to ``needed`` (m).

    The lesser of lifting and prying, and the most that it takes on the way: a plate hung from the
    top starts to move at next to nothing and weighs more the further it is raised.
    """
    start = min(opening.lift_force, opening.pry_force)
    by_clear = opening.gate.pry_by_clear
    if by_clear is None:
        return start
    on_the_way = by_clear[opening.curve.clear <= needed]
    return max(start, float(on_the_way.max())) if len(on_the_way) else start


def clearances(scenario: Any, measure: str = "height") -> dict[str, float]:
    """`clearance` by class, for the classes that come with any sounder of the scenario."""
    found: dict[str, float] = {}
    for sounder in (scenario.sounder, *scenario.other):
        for name, key in CLASSES.items():
            if getattr(sounder, key) and name not in found:
                found[name] = clearance(scenario, name, measure, sounder)
    return {name: found[name] for name in CLASSES if name in found}
