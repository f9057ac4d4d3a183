"""The corral in plan, as a written night has it: fence, openings, bait and lines.

Metres from the middle of the corral, x to the right, y up.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin

from soundergate.engine.trace.trace_parts import Point, TraceCorral


@dataclass(frozen=True, slots=True)
class Mouth:
    """An opening on the fence: its middle, the unit vector inwards, and its width (m)."""

    middle: Point
    inwards: Point
    width: float

    def at(self, depth: float, aside: float = 0.0) -> Point:
        """`depth` m inside (negative: outside), and `aside` m to the left of one who walks in."""
        (x, y), (u, v) = self.middle, self.inwards
        return (x + depth * u - aside * v, y + depth * v + aside * u)

    def leaf(self, hinge: int, width: float, angle: float) -> tuple[Point, Point]:
        """Hinge and edge of a leaf that is swung out by `angle` rad from across the opening.

        Its `hinge` is at the right (-1) or the left (1) of one who walks in.
        """
        half = hinge * self.width / 2
        return self.at(0, half), self.at(-width * sin(angle), half - hinge * width * cos(angle))


@dataclass(frozen=True, slots=True)
class Ground:
    """The corral laid out in plan; a patch of bait is its middle and radius, a line its ends."""

    radius: float
    mouths: tuple[Mouth, ...]
    patches: tuple[tuple[Point, float], ...]
    lines: tuple[tuple[Point, Point], ...]


def ground(corral: TraceCorral) -> Ground:
    """Lay out a corral."""
    radius = corral.diameter / 2
    mouths = []
    for opening in corral.openings:
        u, v = sin(opening.bearing), cos(opening.bearing)
        mouths.append(Mouth((radius * u, radius * v), (-u, -v), opening.width))
    return Ground(radius, tuple(mouths), corral.patches, corral.lines)
