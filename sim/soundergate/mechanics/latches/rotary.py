"""A rotary latch: a turning claw holds the load, and a small pawl holds the claw.

The load Q turns the claw on an arm r1; the pawl stops the claw at an arm r2, so it carries only
N = Q r1 / r2. The claw's own pin rubs with mu Q on its radius and takes a little more off. To drag
the pawl out takes mu N on the pawl's arm b (its pin adds mu N r) and a return spring S at the
pull, so that a pull on an arm c frees it at

    P = mu N (b + r) / c + S,   N = Q (r1 - mu r) / r2.

(Moments about the two pins; the reaction at a pin is taken as the load on it.) The pull travels
c x / b to take the pawl off its engaged length x.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from soundergate.mechanics.model import GateSolution, LatchSolution, Site
from soundergate.scenario.distributions import LogNormal


@dataclass(frozen=True)
class Rotary:
    """Lengths (m) of the latch: ``load_arm`` r1 and ``catch_arm`` r2 on the claw, ``pawl_arm`` b
    and ``pull_arm`` c on the pawl, ``pin_radius`` r of both pins, ``engaged`` x; ``spring`` N."""

    load_arm: float
    catch_arm: float
    pawl_arm: float
    pull_arm: float
    pin_radius: float
    engaged: float
    spring: float = 0.0


def pawl_force(shape: Rotary, load: float, friction: float) -> float:
    """Force (N) between claw and pawl under ``load`` (N); 0 when the claw's pin alone holds it."""
    return load * max(0.0, shape.load_arm - friction * shape.pin_radius) / shape.catch_arm


def release_pull(shape: Rotary, load: float, friction: float) -> float:
    """Pull (N) that drags the pawl out."""
    rub = friction * (shape.pawl_arm + shape.pin_radius) / shape.pull_arm
    return rub * pawl_force(shape, load, friction) + shape.spring


def rotary(load: float, friction: LogNormal, shape: Rotary) -> LatchSolution:
    """The rotary latch under ``load`` (N). A claw that its own pin holds never turns."""
    mu = friction.median
    pull = release_pull(shape, load, mu)
    turns = shape.load_arm > mu * shape.pin_radius
    notes = [
        f"the pawl, which has to be pulled, carries {100 * pawl_force(shape, 1.0, mu):.0f} % of "
        "the load"
    ]
    if not turns:
        notes.append("the claw's own pin holds it: it does not turn when the pawl is drawn")
    return LatchSolution(
        kind="rotary",
        pull_required=pull,
        pull_required_sigma=friction.sigma * _sensitivity(shape, load, mu, pull),
        trip_travel=shape.engaged * shape.pull_arm / shape.pawl_arm,
        releases=turns,
        notes=tuple(notes),
        sketch={"load_arm": shape.load_arm, "catch_arm": shape.catch_arm},
    )


def _sensitivity(shape: Rotary, load: float, friction: float, pull: float) -> float:
    """d ln P / d ln mu."""
    if pull <= 0.0 or shape.load_arm <= friction * shape.pin_radius:
        return 0.0
    rubbing = pull - shape.spring
    less = friction * shape.pin_radius / (shape.load_arm - friction * shape.pin_radius)
    return rubbing * (1.0 - less) / pull


def solve(latch: Any, opening: Any, site: Site, gate: GateSolution) -> LatchSolution:
    """The rotary latch of a scenario's latch table under the gate's holding load."""
    shape = Rotary(
        load_arm=latch.hold_arm,
        catch_arm=latch.catch_arm,
        pawl_arm=latch.pawl_arm,
        pull_arm=latch.trip_arm,
        pin_radius=0.5 * latch.diameter,
        engaged=latch.engaged,
    )
    return rotary(gate.holding_load, latch.friction, shape)
