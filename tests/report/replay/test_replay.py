"""The night replay: everyone on the right side of the fence, at the right time."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import pairwise
from math import cos, dist, hypot, pi, radians, sin

import pytest

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.trace import Trace, TraceCorral, TraceOpening
from soundergate.engine.trace.trace_parts import TraceEvent
from soundergate.report.replay import plan_view as plan
from soundergate.report.replay import times
from soundergate.report.replay.drawing import replay, replay_data, words_of
from soundergate.report.replay.gates import clear_at, fronts, leaves_of
from soundergate.report.replay.ground import ground
from soundergate.report.replay.shapes import TOLD, shape
from soundergate.scenario.sounder import CLASSES
from soundergate.scenario.unit_system import SI


def test_the_first_opening_at_bearing_zero_is_at_the_top() -> None:
    laid = ground(TraceCorral(8.0, (TraceOpening(0.0, 1.2, 0.9),), (((0.0, -1.0), 0.9),)))
    assert laid.mouths[0].middle == pytest.approx((0.0, 4.0))
    assert laid.mouths[0].at(1.0) == pytest.approx((0.0, 3.0))
    assert laid.patches == (((0.0, -1.0), 0.9),)


@pytest.fixture(params=["night", "open_night", "two_gates"])
def any_night(request: pytest.FixtureRequest) -> Trace:
    return request.getfixturevalue(request.param)


def test_states_agree_with_the_fence(any_night: Trace) -> None:
    """At rest or on the way: inside the fence when inside, outside it when outside."""
    radius = any_night.corral.diameter / 2
    paths = plan.paths(any_night)
    checked = 0
    for animal, state, start, stop in any_night.segments():
        for share in (0.1, 0.5, 0.9):
            place = plan.at(paths[animal], start + share * (stop - start))
            if place is None:
                assert state == kinds.AWAY
                continue
            assert place.state == state
            distance = hypot(place.x, place.y)
            if state in kinds.INSIDE_STATES:
                assert distance <= radius + 1e-9, (any_night.name(animal), state)
            elif state in (kinds.OUTSIDE, kinds.WAITING, kinds.ESCAPED, kinds.GONE):
                reach = any_night.animals[animal].length
                assert distance > radius - reach, (any_night.name(animal), state)
            checked += 1
    assert checked > 100


def test_a_crossing_passes_through_its_opening(two_gates: Trace) -> None:
    laid = ground(two_gates.corral)
    paths = plan.paths(two_gates)
    crossings = [s for s in two_gates.segments() if s[1] in (kinds.CROSSING_IN, kinds.CROSSING_OUT)]
    assert len(crossings) >= 12
    for animal, _, start, stop in crossings:
        place = plan.at(paths[animal], (start + stop) / 2)
        assert place is not None
        x, y = laid.mouths[0].middle
        assert hypot(place.x - x, place.y - y) <= laid.mouths[0].width / 2


def test_nobody_jumps(any_night: Trace) -> None:
    """No animal is drawn faster than it can run, 12 m/s; a bolting one as the night had it."""
    for path in plan.paths(any_night):
        for here, following in pairwise(path):
            if here.state == kinds.BOLTING:
                continue
            step = hypot(following.x - here.x, following.y - here.y)
            seconds = following.time - here.time
            assert seconds >= -1e-9
            assert step <= 12 * seconds + 0.01, (here, following)


def test_feeding_animals_face_the_bait_and_stand_apart(night: Trace) -> None:
    laid, paths = ground(night.corral), plan.paths(night)
    at_bait = [plan.at(path, 4020.0) for path in paths]
    feeding = [place for place in at_bait if place is not None and place.state == kinds.FEEDING]
    assert len(feeding) == 10
    for place in feeding:
        dx, dy = laid.patches[0][0][0] - place.x, laid.patches[0][0][1] - place.y
        assert cos(radians(place.heading)) * dx > -0.2 * hypot(dx, dy)
    for k, one in enumerate(feeding):
        for other in feeding[k + 1 :]:
            assert hypot(one.x - other.x, one.y - other.y) > 0.3


def test_an_animal_that_turns_back_in_the_opening_does_not_pass_it(night: Trace) -> None:
    trace = Trace(night.animals[:1], night.corral)
    for time, kind in [(1.0, "arrives"), (5.0, "comes to the opening"), (9.0, "steps in")]:
        trace.record(time, kind, animal=0, opening=0)
    trace.record(10.0, "turns back", animal=0, opening=0)
    trace.record(60.0, "trap check")
    radius = night.corral.diameter / 2
    (path,) = plan.paths(trace)
    assert all(hypot(key.x, key.y) > radius - 0.05 for key in path)


def test_clear_height_between_the_points_of_the_closing(night: Trace) -> None:
    assert clear_at(night, 0, 0.0) == 0.91
    t0, c0 = night.closing[0][5]
    t1, c1 = night.closing[0][6]
    assert clear_at(night, 0, (t0 + t1) / 2) == pytest.approx((c0 + c1) / 2)
    assert clear_at(night, 0, 1e9) == pytest.approx(0.0, abs=1e-12)


def test_words_of_an_event_name_opening_only_where_there_are_several(
    night: Trace, two_gates: Trace
) -> None:
    event = TraceEvent(1.0, "steps in", 0, 1, 0, 0, "in a hurry")
    assert words_of(night, event) == "sow 1 steps in (in a hurry)"
    assert words_of(two_gates, event) == "sow 1 steps in (opening 2, in a hurry)"


def test_data_of_the_page_is_the_night(night: Trace) -> None:
    data = json.loads(json.dumps(replay_data(night)))
    assert data["release"] == night.release_time
    assert data["start"] < night.first_arrival < data["stop"]
    assert len(data["paths"]) == 11
    assert data["inside"][-1][1] == 9
    assert [step[1] for step in data["bait"]] == [0, 1, 2]
    assert data["fronts"][0]["closing"][-1][1] == 0.0
    # the one crossing that was under way while the gate fell
    falling = [c for who in data["crossings"] for c in who if c[0] > night.release_time]
    assert falling == [[4021.3, 4021.55, 0]]


def test_the_still_shows_the_release_without_any_script(night: Trace) -> None:
    fragment = str(replay(night))
    still = fragment[: fragment.index("<script")]
    assert (
        "The release, 6 min 51.0 s after the first pig came (1:07 after the set): 10 of 11 inside"
        in still
    )
    assert len(re.findall(r'class="pig feeding"', still)) == 10
    assert len(re.findall(r'class="pig waiting"', still)) == 1
    assert "91 cm clear" in still
    assert still.count("<li ") == len(night.events)


def test_a_night_on_which_nobody_came(night: Trace) -> None:
    trace = Trace(night.animals, night.corral)
    trace.record(36000.0, "trap check")
    fragment = str(replay(trace))
    assert "0 of 11 inside" in fragment
    assert 'class="pig away"' in fragment


def test_every_class_has_an_outline_and_marks_of_its_own() -> None:
    """Of one size they still differ, so the picture needs no colour; all keep to their length."""
    shapes = {name: shape(name, 1.2, 0.3) for name in TOLD}
    assert set(TOLD) == set(CLASSES)
    assert len({one.outline for one in shapes.values()}) == len(TOLD)
    assert len({(one.ears, one.marks) for one in shapes.values()}) == len(TOLD)
    for one in shapes.values():
        ends = [float(x) for x in re.findall(r"(-?[\d.]+) -?[\d.]+", one.outline)]
        assert (min(ends), max(ends)) == (-0.6, 0.6)


def test_all_classes_of_a_night_are_explained(night: Trace) -> None:
    words = re.findall(r"</svg> (\w \w+: [^<]+)</li>", str(replay(night)))
    assert [line.split(":")[0] for line in words] == ["S sow", "J juvenile", "P piglet"]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.0, "0 min 0.0 s"), (290.31, "4 min 50.3 s"), (59.97, "1 min 0.0 s"),
     (-63.0, "−1 min 3.0 s"), (-0.01, "0 min 0.0 s"), (21407.7, "356 min 47.7 s")],
)  # fmt: skip
def test_times_since_the_first_pig(seconds: float, words: str) -> None:
    assert times.minutes(seconds) == words


def test_a_clock_shows_the_minute_that_has_begun() -> None:
    assert [times.short_clock(s) for s in (59.9, 60.0, 9544.5, 36000.0)] == [
        "0:00", "0:01", "2:39", "10:00",
    ]  # fmt: skip


def test_every_event_has_both_times(night: Trace) -> None:
    fragment = str(replay(night))
    rows = re.findall(r'"when">([^<]+)</span> <span class="clock">([^<]+)</span>', fragment)
    assert rows[0] == ("0 min 0.0 s", "1:00")
    assert len(rows) == len(night.events)


def leaved(leaves: int, bearing: float = 0.0) -> Trace:
    """A side-hinged gate of 2 m that shuts within a second."""
    shape = TraceOpening(bearing, 2.0, 0.9, "side-hinged", "gap", leaves, pi / 2)
    trace = Trace((), TraceCorral(8.0, (shape,), ()))
    trace.closing = [[(10.0, 2.0), (10.2, 2.0), (10.6, 1.0), (11.0, 0.0)]]
    return trace


@pytest.mark.parametrize("bearing", [0.0, 1.0, 3.0, 5.0])
@pytest.mark.parametrize("leaves", [1, 2])
def test_leaves_swing_outside_and_lie_across_the_opening_when_shut(
    leaves: int, bearing: float
) -> None:
    trace = leaved(leaves, bearing)
    mouth = ground(trace.corral).mouths[0]
    for time, gap in ((0.0, 2.0), (10.6, 1.0), (11.0, 0.0)):
        found = leaves_of(trace, 0, mouth, time)
        assert len(found) == leaves
        edges, posts = [], []
        for leaf in found:
            turn = radians(leaf["turn"])
            x, y = leaf["x"], -leaf["y"]
            posts.append((x, y))
            edges.append((x + leaf["width"] * cos(turn), y - leaf["width"] * sin(turn)))
            assert dist((x, y), mouth.middle) == pytest.approx(1.0)
            assert hypot(*edges[-1]) > 4.0 - 1e-9 or gap == 0.0
        if leaves == 1:
            other = (2 * mouth.middle[0] - posts[0][0], 2 * mouth.middle[1] - posts[0][1])
            between = dist(edges[0], other)
        else:
            between = dist(*edges)
        if time > 10.0:
            assert between == pytest.approx(gap, abs=1e-6)


def test_a_leaf_hangs_at_the_same_side_from_above_and_from_inside() -> None:
    """At the top of the plan the left of one who looks out is the left of the page."""
    trace = leaved(1)
    (leaf,) = leaves_of(trace, 0, ground(trace.corral).mouths[0], 11.0)
    assert leaf["x"] == pytest.approx(-1.0)
    (front,) = fronts(trace, 10.6, SI)
    assert front["panel"] == pytest.approx(1.0)
    still = str(replay(replace(trace, release_time=10.6)))
    assert re.findall(r'class="panel" x="([^"]+)"', still) == ["0"]
    both = str(replay(replace(leaved(2), release_time=10.6)))
    assert re.findall(r'class="panel" x="([^"]+)"', both) == ["0", "1.500"]


def test_the_page_turns_leaves_as_they_were_computed() -> None:
    (front,) = replay_data(leaved(2))["fronts"]
    assert front["turn"] == 90.0
    assert [turn for _, _, turn in front["closing"]] == [90.0, 90.0, 60.0, 0.0]
