"""What the bodies of a scenario's animals need of a closing gate."""

from __future__ import annotations

from typing import Any

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


def clearances(scenario: Any, measure: str = "height") -> dict[str, float]:
    """`clearance` by class, for the classes that come with any sounder of the scenario."""
    found: dict[str, float] = {}
    for sounder in (scenario.sounder, *scenario.other):
        for name, key in CLASSES.items():
            if getattr(sounder, key) and name not in found:
                found[name] = clearance(scenario, name, measure, sounder)
    return {name: found[name] for name in CLASSES if name in found}
