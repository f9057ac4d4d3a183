"""The plan of the trap: where openings, bait and lines are, and whether that can be built.

Metres from the middle of the corral, seen from above: x to the right, y up. A bearing of 0 points
up, and bearings grow clockwise. "From an opening" is along the diameter through it, and aside of
that is to the right of one who walks in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from soundergate.scenario.errors import Problem
from soundergate.scenario.site import Bait, Corral
from soundergate.scenario.triggers.line import LineTrigger
from soundergate.scenario.units import format_quantity

Point = tuple[float, float]


class Trap(Protocol):
    """What has a place, of a `Scenario` that is settled."""

    corral: Corral
    bait: Bait
    opening: tuple[Any, ...]
    trigger: Any


EATEN_FROM_OUTSIDE = 0.6096
"""m, 2 ft: bait nearer to the fence can be eaten from outside (common practice, no source)."""
_HAIR = 1e-6
"""m; what lies on the fence may lie this far beyond it."""
_LEAST_PATCH = 0.05
"""m; a patch that would have to be smaller to lie inside the fence lies outside."""


@dataclass(frozen=True)
class PatchPlace:
    """A patch of bait: its middle and radius in m, and its share of those who look for a place."""

    middle: Point
    radius: float
    share: float

    def room(self, space: float) -> int:
        """Animals that find a place: they stand on the patch and `AROUND` it, each on ``space``
        m^2; at least one, and any number where they need no space."""
        if space <= 0.0:
            return MOST_ROOM
        ground = math.pi * (self.radius + AROUND) ** 2
        return min(MOST_ROOM, max(1, math.floor(ground / space)))


AROUND = 0.5
"""m; half the length of a pig of 50 kg, which reaches the bait from beside it (assumption)."""
MOST_ROOM = 10_000
"""Stands for room for any number of animals."""


def on_fence(bearing: float, radius: float) -> Point:
    """The place on the fence at a bearing in rad."""
    return radius * math.sin(bearing), radius * math.cos(bearing)


def from_opening(bearing: float, radius: float, distance: float, aside: float = 0.0) -> Point:
    """The place ``distance`` m into the corral from the opening at ``bearing``, and ``aside``."""
    u, v = math.sin(bearing), math.cos(bearing)
    along = radius - distance
    return along * u - aside * v, along * v + aside * u


def openings(trap: Trap) -> tuple[Point, ...]:
    """The middle of every opening, on the fence."""
    radius = trap.corral.diameter / 2.0
    return tuple(on_fence(opening.bearing, radius) for opening in trap.opening)


def patches(trap: Trap) -> tuple[PatchPlace, ...]:
    """The patches of bait; their shares add up to 1."""
    fence, bait = trap.corral.diameter / 2.0, trap.bait
    if not bait.patch:
        middle = from_opening(trap.opening[0].bearing, fence, trap.corral.bait_distance)
        return (PatchPlace(middle, _within(middle, bait.radius, fence), 1.0),)
    total = sum(patch.share for patch in bait.patch)
    found = []
    for patch in bait.patch:
        bearing = trap.opening[patch.opening - 1].bearing
        middle = from_opening(bearing, fence, patch.distance, patch.aside)
        radius = _within(middle, bait.radius, fence) if patch.radius is None else patch.radius
        found.append(PatchPlace(middle, radius, patch.share / total))
    return tuple(found)


def _within(middle: Point, radius: float, fence: float) -> float:
    """A radius that nobody stated for this very place gives way to the fence."""
    return max(0.0, min(radius, fence - math.hypot(*middle)))


def line_ends(line: LineTrigger, trap: Trap) -> tuple[Point, Point]:
    """The two ends of a trip line: two places on the fence, or two stakes.

    A staked line stands square to the diameter through the first opening.
    """
    radius = trap.corral.diameter / 2.0
    if line.between is not None:
        a, b = line.between
        return on_fence(a, radius), on_fence(b, radius)
    bearing, half = trap.opening[0].bearing, line.span / 2.0
    return (
        from_opening(bearing, radius, line.distance, -half),
        from_opening(bearing, radius, line.distance, half),
    )


def beyond_the_bait(line: LineTrigger, trap: Trap) -> bool:
    """Whether the first patch of bait lies on that side of the line on which opening 1 is."""
    (ax, ay), (bx, by) = line_ends(line, trap)

    def left(x: float, y: float) -> bool:
        return (bx - ax) * (y - ay) > (by - ay) * (x - ax)

    return left(*openings(trap)[0]) == left(*patches(trap)[0].middle)


def crosses_bait(line: LineTrigger, trap: Trap) -> bool:
    """Whether a trip line runs across a patch of bait."""
    (ax, ay), (bx, by) = line_ends(line, trap)
    ux, uy = bx - ax, by - ay
    for patch in patches(trap):
        x, y = patch.middle
        along = ((x - ax) * ux + (y - ay) * uy) / (ux * ux + uy * uy)
        nearest = min(1.0, max(0.0, along))
        if math.hypot(ax + nearest * ux - x, ay + nearest * uy - y) < patch.radius:
            return True
    return False


def lines(trap: Trap) -> tuple[LineTrigger, ...]:
    """The trip lines among the triggers."""
    return tuple(part for part in trap.trigger.parts if isinstance(part, LineTrigger))


def from_fence(trap: Trap) -> float:
    """m between the fence and the bait nearest to it."""
    fence = trap.corral.diameter / 2.0
    return min(fence - math.hypot(*one.middle) - one.radius for one in patches(trap))


# ---- whether it can be built -----------------------------------------------------------------


def check_openings(trap: Trap) -> None:
    """Raises Problem where two openings overlap on the fence."""
    radius = trap.corral.diameter / 2.0
    for number, one in enumerate(trap.opening, 1):
        for other_number, other in enumerate(trap.opening[: number - 1], 1):
            apart = abs(math.remainder(one.bearing - other.bearing, 2.0 * math.pi))
            need = _half_angle(one, radius) + _half_angle(other, radius)
            if apart < need - 1e-9:
                degrees = math.degrees(need)
                raise Problem(
                    f"overlaps opening {other_number} on the fence",
                    key=f".opening.{number}.bearing",
                    hint=f"their bearings must be {math.ceil(10 * degrees) / 10:g} deg apart "
                    "or more",
                )


def _half_angle(opening: Any, radius: float) -> float:
    return math.asin(min(1.0, opening.width / 2.0 / radius))


def check_bait(trap: Trap) -> None:
    """Raises Problem where bait lies outside the fence, or a patch belongs to no opening."""
    fence, stated = trap.corral.diameter / 2.0, trap.bait.patch
    for number, patch in enumerate(stated, 1):
        if patch.opening > len(trap.opening):
            raise Problem(
                f"there is no opening {patch.opening}",
                key=f".bait.patch.{number}.opening",
                hint=f"the trap has {_count(len(trap.opening), 'opening')}",
            )
    for number, place in enumerate(patches(trap), 1):
        at = math.hypot(*place.middle)
        key = f".bait.patch.{number}.distance" if stated else ".corral.bait_distance"
        if at > fence - _LEAST_PATCH:
            raise Problem(
                "the bait lies outside the fence, or on it",
                key=key,
                hint=f"the corral is {format_quantity(2.0 * fence, 'ft')} across",
            )
        if at + place.radius > fence + _HAIR:
            raise Problem(
                "the patch of bait reaches through the fence",
                key=f".bait.patch.{number}.radius",
                hint=f"there it may be {format_quantity(fence - at, 'ft')} at most",
            )


def _count(number: int, name: str) -> str:
    return f"one {name}" if number == 1 else f"{number} {name}s"


def check_line(line: LineTrigger, trap: Trap) -> None:
    """Raises Problem, with keys of the line, where it cannot be strung like that."""
    radius = trap.corral.diameter / 2.0
    a, b = ends = line_ends(line, trap)
    if line.between is None and max(math.hypot(*end) for end in ends) > radius + _HAIR:
        chord = 2.0 * math.sqrt(max(0.0, line.distance * (2.0 * radius - line.distance)))
        raise Problem(
            "its stakes would stand beyond the fence",
            key="span",
            hint=f"at that distance the corral is {format_quantity(chord, 'ft')} wide",
        )
    if math.dist(a, b) < 2.0 * _HAIR:
        raise Problem(
            "the line begins and ends at one place", key="between", hint="give two bearings"
        )
    for number, opening in _run_through(ends, trap):
        raise Problem(
            f"the line runs through opening {number}",
            key="between" if line.between is not None else "distance",
            hint=f"that opening is {format_quantity(opening.width, 'ft')} wide at "
            f"{math.degrees(opening.bearing):g} deg; hang the line elsewhere",
        )


def _run_through(ends: tuple[Point, Point], trap: Trap) -> Iterator[tuple[int, Any]]:
    """Openings between whose posts and the round of the fence a piece of line lies."""
    radius = trap.corral.diameter / 2.0
    for number, opening in enumerate(trap.opening, 1):
        u, v = on_fence(opening.bearing, 1.0)
        posts = radius * math.cos(_half_angle(opening, radius))
        if max(x * u + y * v for x, y in ends) > posts + _HAIR:
            yield number, opening
