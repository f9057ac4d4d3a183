"""Animals that are held and get out: one-way entrances and breakouts, in words and drawn."""

from __future__ import annotations

from math import hypot

import pytest

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace, TraceCorral, TraceOpening
from soundergate.report.figures.night import night_figure
from soundergate.report.figures.night_lanes import time_axis
from soundergate.report.pages.page import render
from soundergate.report.pages.run import run_page
from soundergate.report.replay import plan_view as replay_plan
from soundergate.report.replay.drawing import replay, replay_data
from soundergate.report.replay.gates import clear_at
from soundergate.report.replay.ground import ground
from soundergate.report.words.answers import measures_shown, night_answer, run_answer
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.schema import Scenario
from soundergate.studies.estimate import run


def example(name: str) -> Scenario:
    """With captives that root under so soon that a night of seed 1 has one that does."""
    there = loads(examples.text(name), f"{name}.toml")
    return with_values(there, {"holding.root_clock": "500 h"})


def each_by_itself(name: str) -> Scenario:
    """The same, but nobody follows by a way that another has opened."""
    return with_values(example(name), {"holding.follow_clock": "never"})


@pytest.fixture(scope="module")
def pushed() -> Trace:
    """A one-way entrance, and several that get out again."""
    return trace_night(each_by_itself("curl"), 1, 1)


@pytest.fixture(scope="module")
def rooted() -> Trace:
    """Two leaves; hours after they shut one roots under."""
    return trace_night(each_by_itself("leaf"), 1, 1)


@pytest.fixture(scope="module")
def followed() -> Trace:
    """The same night, and others follow by the hole."""
    return trace_night(example("leaf"), 1, 1)


def test_those_that_follow_are_told_and_drawn(followed: Trace, rooted: Trace) -> None:
    ways = list(followed.breakouts().values())
    assert ways.count("roots under") == 1
    assert ways.count("follows by the hole") == len(ways) - 1 > 0
    assert followed.row["escaped_after"] == len(ways)
    assert followed.breakouts().keys() > rooted.breakouts().keys()
    paths, radius = replay_plan.paths(followed), followed.corral.diameter / 2
    for who in followed.breakouts():
        assert hypot(paths[who][-1].x, paths[who][-1].y) > radius
    texts = [text.get_text() for ax in night_figure(followed).axes for text in ax.texts]
    assert sum(text.startswith("followed by the hole") for text in texts) == len(ways) - 1


def test_breakouts_are_fates_as_the_row_counts_them(pushed: Trace, rooted: Trace) -> None:
    for trace in (pushed, rooted):
        assert trace.breakouts()
        assert len(trace.breakouts()) == trace.row["escaped_after"]


@pytest.mark.parametrize("name", ["push", "curl", "skirt", "many", "leaf", "either", "twin"])
def test_the_lanes_of_every_night_end_as_its_row_counts(name: str) -> None:
    """Night 15 of two gates is one on which several leave by the one that stays open."""
    scenario = example(name)
    for number in (*range(6), 15):
        trace = trace_night(scenario, 5, number)
        row, last = trace.row, dict.fromkeys(range(trace.group_size), kinds.AWAY)
        last |= {animal: state for animal, state, _, _ in trace.segments()}
        ends = list(last.values())
        assert trace.group_size == row["group_size"]
        assert ends.count(kinds.CAUGHT) == row["caught"], (name, number)
        open_inside = sum(end in kinds.INSIDE_STATES - {kinds.CAUGHT} for end in ends)
        escaped = row["escaped_during"] + row["escaped_after"]
        assert escaped - open_inside <= ends.count(kinds.ESCAPED) <= escaped, (name, number)


def test_held_until_it_gets_out(rooted: Trace) -> None:
    ((who, kind),) = rooted.breakouts().items()
    assert kind == "roots under"
    spans = [(state, start) for animal, state, start, _ in rooted.segments() if animal == who]
    assert [state for state, _ in spans[-2:]] == [kinds.CAUGHT, kinds.ESCAPED]
    assert spans[-2][1] == rooted.last_shut


def test_where_nothing_is_released_nothing_is_said_of_a_release(pushed: Trace) -> None:
    assert night_answer(pushed) == "1 of 8 caught; 7 went in and got out again."


def test_late_breakouts_do_not_squeeze_the_rest_of_the_picture(rooted: Trace) -> None:
    (out,) = [e.time for e in rooted.events if e.kind == "roots under"]
    assert time_axis(rooted).stop < out < time_axis(rooted, whole=True).stop
    words = [text.get_text() for ax in night_figure(rooted).axes for text in ax.texts]
    assert "rooted under, 8:30" in words


def test_a_breakout_leaves_over_the_fence_or_by_the_opening(pushed: Trace, rooted: Trace) -> None:
    for trace in (pushed, rooted):
        radius, laid = trace.corral.diameter / 2, ground(trace.corral)
        paths = replay_plan.paths(trace)
        for who, kind in trace.breakouts().items():
            (out,) = [e.time for e in trace.events if e.animal == who and e.kind == kind]
            place, later = (replay_plan.at(paths[who], out + s) for s in (0.0, 60.0))
            assert place is not None
            assert later is not None
            assert hypot(place.x, place.y) == pytest.approx(radius, abs=trace.animals[who].length)
            assert hypot(later.x, later.y) > radius
            if kind == "opens the gate":
                middles = [mouth.middle for mouth in laid.mouths]
                assert min(hypot(place.x - x, place.y - y) for x, y in middles) < 1.5


def test_a_one_way_entrance_is_open_only_while_one_is_in_it(pushed: Trace) -> None:
    steps = [e for e in pushed.in_order() if e.kind == "steps in"]
    first = steps[0]
    assert first.opening is not None
    assert clear_at(pushed, first.opening, first.time - 1.0) == 0.0
    assert clear_at(pushed, first.opening, first.time) > 0.5
    assert [front["oneWay"] for front in replay_data(pushed)["fronts"]] == [True, True]
    still = str(replay(pushed)).split("<script")[0]
    assert "shut behind them" in still or "pushed open" in still
    assert " clear<" not in still


def test_needs_of_a_gate_that_closes_sideways_are_widths(rooted: Trace) -> None:
    for animal in rooted.animals:
        assert animal.needed_height == pytest.approx(animal.shoulder_width)


def test_animals_of_a_larger_sounder_are_left_out() -> None:
    trace = trace_night(example("many"), 1, 2)
    assert trace.group_size == trace.row["group_size"] == 14
    assert {e.animal for e in trace.events if e.kind == "arrives"} <= set(range(14))
    assert night_answer(trace).startswith("12 of 14 caught")


def test_a_run_of_a_one_way_entrance_in_words() -> None:
    result = run(example("push"), nights=200, workers=1)
    lead, whole, kept, out, *_ = run_answer(result)
    assert lead.startswith("An average night catches ")
    assert "of 11 animals" in lead
    assert whole.startswith("The whole group is caught on ")
    assert kept == "The trap lets animals in and keeps them; nothing is released."
    assert out.endswith("animals a night go in and get out again.")
    told = dict(measures_shown(result))
    assert told["in and out again"].name == "escaped"
    assert not any("release" in words or "gate" in words for words in told)


def test_a_run_of_sounders_that_vary_in_words() -> None:
    result = run(example("many"), nights=200, workers=1)
    lead, whole, *_ = run_answer(result)
    assert f"the group, which numbers {result.tally.smallest_group} to {result.group_size} " in lead
    assert whole.startswith("Every animal of both sounders is caught on ")


@pytest.mark.slow
def test_three_nights_in_a_page(night: Trace, open_night: Trace, two_gates: Trace) -> None:
    result = run(example("push"), nights=20, workers=1)
    shown = {"typical": night, "worst": open_night, "best": two_gates}
    text = render(run_page(result, traces=[night, open_night], examples=shown))
    for words in ("Typical: night 17", "Worst: night 17", "Best: night 17", "Nights played again"):
        assert words in text
    assert text.count('class="replay-data"') == 3
    assert all(f'id="replay{k}-title"' in text for k in (1, 2, 3))
    assert len(text) < 1_500_000
    alone = render(run_page(result, traces=[night]))
    assert alone.count('class="replay-data"') == 1
    assert "One night, played again" in alone


def test_lets_in_only_takes_every_opening() -> None:
    one_way, drop = TraceOpening(0.0, 1.0, 1.0, "push panel"), TraceOpening(0.0, 1.0, 1.0)
    assert TraceCorral(8.0, (one_way,), ()).lets_in_only
    assert not TraceCorral(8.0, (one_way, drop), ()).lets_in_only
