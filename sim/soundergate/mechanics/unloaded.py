"""A latch that carries no load: the one thing about a gate that makes its latch senseless.

A gate that its latch need not hold never closes when it is let go: it is balanced, stands upright,
or nothing drives it. That is a slip in the file, told with what would do. A gate that does load its
latch, however little, and then hangs by friction is a result.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import degrees, floor, log10
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.model import GRAVITY, GateSolution
from soundergate.scenario.errors import Problem
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from soundergate.mechanics.gates.side_hinged import Closer, SideHinged

NO_LOAD = 1e-9
"""Share of the gate's weight below which a load on the latch is rounding."""


def is_unloaded(gate: GateSolution) -> bool:
    """Whether the set gate leaves its latch nothing to carry."""
    return gate.holding_load <= NO_LOAD * gate.mass * GRAVITY


def problem(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """What to change so that the gate of a scenario's ``opening`` loads its latch.

    The key is relative to the opening. Limits are rounded to the safe side.
    """
    return _PROBLEMS.get(opening.gate.kind, _any)(opening, gate, units)


def _drop(opening: Any, gate: GateSolution, units: Units) -> Problem:
    from soundergate.mechanics.gates import drop as drop_gate

    plain = drop_gate.from_table(opening.gate, opening, gate.mass)
    most = drop_gate.most_counterweight(plain)
    hint = "make it lighter than the gate"
    if most > 0.0:
        hint = f"at typical friction the gate still falls with {_below(most, units)} or less"
    return Problem(
        f"the latch carries no load: the counterweight is as heavy as the gate, "
        f"{units.mass(gate.mass)}, or heavier, so that the gate does not fall",
        key="gate.counterweight",
        hint=hint,
    )


def _any(opening: Any, gate: GateSolution, units: Units) -> Problem:
    """For a kind of which no more is known, or which has no latch at all."""
    return Problem(
        f"the latch carries no load: nothing drives the {opening.gate.kind} shut against it",
        key="gate.kind",
        hint="leave latch out, or choose a gate that falls or swings shut by itself",
    )


def _below(mass: float, units: Units) -> str:
    """The largest mass of three figures below ``mass``, as text."""
    size = units.masses[1]
    step = size * 10.0 ** (floor(log10(mass / size)) - 2)
    return units.mass(floor((1.0 - 1e-9) * mass / step) * step)


def _top_hinged(opening: Any, gate: GateSolution, units: Units) -> Problem:
    from soundergate.mechanics.gates import top_hinged

    plain = top_hinged.from_table(opening.gate, opening)
    most = floor(degrees(top_hinged.most_set_angle(plain)))
    hint = "a smaller angle lets its weight load the latch"
    if most > 0:
        hint = f"at typical friction of the hinge it starts to fall from {most} deg or less"
    return Problem(
        "the latch carries no load: the gate stands upright on its hinge and does not fall",
        key="gate.set_angle",
        hint=hint,
    )


def _side_hinged(opening: Any, gate: GateSolution, units: Units) -> Problem:
    from soundergate.mechanics.gates import side_hinged

    table = opening.gate
    if table.closer == "weight":
        return Problem(
            "the latch carries no load: next to nothing pulls the gate shut",
            key="gate.arm",
            hint="a longer arm or a heavier closing_weight loads the latch",
        )
    plain = side_hinged.from_table(table, opening)
    need = plain.friction_torque.median
    said = "the latch carries no load: nothing closes the gate"
    if table.closer == "rising hinge":
        pitch = need / (plain.leaf_mass * GRAVITY)
        unit = units.shorts[1] / table.set_angle
        rise = _enough(plain, lambda x: side_hinged.RisingHinge(unit * x), pitch / unit)
        enough = units.short(rise * units.shorts[1])
        return Problem(said, key="gate.rise", hint=f"{enough} shuts it at typical friction")
    least = need / (0.5 * table.set_angle + table.preload)
    rate = _enough(plain, lambda k: side_hinged.Spring(k, table.preload), least)
    return Problem(
        said, key="gate.spring_rate", hint=f"{rate:.3g} N*m shuts it at typical friction"
    )


def _enough(gate: SideHinged, closer: Callable[[float], Closer], least: float) -> float:
    """A strength, in two figures, with which ``closer`` shuts the gate at typical friction.

    ``least`` is the strength without air drag (0 where nothing rubs); the answer is at most about
    a quarter above what it takes.
    """
    strength = _two_figures(max(least, 1e-3))
    for _ in range(_TRIES):
        if replace(gate, closer=closer(strength)).fall().shut:
            break
        strength = _two_figures(1.1 * strength)
    return strength


_TRIES = 200
"""Strengths tried, each about a tenth above the last: a hundred million times the first."""


def _two_figures(value: float) -> float:
    """The next greater number of two figures."""
    step = 10.0 ** (floor(log10(value)) - 1)
    return (floor(value / step) + 1) * step


_PROBLEMS = {"drop": _drop, "top-hinged": _top_hinged, "side-hinged": _side_hinged}
