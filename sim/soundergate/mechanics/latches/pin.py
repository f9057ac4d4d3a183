"""A pin that carries the gate's holding load and is drawn out along its axis.

Friction is summed over every reaction. In double shear (both plates on the frame, the gate's
lug between them) the reactions are W and twice W/2: pull = 2 mu W. A pin that overhangs its guide
by a, with a guide of length c, has reactions W, W (1 + a/c) and W a/c: pull = 2 mu W (1 + a/c).
(Statics of a rigid beam on two supports with Coulomb friction.)
"""

from __future__ import annotations

from math import inf, pi
from typing import Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.model import GateSolution, LatchSolution, Site
from soundergate.scenario.distributions import LogNormal


def double_shear_pull(load: float, friction: float) -> float:
    """Pull (N) that draws a pin in double shear under ``load`` (N)."""
    return 2.0 * friction * load


def overhung_pull(load: float, friction: float, overhang: float, guide: float) -> float:
    """Pull (N) that draws a pin loaded ``overhang`` (m) beyond a guide ``guide`` (m) long.

    Raises
    ------
    ValueError : when the guide has no length or the overhang is negative.
    """
    if not guide > 0.0 or overhang < 0.0:
        raise ValueError(
            f"guide must be positive and overhang not negative, got {guide!r} m and {overhang!r} m"
        )
    return 2.0 * friction * load * (1.0 + overhang / guide)


ALLOWABLE = 165e6
"""Pa: 0.66 of the 250 MPa yield of common structural steel, the classic allowable stress in
bending (from memory)."""


def stress(load: float, diameter: float, overhang: float = 0.0) -> float:
    """Greatest stress (Pa) in a round pin of ``diameter`` (m): shear, or bending if it overhangs.

    Double shear carries W over two sections; an overhung pin is a cantilever, 32 W a / (pi d^3).
    """
    if overhang > 0.0:
        return 32.0 * load * overhang / (pi * diameter**3)
    return load / (2.0 * pi * diameter**2 / 4.0)


def pin(
    load: float,
    friction: LogNormal,
    engaged: float,
    *,
    support: str = "double shear",
    overhang: float = 0.0,
    guide: float = 1.0,
    diameter: float = inf,
) -> LatchSolution:
    """The pin as a latch: ``load`` N, ``friction`` coefficient, ``engaged`` length m.

    The load is taken as known, so ln(pull) scatters as ln(friction) does. ``diameter`` (m) only
    says whether the pin is stressed too far.

    Raises
    ------
    ValueError : an unknown support, or measures that are no guide.
    """
    if support == "double shear":
        pull = double_shear_pull(load, friction.median)
    elif support == "overhung":
        pull = overhung_pull(load, friction.median, overhang, guide)
    else:
        raise ValueError(f"support must be 'double shear' or 'overhung', got {support!r}")
    return LatchSolution(
        kind="pin",
        pull_required=pull,
        pull_required_sigma=friction.sigma,
        trip_travel=engaged,
        notes=_notes(support, overhang, guide),
        cautions=_cautions(stress(load, diameter, overhang if support == "overhung" else 0.0)),
        sketch={"support": support, "overhang": overhang, "guide": guide, "engaged": engaged},
    )


def _notes(support: str, overhang: float, guide: float) -> tuple[str, ...]:
    if support == "double shear":
        return ()
    return (
        f"the pin overhangs its guide, which takes {1.0 + overhang / guide:.2g} times the pull of "
        "one held on both sides of the load",
    )


def _cautions(stressed: float) -> tuple[str, ...]:
    if stressed <= ALLOWABLE:
        return ()
    return (
        f"The pin is stressed with {words.stress(stressed)} by the gate's weight alone, beyond the "
        f"{words.stress(ALLOWABLE)} that common structural steel is allowed: it can bend and drop "
        "the gate; take a thicker pin or hold it on both sides.",
    )


def solve(latch: Any, opening: Any, site: Site, gate: GateSolution) -> LatchSolution:
    """The pin of a scenario's latch table under the gate's holding load."""
    return pin(
        gate.holding_load,
        latch.friction,
        latch.engaged,
        support=latch.support,
        overhang=latch.overhang,
        guide=latch.guide,
        diameter=latch.diameter,
    )
