"""What is told after the closure: which opening one gets out by, what one does that comes back."""

from __future__ import annotations

import pytest

from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace

BACK = "back through a gate that hangs"
BESIDE = "late entry by a one-way entrance beside a gate"
SHUT_IN = "one that comes back is shut in with a hole"
FROZEN = "frozen beside a gate that hangs"
NAMES = (BACK, BESIDE, SHUT_IN, FROZEN)


@pytest.fixture(scope="module")
def traces(night_named, base_table, scenario_of) -> dict[str, list[Trace]]:
    return {
        name: [
            trace_night(scenario_of(base_table, **night_named(name).change), 11, number)
            for number in range(12)
        ]
        for name in NAMES
    }


def every(traces: dict[str, list[Trace]], kind: str):
    found = [
        (trace, place, event)
        for nights in traces.values()
        for trace in nights
        for place, event in enumerate(trace.events)
        if event.kind == kind
    ]
    assert found, kind
    return found


def test_who_comes_back_goes_in_or_stays_outside(traces) -> None:
    notes = set()
    for trace, place, event in every(traces, "comes back"):
        following = next((e for e in trace.events[place + 1 :] if e.animal == event.animal), None)
        goes = following is not None and following.kind == "comes to the opening"
        assert (event.note != "stays outside") == goes == (event.opening is not None)
        if goes:
            one_way = trace.corral.openings[event.opening].one_way
            assert event.note == ("pushes in" if one_way else "goes in")
            assert following.time == event.time
            assert following.opening == event.opening
        notes.add(event.note)
    assert notes == {"stays outside", "pushes in", "goes in"}


def test_one_slips_out_by_the_opening_that_another_comes_in_by(traces) -> None:
    for trace, place, event in every(traces, "slips out"):
        came = [e for e in trace.events[:place] if e.kind == "is inside"][-1]
        assert (came.time, came.opening) == (event.time, event.opening)
        assert trace.corral.openings[event.opening].one_way


def test_a_gate_that_is_opened_from_inside_is_named(traces) -> None:
    opened = every(traces, "opens the gate")
    for trace, place, event in [*opened, *every(traces, "follows by the gate")]:
        assert event.opening is not None
        opening = trace.corral.openings[event.opening]
        told = [e.opening for e in trace.events[:place] if e.kind in ("lock fails", "gate shut")]
        assert opening.one_way or event.opening in told
        pushed = event.kind == "opens the gate" and opening.one_way
        assert (event.note == "pushes the one-way gate open from inside") == pushed


def test_one_finds_no_way_out_only_where_there_is_none(traces) -> None:
    for trace, place, _ in every(traces, "finds no way out"):
        shut = {e.opening for e in trace.events[:place] if e.kind == "gate shut"}
        openings = enumerate(trace.corral.openings)
        assert all(one.one_way or o in shut for o, one in openings)
        assert trace.events[place].inside > 0
