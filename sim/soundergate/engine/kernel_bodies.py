"""Luck and bodies in the kernel: twin of `engine.bodies` and of the draws of `engine.stage`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine import early as e
from soundergate.engine.breakout import break_out, push_of
from soundergate.engine.compiled import inlined
from soundergate.engine.draws import micrometres, sample
from soundergate.engine.early import early_normal
from soundergate.engine.philox import uniform
from soundergate.engine.plan import Floats
from soundergate.engine.records import Animal, Gate
from soundergate.engine.scratch import Luck


@inlined
def draw(luck: Luck, row: int, purpose: int, who: int, count: int) -> float:
    """A time in s from one of the plan's distributions."""
    a, b = luck.times[row, 0], luck.times[row, 1]
    so_far = luck.so_far
    return sample(luck.kinds[row], a, b, so_far.seed, so_far.number, purpose, who, count)


@inlined
def chance(luck: Luck, purpose: int, who: int, count: int) -> float:
    """A uniform number in (0, 1)."""
    return uniform(luck.so_far.seed, luck.so_far.number, purpose, who, count)


@inlined
def size_up(luck: Luck, animal: Animal, b: Floats, i: int) -> None:
    """Bodies._body: mass and lengths of animal ``i``, when first needed."""
    if animal.mass >= 0.0:
        return
    ln_mass, scatter = animal.ln_mass, 0.0
    if animal.ln_mass_sd != 0.0:
        ln_mass = animal.ln_mass + animal.ln_mass_sd * early_normal(luck, e.E_BODY, i, e.U)
    if b[k.B_SCATTER] != 0.0:
        scatter = b[k.B_SCATTER] * early_normal(luck, e.E_BODY, i, e.V)
    scale = math.exp(b[k.B_EXPONENT] * ln_mass + scatter)
    animal.mass = math.exp(ln_mass)
    animal.shoulder = b[k.B_WIDTH] * scale
    animal.back = b[k.B_HEIGHT] * scale
    animal.length = b[k.B_LENGTH] * scale


@inlined
def need(animal: Animal, opening: Floats, b: Floats) -> float:
    """Bodies.need: the share of the opening's clearance that the body takes to pass."""
    if opening[k.O_BY_GAP] > 0.0:
        return animal.shoulder / opening[k.O_SPAN]
    return animal.back * b[k.B_DUCK] / opening[k.O_SPAN]


@inlined
def fits(animal: Animal, gate: Gate, opening: Floats, b: Floats) -> bool:
    """Bodies.fits: whether a body passes the open gate at all."""
    narrow = micrometres(animal.shoulder) <= gate.width
    return narrow and animal.back * b[k.B_DUCK] <= opening[k.O_HEIGHT]


@inlined
def push(luck: Luck, animal: Animal, i: int) -> float:
    """Bodies.push: sideways push in N."""
    so_far = luck.so_far
    return push_of(animal.mass, luck.kinds, luck.times, so_far.seed, so_far.number, i)


@inlined
def time_to_break_out(luck: Luck, animal: Animal, b: Floats, i: int) -> float:
    """Bodies.break_out: seconds until a captive is out, inf if it stays."""
    so_far, given = luck.so_far, luck.given
    z_reach = early_normal(luck, e.E_CLIMB, i, e.U)
    u_climb = luck.early[e.V, e.E_CLIMB * given.animals + i]
    u_root = luck.early[e.U, e.E_ROOT * given.animals + i]
    seconds, _ = break_out(
        animal.mass, animal.back, given.exit_force, b, luck.kinds, luck.times, z_reach, u_climb,
        u_root, so_far.seed, so_far.number, i,
    )  # fmt: skip
    return seconds


@inlined
def is_inside(state: int) -> bool:
    """Inside the fence and not in an opening, `codes.INSIDE_STATES`."""
    return k.WALK_IN <= state <= k.WAIT_OUT or k.STILL <= state <= k.BOLTING
