"""The night replay: everyone on the right side of the fence, at the right time."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from math import cos, hypot, pi, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.trace import Trace, TraceCorral, TraceOpening
from soundergate.engine.trace.trace_parts import TraceEvent
from soundergate.report.replay import plan_view as plan
from soundergate.report.replay.drawing import clear_at, replay, replay_data, words_of


def corral(bearing: float = 0.0, line: float | None = 6.0) -> TraceCorral:
    return TraceCorral(8.0, (TraceOpening(bearing, 1.2, 0.9),), 5.0, 0.5, line)


def test_the_first_opening_at_bearing_zero_is_at_the_top() -> None:
    laid = plan.ground(corral())
    assert laid.mouths[0].middle == pytest.approx((0.0, 4.0))
    assert laid.bait == pytest.approx((0.0, -1.0))
    assert laid.mouths[0].at(1.0) == pytest.approx((0.0, 3.0))


@given(st.floats(0, 2 * pi), st.floats(0.1, 7.9))
def test_the_line_is_a_chord_at_its_distance(bearing: float, distance: float) -> None:
    laid = plan.ground(corral(bearing, distance))
    assert laid.line is not None
    (ax, ay), (bx, by) = laid.line
    assert hypot(ax, ay) == pytest.approx(4.0)
    assert hypot(bx, by) == pytest.approx(4.0)
    middle = laid.mouths[0].at(distance)
    assert ((ax + bx) / 2, (ay + by) / 2) == pytest.approx(middle, abs=1e-9)


@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 1))
def test_within_keeps_to_the_inside_and_to_the_direction(x: float, y: float, margin: float) -> None:
    laid = plan.ground(corral())
    moved = laid.within((x, y), margin)
    assert hypot(*moved) <= 4.0 - margin + 1e-9 or hypot(x, y) <= 4.0 - margin
    assert moved[0] * y == pytest.approx(moved[1] * x, abs=1e-6)


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
                assert distance < radius, (any_night.name(animal), state)
            elif state in (kinds.OUTSIDE, kinds.WAITING, kinds.ESCAPED, kinds.GONE):
                reach = any_night.animals[animal].length
                assert distance > radius - reach, (any_night.name(animal), state)
            checked += 1
    assert checked > 100


def test_a_crossing_passes_through_its_opening(two_gates: Trace) -> None:
    laid = plan.ground(two_gates.corral)
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
    laid, paths = plan.ground(night.corral), plan.paths(night)
    at_bait = [plan.at(path, 4020.0) for path in paths]
    feeding = [place for place in at_bait if place is not None and place.state == kinds.FEEDING]
    assert len(feeding) == 10
    for place in feeding:
        dx, dy = laid.bait[0] - place.x, laid.bait[1] - place.y
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
    assert "The release, 1:07:01.0 after the trap was set: 10 of 11 inside" in still
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
