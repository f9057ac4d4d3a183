"""One night to be played again in a page: a plan to scale, the gate from the front, the events.

The page gets a still of the release that needs no script, and data from which a short script moves
the bodies and the gate. Nothing is computed in the page but interpolation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.labels import clock
from soundergate.engine.trace.trace_parts import TraceEvent
from soundergate.report.figures.night_lanes import time_axis
from soundergate.report.replay import plan_view as plan
from soundergate.report.templating import fill
from soundergate.report.words.answers import night_answer
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from markupsafe import Markup

    from soundergate.engine.trace.trace import Trace
    from soundergate.report.replay.plan_view import Ground, Key

_LETTER = {"sow": "S", "boar": "B", "juvenile": "J", "piglet": "P"}


@dataclass(frozen=True, slots=True)
class View:
    """Box of the plan in drawing coordinates: m, x to the right, y down."""

    left: float
    top: float
    width: float
    height: float

    @property
    def box(self) -> str:
        """The viewBox attribute."""
        return f"{self.left:.2f} {self.top:.2f} {self.width:.2f} {self.height:.2f}"


def replay(trace: Trace, units: Units = SI, name: str = "replay") -> Markup:
    """A page fragment that plays one night; `name` must be unique in the page."""
    laid = plan.ground(trace.corral)
    paths = plan.paths(trace)
    still = trace.release_time if trace.release_time is not None else _fullest(trace)
    return fill(
        "replay.html.j2",
        name=name,
        title=f"Night {trace.night} of seed {trace.seed}",
        view=_view(laid, paths),
        ground=_drawn_ground(laid),
        scale=_scale(trace.corral.diameter, units),
        animals=_drawn_animals(trace, paths, still),
        fronts=_fronts(trace, still, units),
        events=[
            {"time": event.time, "clock": clock(event.time), "words": words_of(trace, event)}
            for event in trace.in_order()
        ],
        still_words=_now_words(trace, still),
        outcome=night_answer(trace),
        data=replay_data(trace, units),
    )


def replays(nights: Mapping[str, Trace], units: Units = SI) -> Markup:
    """Several nights one below the other, each under what it is; "" for one without a heading."""
    from markupsafe import Markup

    parts = []
    for number, (what, trace) in enumerate(nights.items(), 1):
        if what:
            head = f"{what[0].upper()}{what[1:]}: night {trace.night}"
            parts.append(
                Markup('<h3>{}</h3>\n<p class="note">{}</p>').format(head, night_answer(trace))
            )
        parts.append(replay(trace, units, f"replay{number}"))
    return Markup("\n").join(parts)


def words_of(trace: Trace, event: TraceEvent) -> str:
    """One event in words: "sow 1 steps in (opening 2)"."""
    words = f"{trace.name(event.animal)} {event.kind}".strip()
    several = len(trace.corral.openings) > 1
    notes = [f"opening {event.opening + 1}"] if several and event.opening is not None else []
    notes += [event.note] if event.note else []
    return f"{words} ({', '.join(notes)})" if notes else words


def replay_data(trace: Trace, units: Units = SI) -> dict[str, Any]:
    """What the script reads: times s from the first arrival's clock, lengths m, y downwards."""
    axis = time_axis(trace, whole=True)
    states = list(kinds.STATES)
    return {
        "start": max(axis.start, 0.0),
        "stop": axis.stop,
        "still": trace.release_time if trace.release_time is not None else _fullest(trace),
        "release": trace.release_time,
        "shut": trace.last_shut,
        "size": trace.group_size,
        "states": [state.replace(" ", "-") for state in states],
        "paths": [
            [
                (
                    round(key.time, 3),
                    round(key.x, 3),
                    round(-key.y, 3),
                    round(-key.heading, 1),
                    states.index(key.state),
                )
                for key in path
            ]
            for path in plan.paths(trace)
        ],
        "crossings": _crossings(trace),
        "inside": trace.inside_steps(),
        "bait": trace.bait_steps(),
        "baitWords": list(kinds.BAIT_LEVELS),
        "fronts": [
            {
                "width": opening.width,
                "full": _full(trace, number),
                "gap": opening.measure == "gap",
                "oneWay": opening.one_way,
                "closing": [[round(t, 4), round(c, 4)] for t, c in _closing(trace, number)],
            }
            for number, opening in enumerate(trace.corral.openings)
        ],
        "oneWayWords": [FALLEN_SHUT, PUSHED_OPEN],
        "unit": {"size": units.heights.size, "sign": units.heights.sign},
    }


def clear_at(trace: Trace, opening: int, time: float) -> float:
    """Clear height or gap (m) of an opening at `time` s, interpolated in its closing.

    A one-way entrance is open only while an animal is in it.
    """
    if trace.corral.openings[opening].one_way:
        return _full(trace, opening) if _used(trace, opening, time) else 0.0
    curve = _closing(trace, opening)
    if not curve or time <= curve[0][0]:
        return curve[0][1] if curve else _full(trace, opening)
    for (t0, c0), (t1, c1) in pairwise(curve):
        if time <= t1:
            return c0 + (c1 - c0) * ((time - t0) / (t1 - t0) if t1 > t0 else 1.0)
    return curve[-1][1]


def _used(trace: Trace, opening: int, time: float) -> bool:
    """Whether any animal is in the opening at `time` s."""
    spans = (span for of_one in _crossings(trace) for span in of_one)
    slack = 0.0005  # crossings are rounded to the millisecond
    return any(
        start - slack <= time <= stop + slack and used == opening for start, stop, used in spans
    )


def _closing(trace: Trace, opening: int) -> list[tuple[float, float]]:
    return trace.closing[opening] if opening < len(trace.closing) else []


def _full(trace: Trace, opening: int) -> float:
    """Clearance of the open gate, m."""
    curve, shape = _closing(trace, opening), trace.corral.openings[opening]
    return max([c for _, c in curve], default=0.0) or (
        shape.width if shape.measure == "gap" else shape.height
    )


def _fullest(trace: Trace) -> float:
    """The instant at which most animals were inside, s."""
    steps = trace.inside_steps()
    most = max(count for _, count in steps)
    return next(time for time, count in steps if count == most)


def _crossings(trace: Trace) -> list[list[tuple[float, float, int]]]:
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


def _now_words(trace: Trace, time: float) -> str:
    inside = [count for when, count in trace.inside_steps() if when <= time][-1]
    level = [count for when, count in trace.bait_steps() if when <= time][-1]
    moment = "The release" if time == trace.release_time else "The fullest moment"
    if not any(event.kind == "arrives" for event in trace.events):
        return f"No animal came; 0 of {trace.group_size} inside."
    count = f"{inside} of {trace.group_size} inside, bait {kinds.BAIT_LEVELS[level]}"
    return f"{moment}, {clock(time)} after the trap was set: {count}."


def _view(laid: Ground, paths: list[list[Key]]) -> View:
    xs = [key.x for path in paths for key in path] + [-laid.radius, laid.radius]
    ys = [-key.y for path in paths for key in path] + [-laid.radius, laid.radius]
    pad = 0.9
    return View(
        min(xs) - pad, min(ys) - pad, max(xs) - min(xs) + 2 * pad, max(ys) - min(ys) + 2 * pad
    )


def _drawn_ground(laid: Ground) -> dict[str, Any]:
    """Fence, openings, bait and line in drawing coordinates."""
    mouths = []
    for mouth in laid.mouths:
        half = mouth.width / 2
        (ax, ay), (bx, by) = mouth.at(0, -half), mouth.at(0, half)
        tx, ty = mouth.at(-0.75)
        mouths.append({"a": (ax, -ay), "b": (bx, -by), "text": (tx, -ty)})
    line = None if laid.line is None else [(x, -y) for x, y in laid.line]
    return {
        "radius": laid.radius,
        "mouths": mouths,
        "bait": (laid.bait[0], -laid.bait[1]),
        "line": line,
    }


def _scale(diameter: float, units: Units) -> dict[str, Any]:
    """A scale bar of a round length, about a quarter of the corral."""
    sign, size = units.lengths
    rounds = [r for r in (0.5, 1, 2, 5, 10, 20, 50) if r * size <= diameter / 2.5]
    length = rounds[-1] if rounds else 0.5
    return {"length": length * size, "words": f"{length:g} {sign}"}


def _drawn_animals(trace: Trace, paths: list[list[Key]], time: float) -> list[dict[str, Any]]:
    drawn = []
    for animal, path in zip(trace.animals, paths, strict=True):
        place = plan.at(path, time)
        number = animal.label.split()[-1]
        drawn.append(
            {
                "label": animal.label,
                "short": _LETTER.get(animal.animal_class, animal.animal_class[:1].upper()) + number,
                "long": animal.length,
                "wide": animal.shoulder_width,
                "needs": animal.needed_height,
                "back": animal.back_height,
                "shown": place is not None and place.state != kinds.GONE,
                "x": 0.0 if place is None else place.x,
                "y": 0.0 if place is None else -place.y,
                "turn": 0.0 if place is None else -place.heading,
                "state": "away" if place is None else place.state.replace(" ", "-"),
            }
        )
    return drawn


def _front_words(one_way: bool, clear: float, units: Units) -> str:
    if one_way:
        return PUSHED_OPEN if clear > 0 else FALLEN_SHUT
    return f"{units.height(clear, 0)} clear"


PUSHED_OPEN, FALLEN_SHUT = "pushed open", "shut behind them"
"""What a one-way entrance is at any time."""


def _fronts(trace: Trace, time: float, units: Units) -> list[dict[str, Any]]:
    """Every opening seen from the front: its frame, and the panel as it is at `time`."""
    fronts = []
    for number, opening in enumerate(trace.corral.openings):
        clear = clear_at(trace, number, time)
        gap = opening.measure == "gap"
        full = _full(trace, number)
        fronts.append(
            {
                "width": opening.width,
                "height": opening.height,
                "gap": gap,
                "shut": 1 - clear / full if full else 0.0,
                "panel": (1 - clear / full if full else 0.0) * opening.width if gap else clear,
                "words": _front_words(opening.one_way, clear, units),
                "title": f"Opening {number + 1}" if len(trace.corral.openings) > 1 else "Opening",
                "shape": f"{units.height(opening.width)} wide, {units.height(opening.height)} high",
            }
        )
    return fronts
