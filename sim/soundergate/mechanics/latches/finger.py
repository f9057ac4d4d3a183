"""A finger latch: a pivoted finger whose tip stands in the way of the load.

The load Q bears on the finger at a contact a distance b from its pivot, and its line of action
passes the pivot at an offset e (positive: the load turns the finger home; negative: it tries to
turn it away). Sliding at the contact resists with mu Q on the arm b, the pivot with mu Q on its
pin radius r. A pull P on an arm c turns the finger when

    P c = Q (e + mu (b + r)),

and the finger stays put without a pull while e + mu (b + r) > 0. (Moments about the pivot.) The
friction scatters and the offset does not, so that with e < 0 a finger holds on some nights only.
The tip must slide off its engaged length x, so the pull travels c x / b.
"""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics import scatter
from soundergate.mechanics.model import GateSolution, LatchSolution, Site
from soundergate.scenario.distributions import LogNormal


def release_ratio(
    friction: float, contact_arm: float, pull_arm: float, offset: float, pin_radius: float
) -> float:
    """P / Q of the pull that turns the finger; not above 0 when the load turns it by itself."""
    return (offset + friction * (contact_arm + pin_radius)) / pull_arm


def least_friction(contact_arm: float, offset: float, pin_radius: float) -> float:
    """The coefficient of friction below which the load slips off by itself (0: never)."""
    return max(0.0, -offset / (contact_arm + pin_radius))


def finger(
    load: float,
    friction: LogNormal,
    engaged: float,
    *,
    contact_arm: float,
    pull_arm: float,
    offset: float = 0.0,
    pin_radius: float = 0.0,
) -> LatchSolution:
    """The finger as a latch: ``load`` N, lengths in m."""
    ratio = release_ratio(friction.median, contact_arm, pull_arm, offset, pin_radius)
    holds = ratio > 0.0
    rubbing = friction.median * (contact_arm + pin_radius) / pull_arm
    required = LogNormal(load * ratio, friction.sigma, load * offset / pull_arm)
    stays = scatter.stays_put(required) if offset != 0.0 else float(holds)
    notes = [
        f"the finger is pulled {pull_arm / contact_arm:.2g} times as far from its pivot as the "
        "load bears on it"
    ]
    if not holds:
        floor = least_friction(contact_arm, offset, pin_radius)
        notes.append(
            f"the load slips off this finger unless the coefficient of friction exceeds {floor:.2g}"
        )
    elif offset < 0.0:
        floor = least_friction(contact_arm, offset, pin_radius)
        notes.append(
            "held by friction alone, as long as the coefficient of friction exceeds "
            f"{floor:.2g}: in {words.percent(1.0 - stays)} of settings it does not, and the load "
            f"slips off; in the other {words.percent(stays)} it stays set, and a shake can let it "
            "go"
        )
    return LatchSolution(
        kind="finger",
        pull_required=load * max(0.0, ratio),
        pull_required_sigma=friction.sigma * rubbing / ratio if holds else 0.0,
        trip_travel=engaged * pull_arm / contact_arm if stays > 0.0 else 0.0,
        law=required,
        holds=holds,
        hold_probability=stays,
        notes=tuple(notes),
        sketch={
            "contact_arm": contact_arm,
            "pull_arm": pull_arm,
            "offset": offset,
            "engaged": engaged,
        },
    )


def solve(latch: Any, opening: Any, site: Site, gate: GateSolution) -> LatchSolution:
    """The finger of a scenario's latch table under the gate's holding load."""
    return finger(
        gate.holding_load,
        latch.friction,
        latch.engaged,
        contact_arm=latch.hold_arm,
        pull_arm=latch.trip_arm,
        offset=latch.offset,
        pin_radius=0.5 * latch.diameter,
    )
