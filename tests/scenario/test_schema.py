"""What a scenario holds after loading: SI values, defaults, and what is settled from other keys."""

from __future__ import annotations

import json
import math
import pickle
from dataclasses import replace

import pytest

from soundergate.scenario import ScenarioError, load, loads, with_values
from soundergate.scenario.assumptions import defaults_used
from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.gates.choice import GATES
from soundergate.scenario.gates.side_hinged import SpringGate
from soundergate.scenario.latches.base import LATCHES, PULLERS
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.latches.knee import Knee
from soundergate.scenario.latches.pin import Pin
from soundergate.scenario.loading import from_table, read_value
from soundergate.scenario.pullers.air_cylinder import AirCylinder
from soundergate.scenario.pullers.solenoid import Solenoid
from soundergate.scenario.triggers import person
from soundergate.scenario.triggers.base import TRIGGERS
from soundergate.scenario.variants import kinds_in

FT, IN = 0.3048, 0.0254
LATCH_KINDS = kinds_in(LATCHES)
PULLER_KINDS = kinds_in(PULLERS, key="puller")


def test_values_are_si(night_text):
    night = loads(night_text, "night.toml")
    gate, latch = night.opening[0].gate, night.opening[0].latch
    assert night.opening[0].width == pytest.approx(4 * FT)
    assert night.corral.diameter == pytest.approx(26 * FT)
    assert night.corral.perimeter == pytest.approx(math.pi * 26 * FT)
    assert night.corral.area == pytest.approx(math.pi * (13 * FT) ** 2)
    assert latch.pull == pytest.approx(25 * 4.4482216152605)
    assert (gate.kind, gate.face, gate.sheet) == ("drop", "sheet", "14 gauge")
    assert isinstance(latch, Pin)
    assert isinstance(latch, Solenoid)
    assert night.sounder.size == 11
    assert night.source == "night.toml"
    assert night.raw["opening"][0]["width"] == "4 ft"


def test_defaults_give_a_plausible_night(night_text):
    night = loads(night_text)
    assert night.arrival.first.median() == pytest.approx(3 * 3600)
    assert night.entry.clock == Duration("lognormal", math.log(45.0), 0.8)
    assert night.leaving.clock.median() == pytest.approx(20 * 60)
    assert night.visit.patience.median() == pytest.approx(50 * 60)
    assert night.visit.check == 36000.0
    assert night.startle.bolt_share == 0.5
    assert night.startle.delay.median() == pytest.approx(0.4)
    assert night.training.nights == 7
    assert night.costs is None


def test_relative_defaults_are_settled(night_text):
    night = loads(night_text)
    gate, line = night.opening[0].gate, night.trigger
    assert gate.channel_length == pytest.approx(6 * FT)
    assert gate.guided_length == pytest.approx(3 * FT)
    assert night.corral.bait_distance == pytest.approx(0.7 * 26 * FT)
    assert line.distance == pytest.approx(0.85 * 26 * FT)
    chord = 2 * math.sqrt((13 * FT) ** 2 - (0.35 * 26 * FT) ** 2)
    assert line.span == pytest.approx(chord)


def test_relative_defaults_follow_what_they_are_relative_to(night_text):
    low = with_values(loads(night_text), {"opening.height": "2 ft", "corral.diameter": "40 ft"})
    assert low.opening[0].gate.channel_length == pytest.approx(4 * FT)
    assert low.corral.bait_distance == pytest.approx(28 * FT)
    short = with_values(low, {"opening.gate.channel_length": "3 ft"})
    assert short.opening[0].gate.guided_length == pytest.approx(2 * FT)  # its whole edge


def test_openings_stand_evenly_round_the_fence(night_text):
    second = '[[opening]]\nwidth = "3 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n'
    night = loads(night_text.replace("[trigger]", second + "[trigger]"))
    assert [opening.bearing for opening in night.opening] == pytest.approx([0.0, math.pi])
    own = with_values(night, {"opening.2.bearing": "90 deg"})
    assert own.opening[1].bearing == pytest.approx(math.pi / 2)


@pytest.mark.parametrize("kind", kinds_in(GATES))
def test_every_gate_kind_needs_no_more_than_its_name(night_text, kind):
    text = "\n".join(line for line in night_text.splitlines() if not line.startswith("latch"))
    night = loads(text.replace('{kind = "drop", sheet = "14 gauge"}', f'{{kind = "{kind}"}}'))
    opening = night.opening[0]
    assert opening.gate.kind == kind
    assert opening.gate.face == ("mesh" if kind in ("curled panel", "net skirt") else "sheet")
    assert (opening.latch is None) == (kind in ("push panel", "curled panel", "net skirt"))
    assert from_table(night.resolved()) == night


@pytest.mark.parametrize("kind", LATCH_KINDS)
@pytest.mark.parametrize("puller", PULLER_KINDS)
def test_every_latch_pair(night_text, kind, puller):
    night = with_values(loads(night_text), {"opening.latch": {"kind": kind, "puller": puller}})
    latch = night.opening[0].latch
    assert (latch.kind, latch.puller) == (kind, puller)
    assert isinstance(latch, LATCH_KINDS[kind].CLASSES[0])
    assert isinstance(latch, PULLER_KINDS[puller].CLASSES[0])
    assert from_table(night.resolved()) == night


def test_there_is_one_class_for_each_pair():
    assert len(LATCH_CLASSES) == len(LATCH_KINDS) * len(PULLER_KINDS) == 12


def test_a_latch_table_without_kind_or_puller_takes_the_defaults(night_text):
    night = with_values(loads(night_text), {"opening.latch": {"pull": "30 lbf"}})
    assert (night.opening[0].latch.kind, night.opening[0].latch.puller) == ("pin", "solenoid")


@pytest.mark.parametrize("closer", ["spring", "rising hinge", "weight"])
def test_closers(night_text, closer):
    gate = {"kind": "side-hinged", "leaves": 2, "closer": closer}
    night = with_values(loads(night_text), {"opening.gate": gate})
    assert night.opening[0].gate.closer == closer
    assert night.opening[0].gate.hinge_spacing == pytest.approx(0.6 * 3 * FT)
    assert from_table(night.resolved()) == night


def test_the_default_closer_is_a_spring(night_text):
    night = with_values(loads(night_text), {"opening.gate": {"kind": "side-hinged"}})
    assert isinstance(night.opening[0].gate, SpringGate)


@pytest.mark.parametrize("material", ["2 mm", "14 gauge", "16 ga", "14-gauge"])
def test_sheet_by_gauge_or_thickness(night_text, material):
    night = with_values(loads(night_text), {"opening.gate.sheet": material})
    assert night.opening[0].gate.sheet == material


@pytest.mark.parametrize("kind", kinds_in(TRIGGERS))
def test_every_trigger_kind_needs_no_more_than_its_name(night_text, kind):
    night = loads(night_text.replace('kind = "line"', f'kind = "{kind}"'))
    assert night.trigger.kind == kind
    assert night.trigger.parts == (night.trigger,)
    assert night.trigger.combine == "one"
    assert from_table(night.resolved()) == night


@pytest.mark.parametrize(("link", "median"), [("radio", 0.2), ("modem", 1.5), ("relay", 2.5)])
def test_each_link_has_its_own_delay(night_text, link, median):
    night = loads(night_text.replace('kind = "line"', f'kind = "person"\nlink = "{link}"'))
    assert isinstance(night.trigger, person.CLASSES)
    assert night.trigger.link == link
    assert night.trigger.command_delay.median() == pytest.approx(median)


def test_person_without_a_rule_waits_for_all_and_then_settles(night_text):
    person = loads(night_text.replace('kind = "line"', 'kind = "person"')).trigger
    assert (person.count, person.share, person.min_count) == (None, 1.0, 8)
    assert person.link == "modem"


def test_a_rule_is_steps_in_time(night_text):
    rule = 'kind = "person"\nrule = [{after = "0 s", count = 11}, {after = "5 min", count = 8}]'
    person = loads(night_text.replace('kind = "line"', rule)).trigger
    assert [(step.after, step.count) for step in person.rule] == [(0.0, 11), (300.0, 8)]
    assert person.share is None


@pytest.mark.parametrize("combine", ["any", "all"])
def test_combined_triggers(night_text, combine):
    parts = f'{combine} = [{{kind = "line"}}, {{kind = "counter"}}]\nfalse_release = "0.1 /day"'
    night = loads(night_text.replace('kind = "line"', parts))
    assert night.trigger.combine == combine
    assert [part.kind for part in night.trigger.parts] == ["line", "counter"]
    assert night.trigger.parts[1].count == 11
    assert night.trigger.false_release == pytest.approx(0.1 / 86400)
    assert from_table(night.resolved()) == night


def test_zero_is_allowed_where_exact_special_cases_need_it(night_text):
    zero = dict.fromkeys(
        ("movement.travel", "movement.crossing", "movement.headway", "movement.dwell",
         "movement.roam", "startle.delay", "arrival.first", "entry.clock"), "0 s")  # fmt: skip
    night = with_values(loads(night_text), zero)
    assert night.movement.travel == Duration.fixed(0.0)
    assert night.entry.clock == Duration.fixed(0.0)


def test_resolved_is_json_and_gives_the_same_night_again(night_text):
    night = loads(night_text)
    resolved = json.loads(json.dumps(night.resolved(), allow_nan=False))
    assert from_table(resolved) == night
    assert resolved["opening"][0]["width"] == "1.2192 m"
    assert resolved["entry"]["clock"] == {"dist": "lognormal", "median": "45.0 s", "sigma": 0.8}
    # ... though everything in it now counts as said.
    assert from_table(resolved).raw != night.raw


def test_a_scenario_cannot_change(night_text):
    night = loads(night_text)
    with pytest.raises(ValueError, match="frozen"):
        night.corral.diameter = 3.0  # type: ignore[misc]
    assert hash(night) == hash(loads(night_text, "another name"))


def test_a_scenario_travels_to_another_process(night_text):
    night = loads(night_text, "night.toml")
    again = pickle.loads(pickle.dumps(night))
    assert again == night
    assert (again.source, again.raw) == (night.source, night.raw)


def test_two_nights_differ_when_one_value_does(night_text):
    night = loads(night_text)
    assert with_values(night, {"startle.bolt_share": 0.4}) != night
    assert night != "a night"


def test_with_values_on_lists_of_tables(night_text):
    second = '[[opening]]\nwidth = "3 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n'
    night = loads(night_text.replace("[trigger]", second + "[trigger]"))
    both = with_values(night, {"opening.width": "8 ft"})
    assert [o.width for o in both.opening] == pytest.approx([8 * FT, 8 * FT])
    one = with_values(night, {"opening.2.width": "8 ft"})
    assert [o.width for o in one.opening] == pytest.approx([4 * FT, 8 * FT])
    assert [o.width for o in night.opening] == pytest.approx([4 * FT, 3 * FT])
    whole = with_values(night, {"opening.1": night.raw["opening"][1]})
    assert whole.opening[0].width == pytest.approx(3 * FT)


def test_with_values_reaches_what_the_file_left_out(night_text):
    night = loads(night_text)
    assert with_values(night, {"movement.walk_speed": "2 m/s"}).movement.walk_speed == 2.0
    slow = with_values(night, {"entry.clock.median": "90 s"})
    assert slow.entry.clock == Duration("lognormal", math.log(90.0), 0.8)
    wide = with_values(night, {"sounder.mass.sow.sigma": 0.4})
    assert wide.sounder.mass.sow.sigma == 0.4
    assert wide.sounder.mass.sow.median == pytest.approx(70.0)
    plain = with_values(night, {"sounder.mass.sow": "80 kg"})
    scattered = with_values(plain, {"sounder.mass.sow.sigma": 0.1})
    assert scattered.sounder.mass.sow == LogNormal.of(80.0, 0.1)
    pulled = with_values(
        loads(night_text.replace("latch =", "# latch =")), {"opening.latch.lever": 2}
    )
    assert pulled.opening[0].latch.lever == 2.0


def test_with_values_keeps_the_order_given(night_text):
    clock = {"dist": "lognormal", "median": "10 s", "sigma": 0.1}
    night = with_values(loads(night_text), {"entry.clock": clock, "entry.clock.sigma": 0.5})
    assert night.entry.clock == Duration("lognormal", math.log(10.0), 0.5)
    assert clock["sigma"] == 0.1


def test_with_values_takes_a_plain_table_too(night_text):
    raw = loads(night_text).raw
    assert with_values(raw, {"sounder.sows": 3}).sounder.sows == 3
    assert raw["sounder"]["sows"] == 2


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("opening.4.width", "there is no entry 4: the list has 1, counted from 1"),
        ("opening.0.width", "there is no entry 0: the list has 1, counted from 1"),
        ("opening.0", "there is no entry 0: the list has 1, counted from 1"),
        ("entry.clock.median.x", "this path leads nowhere: nothing is called 'x' there"),
        ("other.1.sows", "there is no entry 1: the list has 0, counted from 1"),
        ("other.sows", "this path leads nowhere: the list there is empty"),
        ("opening.widht", "opening.1.widht = \"1 ft\": unknown key; did you mean 'width'?"),
        ("", "not a dotted path; such as opening.width"),
        ("opening..width", "not a dotted path"),
        ("title.x", "this path leads nowhere: nothing is called 'x' there"),
        ("gate.width", "gate belongs in [[opening]]"),
        ("entry.clock.mean", "a lognormal distribution has no such key; it takes median and sigma"),
    ],
)
def test_paths_that_lead_nowhere(night_text, path, words):
    with pytest.raises(ScenarioError) as caught:
        with_values(loads(night_text), {path: "1 ft"})
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("8", 8),
        ("0.5", 0.5),
        ("true", True),
        ('"8 ft"', "8 ft"),
        ("8 ft", "8 ft"),
        ("side-hinged", "side-hinged"),
        ('{kind = "drop"}', {"kind": "drop"}),
        ("[1, 2]", [1, 2]),
        ("1\nother = 2", "1\nother = 2"),
        ("", ""),
    ],
)
def test_values_typed_on_a_command_line(text, value):
    assert read_value(text) == value


def test_load_reads_a_file(tmp_path, night_text):
    path = tmp_path / "night.toml"
    path.write_text(night_text, encoding="utf-8")
    assert load(path) == load(str(path)) == loads(night_text)
    assert load(path).source == str(path)


def test_kinds_of_latch_are_told_apart_by_class(night_text):
    night = with_values(
        loads(night_text), {"opening.latch": {"kind": "knee", "puller": "air cylinder"}}
    )
    latch = night.opening[0].latch
    assert isinstance(latch, Knee)
    assert isinstance(latch, AirCylinder)
    assert not isinstance(latch, Pin)
    assert latch.rod < latch.bore
    assert latch.bore == pytest.approx(1.5 * IN)


def test_the_middle_of_what_was_written_moves_and_its_scatter_stays(night_text):
    """Written plainly the register's scatter, written with a scatter that, written fixed none."""
    for said, sigma in (("80 kg", 0.2), ({"median": "80 kg", "sigma": 0.1}, 0.1),
                        ({"sigma": 0.3}, 0.3), ({"fixed": "80 kg"}, 0.0)):  # fmt: skip
        plain = with_values(loads(night_text), {"sounder.mass.sow": said})
        moved = with_values(plain, {"sounder.mass.sow.median": "90 kg"})
        assert moved.sounder.mass.sow == LogNormal.of(90.0, sigma)
        wider = with_values(plain, {"sounder.mass.sow.sigma": 0.4})
        assert wider.sounder.mass.sow == replace(plain.sounder.mass.sow, sigma=0.4)
        none = with_values(plain, {"sounder.mass.sow.fixed": "90 kg"})
        assert none.sounder.mass.sow == LogNormal.of(90.0)


def test_drag_is_a_force_or_a_share_of_the_weight(night_text):
    """A drop gate has the one or the other; what is not said is not leaned on."""
    plain = loads(night_text)
    assert plain.opening[0].gate.drag is None
    assert plain.opening[0].gate.drag_share.median == pytest.approx(0.08)
    assert loads_again(plain) == plain
    stated = with_values(plain, {"opening.gate.drag": "5 lbf"})
    assert stated.opening[0].gate.drag_share is None
    assert stated.opening[0].gate.drag.median == pytest.approx(5 * 4.4482216)
    assert loads_again(stated) == stated
    names = {path for path, _ in defaults_used(stated)}
    assert {name for name in names if "drag" in name} == {"opening.1.gate.drag.sigma"}
    assert "opening.1.gate.drag_share.sigma" in {path for path, _ in defaults_used(plain)}


def loads_again(scenario):
    return from_table(scenario.resolved())
