"""Pullers without physics of their own: an animal's pull, and a solenoid of stated pull.

A solenoid described by its coil (gap, turns, volts, ...) is handed to the module `solenoid`.
"""

from __future__ import annotations

from math import inf
from typing import Any

from soundergate.mechanics.model import GRAVITY, LatchSolution, PullerSolution, Site, Uncertain

BATTERY_CAUTION = (
    "Disconnect the battery before working on latch or wiring, fuse the supply, and keep a vented "
    "lead-acid battery away from sparks."
)


def solenoid(
    pull: Uncertain, delay: Any, *, stroke: float = inf, notes: tuple[str, ...] = ()
) -> PullerSolution:
    """A solenoid whose pull (N) over the whole trip travel is stated, with its scatter."""
    return PullerSolution(
        kind="solenoid",
        available=pull.median,
        available_sigma=pull.sigma,
        delay=delay,
        stroke=stroke,
        recharge="each release draws on the battery: check its voltage between nights",
        notes=notes,
        cautions=(BATTERY_CAUTION,),
        sketch={"pull": pull.median},
    )


def animal(pull: Uncertain, delay: Any, note: str) -> PullerSolution:
    """An animal, or the bait container it upsets, pulling the latch itself."""
    return PullerSolution(
        kind="animal",
        available=pull.median,
        available_sigma=pull.sigma,
        delay=delay,
        notes=(note,),
    )


def animal_push(mass: float, strength: Uncertain) -> Uncertain:
    """Push (N) of an animal of ``mass`` (kg), as ``strength`` times its weight."""
    return strength.scaled(mass * GRAVITY)
