"""Places outside the fence, which a night does not know: chosen so that bodies spread out."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin

from soundergate.engine.trace.trace_parts import Point, TraceAnimal
from soundergate.report.replay.ground import Ground


@dataclass(frozen=True, slots=True)
class Outside:
    """Places of one animal, by its number in the group."""

    number: int
    animal: TraceAnimal
    ground: Ground

    def mouth(self, opening: int) -> Point:
        """In the opening, to one side of its middle."""
        room = max(self.ground.mouths[opening].width - self.animal.shoulder_width, 0.0) / 2
        return self.ground.mouths[opening].at(0.0, room * ((self.number % 3) - 1) * 0.6)

    def away(self, opening: int) -> Point:
        return self._fan(opening, 3.6)

    def nearby(self, opening: int) -> Point:
        return self._fan(opening, 1.9 + 0.3 * (self.number % 4))

    def _fan(self, opening: int, distance: float) -> Point:
        share = (self.number * 0.618034) % 1.0
        turn = (share - 0.5) * 1.5
        return self.ground.mouths[opening].at(-distance * cos(turn), distance * sin(turn))

    def waiting(self, opening: int) -> Point:
        column, row = self.number % 5, self.number // 5
        depth = 0.4 + 0.6 * (row % 4) + 0.12 * abs(column - 2)
        return self.ground.mouths[opening].at(-depth, 0.55 * (column - 2) + 0.1 * (row % 2))
