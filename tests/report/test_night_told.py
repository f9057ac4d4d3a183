"""One night as a person reads it: header, table and picture say the same of every animal."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from shared.legible import cut_off
from soundergate.engine import codes
from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.one_night import trace_night
from soundergate.engine.trace.trace import Trace
from soundergate.report import style
from soundergate.report.figures.night import night_figure
from soundergate.report.figures.night_lanes import draw_lanes, later_words, time_axis
from soundergate.report.tables.nights import OPEN_TRAP, measure_table
from soundergate.report.words.answers import night_answer, night_end, run_answer
from soundergate.scenario import examples
from soundergate.scenario.loading import loads
from soundergate.scenario.schema import Scenario
from soundergate.studies.estimate import run

GATE = """
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {{kind = "drop", mass = "15 kg", {0}}}
latch = {{kind = "pin", puller = "air cylinder"}}
"""
HANGS, SHUTS = 'drag = "300 lbf"', "lock_fails = 0.5"
STAYS = 'leaving.clock = {fixed = "1000 h"}\nstartle.bolt_share = 0\n'
OPENS = 'holding.try_clock = "2 min"\nholding.root_clock = "20 min"\n'


def trap(*gates: str, title: str = "invented", more: str = "") -> Scenario:
    text = f'title = "{title}"\n{more}sounder = {{sows = 2, juveniles = 5, piglets = 2}}\n'
    text += 'trigger = {kind = "counter", count = 5}\n'
    return loads(text + "".join(GATE.format(gate) for gate in gates), "told.toml")


TRAPS = {
    "hangs": trap(HANGS),
    "hangs, nobody leaves": trap(HANGS, more=STAYS),
    "one of three hangs": trap(SHUTS, HANGS, SHUTS),
    "one of three hangs, nobody leaves": trap(SHUTS, HANGS, SHUTS, more=STAYS),
    "shuts": trap(SHUTS),
    "shuts, they get out soon": trap(SHUTS, more=OPENS),
    "two shut, they get out soon": trap(SHUTS, SHUTS, more=OPENS),
}
NIGHTS = range(6)


@pytest.fixture(scope="module", params=TRAPS)
def nights(request: pytest.FixtureRequest) -> list[Trace]:
    return [trace_night(TRAPS[request.param], 1, number) for number in NIGHTS]


def numbers(words: str, pattern: str) -> int:
    return sum(int(found) for found in re.findall(rf"(\d+) {pattern}", words))


def inside_at_the_end(trace: Trace) -> set[int]:
    """Who is within the fence as the events have it, whatever its fate."""
    inside: set[int] = set()
    for event in trace.in_order():
        if event.animal is not None and event.kind == "is inside":
            inside.add(event.animal)
        elif event.animal is not None and event.kind in {"steps out", *kinds.BREAKOUTS}:
            inside.discard(event.animal)
    return inside


def test_the_header_counts_every_animal_where_it_is(nights: list[Trace]) -> None:
    """Nobody that stands inside is said to have got out, and everyone is said once."""
    for trace in nights:
        words = night_answer(trace)
        stand, inside = numbers(words, "stands? in the open trap"), inside_at_the_end(trace)
        caught = numbers(words, "of 9 caught")
        assert stand + caught == len(inside) == trace.in_order()[-1].inside, words
        assert set(trace.standing()) == {i for i in inside if trace.fates[i] != codes.CAUGHT}
        out = numbers(words, "(?:got out|escaped|went in and)")
        never = numbers(words, "never went in")
        assert stand + caught + out + never == trace.group_size, words
        shown = Counter(text.get_text() for text in night_figure(trace).axes[0].texts)
        assert shown["inside, a way open"] == stand
        assert shown["caught"] == caught


def test_nothing_is_said_to_have_shut_that_hangs() -> None:
    for name in ("hangs", "one of three hangs", "one of three hangs, nobody leaves"):
        traces = [trace_night(TRAPS[name], 1, number) for number in NIGHTS]
        told = [night_answer(t) for t in traces if t.row["inside_at_release"]]
        assert told
        assert not any("was shut" in words or "before the release" in words for words in told)
    stays = trace_night(TRAPS["one of three hangs, nobody leaves"], 1, 0)
    assert stays.row["released"]
    assert stays.row["escaped_during"] > 0
    assert numbers(night_answer(stays), "stand in the open trap") >= stays.row["escaped_during"]


def test_the_table_ends_with_the_trap_check(nights: list[Trace]) -> None:
    for trace in nights:
        last, caught = trace.table.iloc[-1], trace.row["caught"]
        assert last["what happened"].startswith("trap check (")
        assert last["time"] == "10:00:00.0"
        found = f"{caught} caught" if caught or not trace.standing() else "a way open: not caught"
        assert found in last["what happened"]
        early = trace.row["night_s"] < 36000.0
        assert ("nothing more happens" in last["what happened"]) == early == trace.ends_early
        assert night_end(trace).endswith(f"at 10:00 after the set: {found}." if early else "")
        assert bool(night_end(trace)) == early
        assert list(trace.table["what happened"]).count("trap check") == 0


def test_shut_in_ends_where_it_gets_out(nights: list[Trace]) -> None:
    """Also for the last that gets out, whose escape is the end of the night."""
    for trace in nights:
        axis = time_axis(trace, whole=True)
        out = {e.animal: e.time for e in trace.events if e.kind in kinds.BREAKOUTS}
        ax = style.axes_of(None, 3.0)
        draw_lanes(trace, ax, axis)
        for bar in ax.patches:
            who = trace.group_size - 1 - round(bar.get_y() + bar.get_height() / 2)
            if bar.get_hatch() == "----" and who in out:
                thinnest = (axis(axis.stop) - axis(axis.start)) / 400
                right = max(axis(out[who]), bar.get_x() + thinnest)
                assert bar.get_x() + bar.get_width() <= right + 1e-9


def test_the_nights_reach_what_is_asked_of_them() -> None:
    soon = [trace_night(TRAPS["shuts, they get out soon"], 1, number) for number in NIGHTS]
    drawn = [max(e.time for e in t.events if e.kind in kinds.BREAKOUTS) for t in soon]
    cut = [late >= time_axis(t).stop for t, late in zip(soon, drawn, strict=True)]
    assert set(cut) == {True, False}
    assert any(late == t.end_time for t, late in zip(soon, drawn, strict=True))


def test_who_gets_out_later_is_told(nights: list[Trace]) -> None:
    """Who gets out after the picture is told below its title, and how many are left beside it."""
    for trace in nights:
        stop = time_axis(trace).stop
        late = [e for e in trace.events if e.kind in kinds.BREAKOUTS and e.time >= stop]
        words = later_words(trace, stop)
        assert bool(words) == bool(late)
        assert numbers(words.partition("later: ")[2], "(?:open|root|follow|climb|slip)") == len(
            late
        )
        beside = [text.get_text() for text in night_figure(trace).axes[1].texts]
        assert (f"{trace.row['caught']} at the end of the night" in beside) == bool(late)


@pytest.mark.parametrize("name", ["hangs", "one of three hangs, nobody leaves", "shuts"])
def test_a_long_title_is_whole(name: str) -> None:
    text = "Invented trap with a name that goes on for longer than a line of the picture is wide"
    trace = trace_night(TRAPS[name].model_copy(update={"title": text}), 1, 2)
    figure = night_figure(trace)
    assert cut_off(figure) == []
    told = figure.get_suptitle().replace("\n", " ")
    assert night_answer(trace) in told


def test_a_run_says_what_becomes_of_those_in_an_open_trap() -> None:
    """Where there may be any: beside the table, and of several gates in words."""
    for name in ("hangs, nobody leaves", "one of three hangs, nobody leaves"):
        result = run(TRAPS[name], nights=20, workers=1)
        assert OPEN_TRAP in measure_table(result).note
        assert any("with a way still open" in line for line in run_answer(result))
    only_in = run(loads(examples.text("push"), "push.toml"), nights=20, workers=1)
    assert OPEN_TRAP not in measure_table(only_in).note
    assert not any("way still open" in line for line in run_answer(only_in))
