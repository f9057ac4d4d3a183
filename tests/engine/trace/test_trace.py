"""The written night: states from events and fates, times in words, the table."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.codes import FATES
from soundergate.engine.trace.event_kinds import ANIMAL_KINDS, KINDS, STATES
from soundergate.engine.trace.labels import clock, labels, outcome_words
from soundergate.engine.trace.trace import Trace, TraceAnimal, TraceCorral, TraceOpening


def animal(label: str = "sow 1") -> TraceAnimal:
    return TraceAnimal(label, label.split()[0], 70.0, 0.72, 0.26, 1.22, 0.61)


def empty_trace(number: int = 1) -> Trace:
    corral = TraceCorral(8.0, (TraceOpening(0.0, 1.2, 0.9),), bait_distance=5.5)
    names = labels(["sow"] * number)
    return Trace(tuple(animal(name) for name in names), corral)


def spans(trace: Trace, who: int = 0) -> list[tuple[str, float, float]]:
    return [(state, start, stop) for one, state, start, stop in trace.segments() if one == who]


def visit(trace: Trace, who: int, start: float) -> None:
    for offset, kind in [
        (0, "arrives"),
        (5, "comes to the opening"),
        (9, "steps in"),
        (11, "is inside"),
        (20, "feeds"),
    ]:
        trace.record(start + offset, kind, animal=who, inside=int(offset >= 11))


def test_a_caught_animal_goes_through_every_state_in_order() -> None:
    trace = empty_trace()
    visit(trace, 0, 100.0)
    trace.release_time, trace.shut_time, trace.fates = 200.0, [200.5], ["caught"]
    trace.record(200.0, "freezes", animal=0, inside=1)
    trace.record(900.0, "trap check", inside=1)
    assert spans(trace) == [
        ("away", 0.0, 100.0),
        ("outside", 100.0, 105.0),
        ("waiting", 105.0, 109.0),
        ("crossing in", 109.0, 111.0),
        ("inside", 111.0, 120.0),
        ("feeding", 120.0, 200.0),
        ("inside", 200.0, 200.5),
        ("caught", 200.5, 900.0),
    ]


def test_an_animal_that_bolts_out_is_escaped_from_the_moment_it_is_out() -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    trace.release_time, trace.shut_time, trace.fates = 60.0, [61.0], ["escaped_during"]
    trace.record(60.2, "bolts", animal=0, inside=1)
    trace.record(60.5, "steps out", animal=0, inside=0)
    trace.record(60.9, "is out", animal=0)
    trace.record(70.0, "goes away", animal=0)
    trace.record(600.0, "trap check")
    assert spans(trace)[-3:] == [
        ("bolting", 60.2, 60.5),
        ("crossing out", 60.5, 60.9),
        ("escaped", 60.9, 600.0),
    ]


def test_leaving_before_the_release_is_no_escape_from_it() -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    for time, kind in [(30, "heads out"), (32, "steps out"), (34, "is out"), (40, "goes away")]:
        trace.record(time, kind, animal=0)
    trace.release_time, trace.shut_time, trace.fates = 60.0, [61.0], ["escaped_before"]
    trace.record(600.0, "trap check")
    assert spans(trace)[-1] == ("gone", 40.0, 600.0)
    assert "escaped" not in {state for state, _, _ in spans(trace)}


@pytest.mark.parametrize(
    ("fate", "end"),
    [("escaped_before", "feeding"), ("escaped_during", "feeding"), ("caught", "caught")],
)
def test_one_that_is_inside_at_the_check_is_caught_if_its_fate_says_so(fate: str, end: str) -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    trace.record(600.0, "trap check", inside=1)
    assert spans(trace)[-1][0] == "feeding"  # while the night is still being told
    trace.fates = [fate]
    assert spans(trace)[-1][0] == end


def test_one_that_leaves_by_another_gate_long_after_one_shut_is_escaped_from_then() -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    trace.release_time, trace.shut_time, trace.fates = 60.0, [61.0], ["escaped_during"]
    trace.record(900.0, "steps out", animal=0)
    trace.record(902.0, "is out", animal=0)
    trace.record(1200.0, "trap check")
    assert spans(trace)[-1] == ("escaped", 902.0, 1200.0)


def test_one_way_entrance_holds_from_the_last_entry() -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    trace.fates = ["caught"]
    trace.record(600.0, "trap check", inside=1)
    assert spans(trace)[-1] == ("caught", 11.0, 600.0)


@pytest.mark.parametrize(
    ("going", "left_as"), [("steps in", "outside"), ("steps out", "inside"), ("feeds", "feeding")]
)
def test_turning_back_returns_to_the_side_it_came_from(going: str, left_as: str) -> None:
    trace = empty_trace()
    trace.record(10.0, going, animal=0)
    trace.record(11.0, "turns back", animal=0)
    trace.record(20.0, "trap check")
    assert spans(trace)[-1][0] == left_as


def test_events_recorded_ahead_are_told_in_order_of_time() -> None:
    trace = empty_trace()
    trace.record(5.0, "gate shut", opening=0)
    trace.record(2.0, "arrives", animal=0)
    assert [event.kind for event in trace.in_order()] == ["arrives", "gate shut"]
    assert trace.first_arrival == 2.0
    assert trace.end_time == 5.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"time": 1.0, "kind": "flies"}, "'flies' is no kind of event; use one of arrives"),
        ({"time": 1.0, "kind": "feeds"}, "an event 'feeds' must name the animal"),
        ({"time": math.inf, "kind": "gate shut"}, "time of 'gate shut' is inf"),
    ],
)
def test_a_wrong_event_is_refused_in_words(arguments: dict, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        empty_trace().record(**arguments)


def test_labels_count_within_a_class() -> None:
    assert labels(["sow", "juvenile", "sow", "boar"]) == ["sow 1", "juvenile 1", "sow 2", "boar 1"]


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00:00.0"), (5025.34, "1:23:45.3"), (59.96, "0:01:00.0"), (36000, "10:00:00.0")],
)
def test_clock(seconds: float, text: str) -> None:
    assert clock(seconds) == text


@given(st.floats(0, 4e5))
def test_clock_reads_back_to_a_tenth(seconds: float) -> None:
    hours, minutes, rest = clock(seconds).split(":")
    assert int(minutes) < 60
    assert float(rest) < 60
    again = int(hours) * 3600 + int(minutes) * 60 + float(rest)
    assert again == pytest.approx(seconds, abs=0.0501)


def test_table_names_the_animal_the_event_and_the_bait() -> None:
    trace = empty_trace()
    trace.record(60.0, "bait level", inside=1, bait_level=1)
    trace.record(61.0, "feeds", animal=0, inside=1, bait_level=1, note="first")
    assert list(trace.table.iloc[1]) == ["0:01:01.0", "sow 1", "feeds (first)", 1, "75 to 50 %"]


def test_bait_is_gone_only_when_an_event_says_so() -> None:
    """Once a gate has moved nothing feeds; that the rates then see "gone" is not bait eaten."""
    trace = empty_trace()
    trace.record(60.0, "bait level", inside=1, bait_level=1)
    trace.record(70.0, "gate moves", opening=0, inside=1, bait_level=4)
    assert trace.bait_steps() == [(0.0, 0), (60.0, 1)]
    assert list(trace.table["bait"]) == ["75 to 50 %", "75 to 50 %"]


def test_inside_steps_only_lists_changes() -> None:
    trace = empty_trace()
    visit(trace, 0, 0.0)
    assert trace.inside_steps() == [(0.0, 0), (11.0, 1)]


def test_outcome_words() -> None:
    row = {
        "group_size": 11,
        "caught": 9,
        "escaped_during": 1,
        "escaped_after": 0,
        "escaped_before": 0,
        "never_entered": 1,
    }
    assert outcome_words(row) == "9 of 11 caught; 1 escaped before it was shut; 1 never went in."


@given(
    st.lists(
        st.tuples(st.floats(0, 1e4), st.sampled_from(sorted(KINDS)), st.integers(0, 2)), max_size=40
    ),
    st.one_of(st.none(), st.floats(0, 1e4)),
    st.one_of(st.none(), st.floats(0, 1e4)),
    st.lists(st.sampled_from(FATES), min_size=3, max_size=3),
)
def test_segments_tile_the_night_whatever_happens(
    events: list[tuple[float, str, int]],
    release: float | None,
    shut: float | None,
    fates: list[str],
) -> None:
    trace = empty_trace(3)
    trace.release_time, trace.shut_time, trace.fates = release, [shut], fates
    for time, kind, who in events:
        trace.record(time, kind, animal=who if kind in ANIMAL_KINDS else None)
    for who in range(3):
        mine = spans(trace, who)
        assert all(state in STATES for state, _, _ in mine)
        assert all(before[2] == after[1] for before, after in itertools.pairwise(mine))
        assert all(start <= stop for _, start, stop in mine)
        if mine:
            assert mine[0][1] == 0.0
            assert mine[-1][2] == trace.end_time
