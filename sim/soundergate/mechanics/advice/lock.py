"""What a lock that fails would mean for the shut gate, in words."""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import clearance as bodies
from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.unit_system import Units


def said(opening: OpeningSetup, scenario: Any, gate: Any, units: Units) -> list[str]:
    """One sentence, where a pig of this group could open the gate if nothing locked it.

    That is one whose class has, at the median, the push (N) that makes room for the smallest.
    """
    if not opening.locked or opening.jams or gate.lock_fails == 0.0:
        return []
    needed = bodies.clearances(scenario, opening.curve.measure)
    least = min(needed, key=needed.__getitem__)
    force = bodies.opens_with(opening, needed[least])
    able = [name for name in needed if _push(scenario, name) >= force]
    if not able:
        return []
    return [
        f"Its lock is taken to fail in {words.percent(gate.lock_fails)} of nights, when mud or a "
        f"stone keeps it from catching: a {able[0]} can then open the gate, which takes "
        f"{units.force(force)} to let a {least} out. Keep the catch clean."
    ]


def _push(scenario: Any, name: str) -> float:
    """Push (N) of a median animal of a class, of the sounder in which it is heaviest."""
    key = bodies.CLASSES[name]
    masses = [
        getattr(sounder.mass, name).median
        for sounder in (scenario.sounder, *scenario.other)
        if getattr(sounder, key)
    ]
    return float(scenario.body.strength.median * max(masses) * GRAVITY)
