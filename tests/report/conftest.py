"""Hand-made nights and outcomes, invented, for pictures and pages to be tried on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shared.identities import check_identities
from soundergate.engine.outcomes import COLUMNS, Outcomes
from soundergate.engine.trace.labels import labels
from soundergate.engine.trace.trace import Trace, TraceAnimal, TraceCorral, TraceOpening
from soundergate.scenario.places import Point, from_opening
from soundergate.scenario.register import register
from soundergate.studies.estimates.paired import Difference
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.tornado import DifferenceTornado, Swing

MASSES = {"sow": 70.0, "boar": 95.0, "juvenile": 32.0, "piglet": 9.0}


def body(label: str) -> TraceAnimal:
    name = label.split()[0]
    mass = MASSES[name]
    scale = mass**0.33
    height = 0.178 * scale
    return TraceAnimal(label, name, mass, height, 0.064 * scale, 0.300 * scale, 0.85 * height)


def falling_gate(release: float, height: float, delay: float = 0.2) -> list[tuple[float, float]]:
    times = np.linspace(0.0, math.sqrt(2 * height / 9.0), 25)
    return [(release + delay + float(t), max(height - 4.5 * float(t) ** 2, 0.0)) for t in times]


Happening = tuple[float, str, int | None]


def walk_as_told(trace: Trace, happenings: list[Happening], bait: Point) -> None:
    """Straight in by opening 1 to a place round the bait by the time it feeds, and straight out."""
    mouth = from_opening(trace.corral.openings[0].bearing, trace.corral.diameter / 2, 0.0)
    for who in range(len(trace.animals)):
        turn = 2 * math.pi * who / len(trace.animals)
        place = (bait[0] + 0.75 * math.cos(turn), bait[1] + 0.75 * math.sin(turn))
        since = 0.0
        for time, kind, animal in sorted(happenings, key=lambda item: item[0]):
            if animal != who:
                continue
            if kind == "is inside":
                trace.walk(who, time, time, mouth, mouth)
            elif kind in ("feeds", "steps out"):
                ways = (mouth, place) if kind == "feeds" else (place, mouth)
                trace.walk(who, since, time, *ways)
            since = time


def make_night(openings: int = 1, caught_all: bool = False, released: bool = True) -> Trace:
    """Two sows, five juveniles, four piglets: one juvenile bolts out, one never goes in."""
    names = labels(["sow"] * 2 + ["juvenile"] * 5 + ["piglet"] * 4)
    fence = tuple(
        TraceOpening(2 * math.pi * k / openings + math.pi, 1.22, 0.91) for k in range(openings)
    )
    bait = from_opening(math.pi, 3.95, 5.5)
    line = tuple(from_opening(math.pi, 3.95, 6.7, side * 2.8) for side in (-1, 1))
    corral = TraceCorral(7.9, fence, ((bait, 0.8),), (line,), panel_height=1.52)
    trace = Trace(tuple(body(n) for n in names), corral, seed=1, night=17, title="Invented night")
    release, set_at = 4021.0, 3610.0
    inside = 0
    happenings: list[Happening] = []
    shy = set() if caught_all else {6}
    for who in range(len(names)):
        start = set_at + 7.3 * who
        happenings.append((start, "arrives", who))
        happenings.append((start + 20 + 3 * who, "comes to the opening", who))
        if who in shy:
            continue
        enters = start + 90 + 19.0 * who
        happenings += [
            (enters, "steps in", who),
            (enters + 1.6, "is inside", who),
            (enters + 6.0, "feeds", who),
        ]
    happenings += [
        (set_at + 200, "heads out", 1),
        (set_at + 203, "steps out", 1),
        (set_at + 205, "is out", 1),
        (set_at + 260, "comes to the opening", 1),
        (set_at + 280, "steps in", 1),
        (set_at + 282, "is inside", 1),
        (set_at + 290, "feeds", 1),
    ]
    shut = None
    if released:
        happenings.append((release - 0.6, "touches the line", 0))
        happenings.append((release, "trigger acts", None))
        happenings.append((release + 0.2, "gate moves", None))
        if not caught_all:
            happenings += [
                (release + 0.25, "bolts", 5),
                (release + 0.30, "steps out", 5),
                (release + 0.55, "is out", 5),
                (release + 30, "goes away", 5),
                (release + 90, "goes away", 6),
            ]
        happenings += [(release + 0.3, "freezes", 0), (release + 0.4, "freezes", 7)]
        shut = falling_gate(release, 0.91)[-1][0]
        happenings.append((shut, "gate shut", None))
    else:
        for kind, after in [("heads out", 400), ("steps out", 402), ("is out", 404)]:
            came_in = [who for who in range(11) if who not in shy]
            happenings += [(release + after + 9 * who, kind, who) for who in came_in]
        happenings += [(release + 600, "goes away", who) for who in range(11)]
    happenings += [(set_at + 150, "bait level", None), (set_at + 300, "bait level", None)]
    happenings.append((36000.0, "trap check", None))
    walk_as_told(trace, happenings, bait)
    for time, kind, who in sorted(happenings, key=lambda item: item[0]):
        inside += {"is inside": 1, "is out": -1}.get(kind, 0)
        first = 0 if kind in {"steps in", "steps out"} else None
        eaten = min(int(max(time - set_at, 0) / 150), 2)
        level = 4 if released and time > release else eaten
        trace.record(time, kind, animal=who, opening=first, inside=inside, bait_level=level)
    if released:
        trace.release_time = release
        trace.shut_time = [shut] * openings
        trace.closing = [falling_gate(release, 0.91, 0.2 + 0.08 * k) for k in range(openings)]
    else:
        trace.shut_time, trace.closing = [None] * openings, [[] for _ in range(openings)]
    caught = (11 if caught_all else 9) if released else 0
    trace.row = {
        "group_size": 11,
        "caught": caught,
        "escaped_before": 0 if released else 10,
        "escaped_during": int(released and not caught_all),
        "escaped_after": 0,
        "never_entered": len(shy),
        "released": released,
    }
    trace.fates = ["caught" if released else "escaped_before"] * len(names)
    for who in shy:
        trace.fates[who] = "never_entered"
    if released and not caught_all:
        trace.fates[5] = "escaped_during"
    return trace


def make_outcomes(nights: int, share: float, seed: int, size: int = 11) -> Outcomes:
    """Invented outcomes in which each animal is caught with probability `share`."""
    rng = np.random.default_rng(seed)
    outcomes = Outcomes.empty(nights)
    rest = 1 - share
    fates = rng.multinomial(
        size, [share, rest * 0.15, rest * 0.3, rest * 0.1, rest * 0.45], size=nights
    )
    names = ["caught", "escaped_before", "escaped_during", "escaped_after", "never_entered"]
    for column, name in enumerate(names):
        outcomes[name][:] = fates[:, column]
    for name, values in {
        "night": np.arange(nights),
        "group_size": size,
        "arrived": size,
        "released": True,
        "release_s": 4000.0,
        "inside_at_release": size - fates[:, 4] - fates[:, 1],
        "educated": fates[:, 2],
        "whole_group": fates[:, 0] == size,
        "night_s": 36000.0,
    }.items():
        outcomes[name][:] = values
    check_identities(outcomes)
    for name, _ in COLUMNS:
        outcomes[name].flags.writeable = False  # shared by the tests of a session
    return outcomes


@pytest.fixture(scope="session")
def night() -> Trace:
    return make_night()


@pytest.fixture(scope="session")
def open_night() -> Trace:
    """A night on which nothing was released."""
    return make_night(released=False)


@pytest.fixture(scope="session")
def two_gates() -> Trace:
    return make_night(openings=2, caught_all=True)


@pytest.fixture(scope="session")
def crowd() -> Trace:
    """Sixty animals; many bodies of much the same height under the gate as it falls."""
    names = labels(["sow"] * 20 + ["juvenile"] * 40)
    corral = TraceCorral(15.0, (TraceOpening(0.0, 2.4, 0.91),), (((0.0, -1.5), 0.9),))
    trace = Trace(tuple(body(name) for name in names), corral, title="Invented crowd")
    for who in range(len(names)):
        trace.record(100.0 + who, "arrives", animal=who)
        trace.record(300.0 + 2 * who, "steps in", animal=who, opening=0, inside=who)
        trace.record(301.5 + 2 * who, "is inside", animal=who, opening=0, inside=who + 1)
    trace.release_time, trace.closing = 500.0, [falling_gate(500.0, 0.91)]
    trace.shut_time = [trace.closing[0][-1][0]]
    for who in range(20, 26):
        trace.record(500.1, "bolts", animal=who, inside=60)
        trace.record(500.2, "steps out", animal=who, opening=0, inside=60)
        trace.record(500.4 + 0.01 * who, "is out", animal=who, opening=0, inside=79 - who)
    trace.fates = ["caught"] * len(names)
    trace.fates[20:26] = ["escaped_during"] * 6
    return trace


@pytest.fixture(scope="session")
def arms() -> dict[str, Outcomes]:
    return {
        "4 ft gate, line at 22 ft": make_outcomes(400, 0.62, 1),
        "8 ft gate, line at 22 ft": make_outcomes(400, 0.66, 2),
        "person on a radio link, waits for the last one": make_outcomes(400, 0.86, 3),
    }


@pytest.fixture(scope="session")
def leaning() -> DifferenceTornado:
    """A difference of 12 points that two defaults move, one of them past none at all."""

    def moved(by: float) -> Difference:
        return Difference(
            "a", "b", "fraction_caught", by, by - 0.02, by + 0.02, 0.95, 0.99, 1.0, 400, "of"
        )

    swings = [
        Swing(Input(name, (name,), register()[name]), moved(low), moved(high), moved(high - low))
        for name, low, high in (("entry.clock", -0.2, 0.4), ("entry.openness_slope", 0.0, 0.1))
    ]
    base = moved(0.12)
    return DifferenceTornado(
        "fraction_caught", base, swings, 400, 100, 80, 3, 1, 0.95, {}, "near", "far"
    )
