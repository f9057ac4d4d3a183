"""Luck and bodies in the kernel: twin of `reference.bodies` and the draws of `reference.stage`."""

from __future__ import annotations

from collections.abc import Sequence

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel.early import early, early_draw
from soundergate.engine.kernel.early_table import E_BODY, E_CLIMB, E_ROOT
from soundergate.engine.kernel.layout import Animal, Gate
from soundergate.engine.kernel.scratch import Luck
from soundergate.engine.luck.draws import micrometres
from soundergate.engine.luck.philox import uniform
from soundergate.engine.plan import Behaviour, Opening, Patch
from soundergate.engine.rules.breakout import break_out, push_of


@inlined
def chance(luck: Luck, purpose: int, who: int, count: int) -> float:
    """A uniform number in (0, 1)."""
    return uniform(luck.state.seed, luck.state.number, purpose, who, count)


@inlined
def picked(rows: Sequence[Opening | Patch], u: float) -> int:
    """`facts.picked`: which of some openings or patches, by their cumulative choice."""
    last = len(rows) - 1
    row = 0
    while row < last and u >= rows[row].choice:
        row += 1
    return row


@inlined
def size_up(luck: Luck, animal: Animal, behaviour: Behaviour, i: int) -> None:
    """Bodies._body: mass and lengths of animal ``i``."""
    scale = early(luck, E_BODY, k.SECOND, i)
    animal.mass = early(luck, E_BODY, k.FIRST, i)
    animal.shoulder = behaviour.shoulder_coefficient * scale
    animal.back = behaviour.back_coefficient * scale
    animal.length = behaviour.length_coefficient * scale


@inlined
def need(animal: Animal, opening: Opening, behaviour: Behaviour) -> float:
    """Bodies.need: the share of the opening's clearance that the body takes to pass."""
    if opening.by_gap != 0:
        return animal.shoulder / opening.clearance
    return animal.back * behaviour.duck / opening.clearance


@inlined
def fits(animal: Animal, gate: Gate, opening: Opening, behaviour: Behaviour) -> bool:
    """Bodies.fits: whether a body passes the open gate at all."""
    narrow = micrometres(animal.shoulder) <= gate.width
    return narrow and animal.back * behaviour.duck <= opening.height


@inlined
def ease(animal: Animal, gate: Gate, behaviour: Behaviour) -> float:
    """Bodies.ease: what the width of the opening leaves of its speed of entering."""
    touches = micrometres(animal.shoulder * behaviour.side_clearance) > gate.width
    return behaviour.tightness if touches else 1.0


@inlined
def push(luck: Luck, animal: Animal, i: int) -> float:
    """Bodies.push: sideways push in N."""
    state = luck.state
    return push_of(animal.mass, luck.times, state.seed, state.traits, i)


@inlined
def time_to_break_out(
    luck: Luck, animal: Animal, behaviour: Behaviour, exit_force: float, i: int
) -> tuple[float, float]:
    """Bodies.break_out: seconds until a captive is out, inf if it stays, and by which way."""
    state = luck.state
    reach = early(luck, E_CLIMB, k.FIRST, i)
    roots = early_draw(luck, E_ROOT, k.T_ROOT, k.D_ROOT, i, k.FIRST)
    return break_out(
        animal.mass, animal.back, exit_force, behaviour.panel_height, luck.times,
        reach, roots, state.seed, state.number, state.traits, i,
    )  # fmt: skip


@inlined
def is_inside(state: int) -> bool:
    """Inside the fence and not in an opening, `codes.INSIDE_STATES`."""
    return k.WALK_IN <= state <= k.WAIT_OUT or k.STILL <= state <= k.BOLTING
