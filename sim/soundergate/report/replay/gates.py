"""The gates of a night that is played again: how far each is open, from above and from inside."""

from __future__ import annotations

from itertools import pairwise
from math import atan2, degrees, pi
from typing import TYPE_CHECKING, Any

from soundergate.engine.trace import event_kinds as kinds
from soundergate.mechanics.gates.side_hinged import angle_at_gap
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.report.replay.ground import Mouth

PUSHED_OPEN, FALLEN_SHUT = "pushed open", "shut behind them"
"""What a one-way entrance is at any time."""


def clear_at(trace: Trace, opening: int, time: float) -> float:
    """Clear height or gap (m) of an opening at `time` s, interpolated in its closing.

    A one-way entrance is open only while an animal is in it.
    """
    if trace.corral.openings[opening].one_way:
        return full(trace, opening) if _used(trace, opening, time) else 0.0
    return _between(
        [(t, clear) for t, clear, _ in closing(trace, opening)], time, full(trace, opening)
    )


def turn_at(trace: Trace, opening: int, time: float) -> float:
    """Angle (deg from shut) of the leaves of an opening at `time` s; 0 for other gates."""
    set_angle = degrees(trace.corral.openings[opening].set_angle)
    return _between([(t, turn) for t, _, turn in closing(trace, opening)], time, set_angle)


def _between(curve: list[tuple[float, float]], time: float, otherwise: float) -> float:
    if not curve or time <= curve[0][0]:
        return curve[0][1] if curve else otherwise
    for (t0, c0), (t1, c1) in pairwise(curve):
        if time <= t1:
            return c0 + (c1 - c0) * ((time - t0) / (t1 - t0) if t1 > t0 else 1.0)
    return curve[-1][1]


def closing(trace: Trace, opening: int) -> list[tuple[float, float, float]]:
    """(time s, clear m, angle of its leaves in deg) as the gate closes; [] if it did not.

    Leaves are where they were set as they begin to move, and from then on no wider than the clear
    gap says.
    """
    curve = trace.closing[opening] if opening < len(trace.closing) else []
    shape = trace.corral.openings[opening]
    if not shape.leaves:
        return [(time, clear, 0.0) for time, clear in curve]
    turns = [degrees(angle_at_gap(shape.width, shape.leaves, clear)) for _, clear in curve]
    turns[:1] = [degrees(shape.set_angle)] if turns else []
    return [(time, clear, turn) for (time, clear), turn in zip(curve, turns, strict=True)]


def full(trace: Trace, opening: int) -> float:
    """Clearance of the open gate, m."""
    curve, shape = closing(trace, opening), trace.corral.openings[opening]
    return max([clear for _, clear, _ in curve], default=0.0) or (
        shape.width if shape.measure == "gap" else shape.height
    )


def _used(trace: Trace, opening: int, time: float) -> bool:
    """Whether any animal is in the opening at `time` s."""
    spans = (span for of_one in crossings(trace) for span in of_one)
    slack = 0.0005  # crossings are rounded to the millisecond
    return any(
        start - slack <= time <= stop + slack and used == opening for start, stop, used in spans
    )


def crossings(trace: Trace) -> list[list[tuple[float, float, int]]]:
    """By animal: (from s, to s, opening) of every time it was under a gate."""
    found: list[list[tuple[float, float, int]]] = [[] for _ in trace.animals]
    opened: dict[tuple[int, float], int] = {
        (event.animal, event.time): event.opening
        for event in trace.in_order()
        if event.animal is not None and event.opening is not None
    }
    for animal, state, start, stop in trace.segments():
        if state in (kinds.CROSSING_IN, kinds.CROSSING_OUT):
            opening = opened.get((animal, start), 0)
            found[animal].append((round(start, 3), round(stop, 3), opening))
    return found


# ---- from above ------------------------------------------------------------------------------


def leaves_of(trace: Trace, opening: int, mouth: Mouth, time: float) -> list[dict[str, float]]:
    """The leaves of a side-hinged gate in drawing coordinates (y down); [] for other gates.

    A leaf lies from its hinge (x, y) along `base` degrees when shut, and turns by `way` (1 or -1)
    times its angle. A single leaf hangs at the left of one who looks out from inside, as in
    `fronts`.
    """
    shape = trace.corral.openings[opening]
    found = []
    for hinge in (-1, 1)[: shape.leaves]:
        width = shape.width / shape.leaves
        at, shut = mouth.leaf(hinge, width, 0.0)
        _, swung = mouth.leaf(hinge, width, pi / 2)
        base = degrees(atan2(at[1] - shut[1], shut[0] - at[0]))
        quarter = degrees(atan2(at[1] - swung[1], swung[0] - at[0]))
        way = 1.0 if (quarter - base) % 360.0 < 180.0 else -1.0
        turn = base + way * turn_at(trace, opening, time)
        found.append(
            {"x": at[0], "y": -at[1], "width": width, "base": base, "way": way, "turn": turn}
        )
    return found


# ---- from inside -----------------------------------------------------------------------------


def fronts(trace: Trace, time: float, units: Units) -> list[dict[str, Any]]:
    """Every opening seen from inside: its frame, and the panels as they are at `time`."""
    found = []
    for number, opening in enumerate(trace.corral.openings):
        clear = clear_at(trace, number, time)
        most = full(trace, number)
        shut = 1 - clear / most if most else 0.0
        gap = opening.measure == "gap"
        panels = max(opening.leaves, 1) if gap else 1
        found.append(
            {
                "width": opening.width,
                "height": opening.height,
                "gap": gap,
                "shut": shut,
                "panels": panels,
                "panel": shut * opening.width / panels if gap else clear,
                "words": _words(opening.one_way, clear, units),
                "title": f"Opening {number + 1}" if len(trace.corral.openings) > 1 else "Opening",
                "shape": f"{units.height(opening.width)} wide, {units.height(opening.height)} high",
            }
        )
    return found


def _words(one_way: bool, clear: float, units: Units) -> str:
    if one_way:
        return PUSHED_OPEN if clear > 0 else FALLEN_SHUT
    return f"{units.height(clear, 0)} clear"
