"""What became of each animal: the row of the batch engine, what the telling hands on, and what can
be read off the events alone are one and the same, on every named night."""

from __future__ import annotations

from collections import Counter

import pytest

from soundergate.engine import play
from soundergate.engine.codes import CAUGHT, ESCAPED_AFTER, ESCAPED_BEFORE, ESCAPED_DURING, FATES
from soundergate.engine.codes import NEVER_ENTERED as NEVER
from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace
from soundergate.report import style
from soundergate.studies.estimates.tally import Tally


def fates_by_events(trace: Trace) -> list[str]:
    """Each animal's fate by the words of MODEL.md, from events in the order they were told."""
    inside: set[int] = set()
    ever, at_release, broke_out, shut = set(), set(), set(), set()
    alarmed = False

    def holds(shut: set[int]) -> bool:
        ways = enumerate(trace.corral.openings)
        return all(opening.one_way or o in shut for o, opening in ways)

    for event in trace.events:
        if event.kind == "gate moves" and not alarmed:
            alarmed, at_release = True, set(inside)
        elif event.kind == "gate shut":
            shut.add(event.opening)
        if event.animal is None:
            continue
        if event.kind == "is inside":
            inside.add(event.animal)
            ever.add(event.animal)
        elif event.kind == "steps out":
            inside.discard(event.animal)
        elif event.kind in kinds.BREAKOUTS:
            inside.discard(event.animal)
            broke_out |= {event.animal} if holds(shut) else set()
    found = []
    for i in range(trace.group_size):
        if holds(shut) and i in inside:
            found.append(CAUGHT)
        elif i in broke_out:
            found.append(ESCAPED_AFTER)
        elif i in at_release:
            found.append(ESCAPED_DURING)
        else:
            found.append(ESCAPED_BEFORE if i in ever else NEVER)
    return found


ENDS = {
    CAUGHT: {kinds.CAUGHT},
    ESCAPED_AFTER: {kinds.ESCAPED},
    ESCAPED_DURING: {kinds.ESCAPED},
    ESCAPED_BEFORE: {kinds.OUTSIDE, kinds.GONE, kinds.WAITING, kinds.CROSSING_IN},
    NEVER: {kinds.AWAY, kinds.OUTSIDE, kinds.GONE, kinds.WAITING, kinds.CROSSING_IN},
}
"""How the lane of an animal may end."""
IN_AN_OPEN_TRAP = kinds.INSIDE_STATES - {kinds.CAUGHT} | {kinds.CROSSING_OUT}


def check_told(scenario, plan, seed: int, nights: int) -> None:
    rows = play(plan, seed, 0, nights, "batch")
    for number in range(nights):
        trace = trace_night(scenario, seed, number)
        count = Counter(trace.fates)
        assert {fate: rows[fate][number] for fate in FATES} == {f: count[f] for f in FATES}, number
        assert trace.fates == fates_by_events(trace), number
        last = {animal: state for animal, state, _, _ in trace.segments()}
        for animal, fate in enumerate(trace.fates):
            ends = set(ENDS[fate])
            if fate in (ESCAPED_BEFORE, ESCAPED_DURING):
                ends |= IN_AN_OPEN_TRAP
            assert last.get(animal, kinds.AWAY) in ends, (number, trace.name(animal), fate)


def test_named_night(sampled_night, base_table, scenario_of, plan_named) -> None:
    scenario = scenario_of(base_table, **sampled_night.change)
    check_told(scenario, plan_named(sampled_night), seed=11, nights=3)


@pytest.mark.slow
def test_named_night_many_times(named_night, base_table, scenario_of, plan_named) -> None:
    scenario = scenario_of(base_table, **named_night.change)
    check_told(scenario, plan_named(named_night), seed=1, nights=min(40, named_night.nights))


def test_the_frozen_leave_later_where_a_way_stands_open(
    night_named, base_table, scenario_of
) -> None:
    """One that froze and had a mind to leave heads out when that is due, and is out; where every
    gate has shut none does."""
    scenario = scenario_of(base_table, **night_named("frozen beside a gate that hangs").change)
    hung, shut = 0, 0
    for number in range(40):
        trace = trace_night(scenario, 11, number)
        kinds_of: dict[int, list[str]] = {i: [] for i in range(trace.group_size)}
        for event in trace.events:
            if event.animal is not None:
                kinds_of[event.animal].append(event.kind)
        frozen = [told for told in kinds_of.values() if "freezes" in told]
        after = [told[told.index("freezes") + 1 :] for told in frozen]
        if any(event.kind == "gate shut" for event in trace.events):
            shut += len(after)
            assert all("is out" not in told for told in after)
        else:
            hung += len(after)
            assert all(told.index("heads out") < told.index("is out") for told in after)
    assert min(hung, shut) > 20


def test_every_page_and_table_knows_the_same_fates() -> None:
    assert set(style.FATES) == set(FATES) == set(Tally().fates)
    assert len(style.FATES) == len(FATES) == 5
