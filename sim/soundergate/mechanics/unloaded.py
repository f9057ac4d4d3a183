"""A latch that carries no load: the one thing about a gate that makes its latch senseless.

A gate that its latch need not hold never closes when it is let go: it is balanced, stands upright,
or nothing drives it. That is a slip in the file, told with what would do. A gate that does load its
latch, however little, and then hangs by friction is a result.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from soundergate.kinds import offered
from soundergate.mechanics.model import GateSolution
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.errors import Problem
from soundergate.scenario.unit_system import Units

NO_LOAD = 1e-9
"""Share of the gate's weight below which a load on the latch is rounding."""


def is_unloaded(gate: GateSolution) -> bool:
    """Whether the set gate leaves its latch nothing to carry."""
    return gate.holding_load <= NO_LOAD * gate.mass * GRAVITY


def problem(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """What to change so that the gate of a scenario's ``opening`` loads its latch.

    The key is relative to the opening. Limits are rounded to the safe side.
    """
    told: Callable[..., Problem] = offered(
        "soundergate.mechanics.gates", opening.gate.kind, "unloaded", _any
    )
    return told(opening, gate, units)


def _any(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """For a kind of which no more is known, or which has no latch at all."""
    return Problem(
        f"the latch carries no load: nothing drives the {opening.gate.kind} shut against it",
        key="gate.kind",
        hint="leave latch out, or choose a gate that falls or swings shut by itself",
    )
