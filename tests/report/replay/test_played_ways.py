"""The replay goes the ways that were played: every place inside the fence is the night's own."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, dist, hypot, radians, sin

import pytest

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace, TraceAnimal
from soundergate.engine.trace.trace_parts import TraceCorral, TraceOpening, TraceWalk
from soundergate.report.replay import plan_view as plan
from soundergate.report.replay.drawing import replay_data
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.places import Point

ROUNDING = 0.001
"""m; a page holds places to the millimetre."""
BUSY = {"movement.roam": "20 s", "movement.outing_share": 0.6}
"""Animals that move about a lot."""

SOW = TraceAnimal("sow 1", "sow", 70.0, 0.72, 0.26, 1.22, 0.61)

NIGHTS = {
    "line": ("line", 1, {}),
    "a line by the bait": ("line", 3, {"trigger.distance": "20 ft", **BUSY}),
    "leaves": ("leaf", 1, {}),
    "two gates": ("watch", 2, BUSY),
    "slips out of a one-way entrance": ("curl", 1, {}),
    "slips out while it moves about": ("curl", 2, BUSY),
    "several sounders": ("many", 2, {}),
    "either": ("either", 4, BUSY),
}


@pytest.fixture(scope="module", params=NIGHTS)
def played(request: pytest.FixtureRequest) -> Trace:
    name, number, values = NIGHTS[request.param]
    scenario = loads(examples.text(name), name)
    return trace_night(with_values(scenario, values) if values else scenario, 1, number)


def place_of(trace: Trace, animal: int, time: float) -> Point:
    """Where the night has an animal, told plainly from the list of its ways."""
    begun: list[TraceWalk] = [w for w in trace.walks if w.animal == animal and w.start <= time]
    last = begun[-1]
    if last.stop <= time:
        return last.b
    share = (time - last.start) / (last.stop - last.start)
    return tuple(p + share * (q - p) for p, q in zip(last.a, last.b, strict=True))  # type: ignore[return-value]


def happens_inside(trace: Trace) -> Iterator[tuple[float, int, str]]:
    """(time, animal, kind) of every event of one that stands inside just after it."""
    spans: dict[int, list[tuple[str, float, float]]] = {}
    for animal, state, start, stop in trace.segments():
        spans.setdefault(animal, []).append((state, start, stop))
    for event in trace.events:
        states = [s for s, start, stop in spans.get(event.animal, ()) if start <= event.time < stop]
        if states and states[-1] in kinds.INSIDE_STATES:
            yield event.time, event.animal, event.kind


def drawn(trace: Trace) -> list[list[plan.Key]]:
    """The paths as the page has them, rounded, with y up again."""
    data = replay_data(trace)
    states = list(kinds.STATES)
    return [
        [plan.Key(t, x, -y, -turn, states[state], ahead) for t, x, y, turn, state, ahead in path]
        for path in data["paths"]
    ]


def test_every_event_inside_is_drawn_where_it_was_played(played: Trace) -> None:
    paths, seen = drawn(played), []
    for time, animal, kind in happens_inside(played):
        key = plan.at(paths[animal], time + 1e-4)
        assert key is not None
        moves = 12.0 * 2e-4  # m, as far as a running one comes in what times are rounded by
        far = dist((key.x, key.y), place_of(played, animal, time))
        assert far < 2 * ROUNDING + moves, (played.name(animal), kind, time)
        seen.append(kind)
    assert {"is inside", "reaches the bait", "feeds"} <= {*seen}
    assert len(seen) >= 20


def test_all_of_the_time_between_is_as_it_was_played(played: Trace) -> None:
    """Outings too; only one that breaks out leaves its ways, after its last event inside."""
    paths, gets_out = plan.paths(played), played.breakouts()
    checked = 0
    for walk in played.walks:
        if walk.a == walk.b:
            continue
        for share in (0.02, 0.5, 0.98):
            time = walk.start + share * (walk.stop - walk.start)
            key = plan.at(paths[walk.animal], time)
            assert key is not None
            if key.state not in kinds.INSIDE_STATES:
                assert walk.animal in gets_out
                continue
            assert dist((key.x, key.y), place_of(played, walk.animal, time)) < 1e-6
            checked += 1
    assert checked > 20


def test_nobody_inside_leaves_the_fence(played: Trace) -> None:
    radius = played.corral.diameter / 2
    for path, animal in zip(plan.paths(played), played.animals, strict=True):
        for key in path:
            if key.state in kinds.INSIDE_STATES:
                assert hypot(key.x, key.y) <= radius + 1e-9
                for end in (plan.SNOUT, plan.TAIL):
                    far = (key.ahead + end) * animal.length
                    x = key.x + far * cos(radians(key.heading))
                    y = key.y + far * sin(radians(key.heading))
                    assert hypot(x, y) <= radius + 0.02, (animal.label, key)


def test_a_place_lies_under_its_body(played: Trace) -> None:
    for path in plan.paths(played):
        assert all(-0.5 <= key.ahead <= 0.5 for key in path)


@pytest.mark.parametrize("distance", ["8 ft", "22 ft"])
def test_a_line_is_touched_by_one_that_is_drawn_on_it(distance: str) -> None:
    scenario = loads(examples.text("line"), "line")
    scenario = with_values(scenario, {"trigger.distance": distance, **BUSY})
    touches = 0
    for number in range(4):
        trace = trace_night(scenario, 1, number)
        ((ax, ay), (bx, by)) = trace.corral.lines[0]
        assert ay == pytest.approx(by)
        paths = drawn(trace)
        for event in trace.events:
            if event.kind == "touches the line":
                key = plan.at(paths[event.animal], event.time)
                assert key is not None
                assert abs(key.y - ay) < 0.01
                assert min(ax, bx) - 0.01 < key.x < max(ax, bx) + 0.01
                touches += 1
    assert touches >= 4


def test_one_that_breaks_out_first_ends_its_ways() -> None:
    """It is drawn on its way to the fence only from where, and when, it has come to stand."""
    corral = TraceCorral(8.0, (TraceOpening(0.0, 1.2, 0.9, "push panel"),), (((0.0, -1.0), 0.9),))
    for moved_until, time_enough in ((99.0, False), (80.0, True)):
        trace = Trace((SOW,), corral)
        for time, kind in ((0.0, "arrives"), (5.0, "steps in"), (7.0, "is inside"),
                           (20.0, "feeds"), (100.0, "slips out")):  # fmt: skip
            trace.record(time, kind, animal=0, opening=0)
        trace.walk(0, 7.0, 7.0, (0.0, 4.0), (0.0, 4.0))
        trace.walk(0, 7.0, 12.0, (0.0, 4.0), (0.0, -1.0))
        trace.walk(0, moved_until - 4.0, moved_until, (0.0, -1.0), (2.0, -3.0))
        trace.fates = ["escaped_after"]
        (path,) = plan.paths(trace)
        for time in (moved_until - 3.0, moved_until - 1.0, moved_until):
            key = plan.at(path, time)
            assert key is not None
            assert dist((key.x, key.y), place_of(trace, 0, time)) < 1e-9
        out = plan.at(path, 100.0)
        assert out is not None
        assert (dist((out.x, out.y), (0.0, 4.0)) < 1e-9) == time_enough
        last = path[-1]
        assert hypot(last.x, last.y) > 4.0
