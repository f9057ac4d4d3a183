"""A knee latch: two links in line, hinged at a knee, held just over centre against a stop.

The links carry the load Q end to end; a small pull P across the knee breaks the line. With equal
links and the knee at an angle a off the line, statics gives P / Q = 2 tan a. Friction in the pins
tilts the force in each link by psi, where sin psi = (r1 + r2) mu / L (r1, r2 the radii of the pins
at its two ends, L its length: friction circles), so that

* to pull the knee back over centre takes P / Q = 2 tan(a + psi);
* to push it shut against the load gives Q / P = 1 / (2 tan(a + psi));
* the knee holds itself while a > -psi: near dead centre even on the wrong side.

``angle`` is positive over centre (held by the stop without any friction).
"""

from __future__ import annotations

from math import asin, cos, degrees, pi, sin, tan
from typing import Any

from soundergate.mechanics import scatter
from soundergate.mechanics.model import GateSolution, LatchSolution, Site
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem


def friction_angle(
    friction: float, first_radius: float, second_radius: float, link: float
) -> float:
    """psi (rad): tilt of the force in a link, sin psi = (r1 + r2) mu / L.

    ``friction`` coefficient in the pins; radii and ``link`` length in m.

    Raises
    ------
    ValueError : when the friction circles are wider than the link.
    """
    share = (first_radius + second_radius) * friction / link
    if share >= 1.0:
        raise ValueError(f"the pins are too thick for the link: sin psi would be {share:.3g}")
    return asin(share)


def release_ratio(angle: float, psi: float = 0.0) -> float:
    """P / Q = 2 tan(a + psi), the pull across the knee that breaks the line; 0 when it opens."""
    return max(0.0, 2.0 * tan(angle + psi))


def holds_itself(angle: float, psi: float) -> bool:
    """Whether the knee stays put under its load; a negative ``angle`` is short of centre."""
    return angle > -psi


def release_travel(link: float, angle: float, psi: float) -> float:
    """How far (m) the knee must be drawn: from the stop to where friction no longer holds it."""
    return link * (sin(max(angle, -psi)) + sin(psi))


def pull_sensitivity(angle: float, psi: float) -> float:
    """d ln P / d ln mu = tan psi / (sin(a + psi) cos(a + psi)): 1 at centre, less over centre."""
    total = angle + psi
    return tan(psi) / (sin(total) * cos(total)) if total > 0.0 else 0.0


def knee(
    load: float,
    friction: LogNormal,
    link: float,
    angle: float,
    first_radius: float,
    second_radius: float,
) -> LatchSolution:
    """The knee as a latch: ``load`` N along the links, ``angle`` rad over centre, lengths in m.

    A knee short of centre by more than its friction angle does not hold its load.
    """
    psi = friction_angle(friction.median, first_radius, second_radius, link)
    holds = holds_itself(angle, psi)
    notes = [
        f"the knee stands {degrees(angle):.2g} degrees over centre; friction in its pins holds it "
        f"as if it stood {degrees(psi):.2g} degrees further"
    ]
    if not holds:
        notes.append("the load itself opens this knee: set it over centre")
    elif angle <= 0.0:
        notes.append("held by friction alone: a shake can let it go")
    # tan(a + psi) is as good as straight in mu: what friction adds scatters, the rest does not.
    rubbing = 2.0 * tan(psi) / cos(angle + psi) ** 2
    ratio = 2.0 * tan(angle + psi)
    required = LogNormal(load * ratio, friction.sigma, load * (ratio - rubbing))
    return LatchSolution(
        kind="knee",
        pull_required=load * release_ratio(angle, psi),
        pull_required_sigma=friction.sigma * pull_sensitivity(angle, psi),
        law=required,
        hold_probability=scatter.stays_put(required) if angle < 0.0 else float(holds),
        trip_travel=release_travel(link, angle, psi) if holds else 0.0,
        holds=holds,
        releases=angle + psi < pi / 2.0,
        notes=tuple(notes),
        cautions=("The links of a knee latch snap through when it lets go: keep fingers clear.",),
        sketch={"link": link, "angle": angle, "friction_angle": psi},
    )


def solve(latch: Any, opening: Any, site: Site, gate: GateSolution) -> LatchSolution:
    """The knee of a scenario's latch table under the gate's holding load; its pins are alike.

    Raises Problem when the pins are too thick for the links.
    """
    radius = 0.5 * latch.diameter
    friction = latch.friction
    if latch.diameter * friction.median >= latch.link:
        raise Problem(
            "with this friction the pins are too thick for links of this length to move",
            key="latch.diameter",
            value=latch.diameter,
            hint=f"below {latch.link / friction.median:.3g} m, or longer links",
        )
    return knee(gate.holding_load, friction, latch.link, latch.over_centre, radius, radius)
