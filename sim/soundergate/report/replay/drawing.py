"""One night to be played again in a page: a plan to scale, the gate from inside, the events.

The page gets a still of the release that needs no script, and data from which a short script moves
the bodies and the gate. Nothing is computed in the page but interpolation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, degrees, radians, sin
from typing import TYPE_CHECKING, Any

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.trace_parts import TraceEvent
from soundergate.report.figures.night_lanes import time_axis
from soundergate.report.quantities import scale_bar
from soundergate.report.replay import gates, times
from soundergate.report.replay import plan_view as plan
from soundergate.report.replay.ground import ground
from soundergate.report.replay.shapes import TOLD, shape
from soundergate.report.templating import fill
from soundergate.report.words.answers import night_answer
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from markupsafe import Markup

    from soundergate.engine.trace.trace import Trace
    from soundergate.report.replay.ground import Ground
    from soundergate.report.replay.plan_view import Key

_LETTER = {"sow": "S", "boar": "B", "juvenile": "J", "piglet": "P"}

NAME_BEHIND = 0.22
"""m from the tail of an animal to the middle of its short name."""


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
    laid = ground(trace.corral)
    paths = plan.paths(trace)
    still = trace.release_time if trace.release_time is not None else _fullest(trace)
    return fill(
        "replay.html.j2",
        name=name,
        title=f"Night {trace.night} of seed {trace.seed}",
        view=_view(laid, paths),
        ground=_drawn_ground(trace, laid, still),
        scale=scale_bar(trace.corral.diameter, units),
        animals=_drawn_animals(trace, paths, still),
        legend=_legend(trace),
        fronts=gates.fronts(trace, still, units),
        came=times.anyone_came(trace),
        events=[
            {
                "time": event.time,
                "told": times.told(trace, event.time),
                "clock": times.short_clock(event.time),
                "words": words_of(trace, event),
            }
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
    """What the script reads: times s since the trap was set, lengths m, y downwards, angles deg."""
    axis = time_axis(trace, whole=True)
    states = list(kinds.STATES)
    return {
        "start": max(axis.start, 0.0),
        "stop": axis.stop,
        "first": trace.first_arrival if times.anyone_came(trace) else None,
        "still": trace.release_time if trace.release_time is not None else _fullest(trace),
        "release": trace.release_time,
        "shut": trace.last_shut,
        "size": trace.group_size,
        "states": [state.replace(" ", "-") for state in states],
        "paths": [
            [
                (
                    round(key.time, 4),
                    round(key.x, 3),
                    round(-key.y, 3),
                    round(-key.heading, 1),
                    states.index(key.state),
                    round(key.ahead, 2),
                )
                for key in path
            ]
            for path in plan.paths(trace)
        ],
        "crossings": gates.crossings(trace),
        "inside": trace.inside_steps(),
        "bait": trace.bait_steps(),
        "baitWords": list(kinds.BAIT_LEVELS),
        "fronts": [
            {
                "width": opening.width,
                "full": gates.full(trace, number),
                "gap": opening.measure == "gap",
                "oneWay": opening.one_way,
                "panels": max(opening.leaves, 1),
                "turn": round(degrees(opening.set_angle), 1),
                "closing": [
                    [round(t, 4), round(clear, 4), round(turn, 1)]
                    for t, clear, turn in gates.closing(trace, number)
                ],
            }
            for number, opening in enumerate(trace.corral.openings)
        ],
        "oneWayWords": [gates.FALLEN_SHUT, gates.PUSHED_OPEN],
        "nameBehind": NAME_BEHIND,
        "unit": {"size": units.heights.size, "sign": units.heights.sign},
    }


def _fullest(trace: Trace) -> float:
    """The instant at which most animals were inside, s."""
    steps = trace.inside_steps()
    most = max(count for _, count in steps)
    return next(time for time, count in steps if count == most)


def _now_words(trace: Trace, time: float) -> str:
    inside = [count for when, count in trace.inside_steps() if when <= time][-1]
    level = [count for when, count in trace.bait_steps() if when <= time][-1]
    moment = "The release" if time == trace.release_time else "The fullest moment"
    if not times.anyone_came(trace):
        return f"No animal came; 0 of {trace.group_size} inside."
    count = f"{inside} of {trace.group_size} inside, bait {kinds.BAIT_LEVELS[level]}"
    return f"{moment}, {times.when(trace, time)}: {count}."


def _view(laid: Ground, paths: list[list[Key]]) -> View:
    xs = [key.x for path in paths for key in path] + [-laid.radius, laid.radius]
    ys = [-key.y for path in paths for key in path] + [-laid.radius, laid.radius]
    pad = 0.9
    return View(
        min(xs) - pad, min(ys) - pad, max(xs) - min(xs) + 2 * pad, max(ys) - min(ys) + 2 * pad
    )


def _drawn_ground(trace: Trace, laid: Ground, time: float) -> dict[str, Any]:
    """Fence, openings with their leaves, bait and lines in drawing coordinates."""
    mouths = []
    for number, mouth in enumerate(laid.mouths):
        half = mouth.width / 2
        (ax, ay), (bx, by) = mouth.at(0, -half), mouth.at(0, half)
        leaves = gates.leaves_of(trace, number, mouth, time)
        tx, ty = mouth.at(-0.45, half + 0.45)
        number_at = (tx, -ty) if len(laid.mouths) > 1 else None
        mouths.append({"a": (ax, -ay), "b": (bx, -by), "leaves": leaves, "number_at": number_at})
    return {
        "radius": laid.radius,
        "mouths": mouths,
        "patches": [(x, -y, max(radius, 0.1)) for (x, y), radius in laid.patches],
        "lines": [[(x, -y) for x, y in line] for line in laid.lines],
    }


def _drawn_animals(trace: Trace, paths: list[list[Key]], time: float) -> list[dict[str, Any]]:
    drawn = []
    for animal, path in zip(trace.animals, paths, strict=True):
        place = plan.at(path, time) or plan.Key(time, 0.0, 0.0, 0.0, kinds.AWAY)
        number = animal.label.split()[-1]
        turn, ahead = -place.heading, place.ahead * animal.length
        behind = ahead - animal.length / 2 - NAME_BEHIND
        drawn.append(
            {
                "label": animal.label,
                "short": _LETTER.get(animal.animal_class, animal.animal_class[:1].upper()) + number,
                "shape": shape(animal.animal_class, animal.length, animal.shoulder_width),
                "long": animal.length,
                "wide": animal.shoulder_width,
                "needs": animal.needed_height,
                "back": animal.back_height,
                "shown": place.state not in (kinds.AWAY, kinds.GONE),
                "x": place.x,
                "y": -place.y,
                "turn": turn,
                "ahead": ahead,
                "name_at": (behind * cos(radians(turn)), behind * sin(radians(turn))),
                "state": place.state.replace(" ", "-"),
            }
        )
    return drawn


def _legend(trace: Trace) -> list[dict[str, Any]]:
    """A sample of each class that there is: its outline, letter and words."""
    found: dict[str, dict[str, Any]] = {}
    for animal in trace.animals:
        name = animal.animal_class
        found.setdefault(
            name,
            {
                "name": name,
                "shape": shape(name, animal.length, animal.shoulder_width),
                "words": f"{_LETTER.get(name, name[:1].upper())} {name}: {TOLD.get(name, 'plain')}",
            },
        )
    return list(found.values())
