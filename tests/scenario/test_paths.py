"""Dotted paths: every id that is printed can be typed, kinds narrow, entries count from 1."""

from __future__ import annotations

import copy

import pytest

from shared.plans import plan_of
from soundergate.scenario import ScenarioError, loads, with_values
from soundergate.scenario.assumptions import defaults_used, typed_at
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.register import default, register
from soundergate.studies.arms import make_arms, parse_vary, show

TWO = """
[sounder]
sows = 2
juveniles = 3

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop"}

[[opening]]
width = "5 ft"
height = "3 ft"
gate = {kind = "top-hinged"}
latch = {kind = "knee", puller = "air cylinder"}

[[opening]]
width = "3 ft"
height = "3 ft"
gate = {kind = "push panel", hinge = "side"}

[trigger]
any = [
  {kind = "line", height = "18 in"},
  {kind = "line"},
  {kind = "person", link = "radio"},
]
"""


@pytest.fixture
def two():
    return loads(TWO)


def plan(scenario):
    return [array.tobytes() for array in plan_of(scenario)]


def test_every_id_set_to_its_default_is_the_same_trap(traps, written):
    """As `sources` prints it, once for each id in a trap that rests on it."""
    tried = set()
    for trap in traps.values():
        values = written(trap)
        ids = {entry.id: values[path] for path, entry in defaults_used(trap)}
        for name in ids.keys() - tried:
            value = ids[name]
            typed = {name: value} if isinstance(value, str) else (
                parse_vary([f"{name}={show(value)}"])[0]
            )  # fmt: skip
            assert with_values(trap, typed) == trap, name
        tried |= ids.keys()
    assert len(tried) > 200


def test_all_ids_set_to_their_defaults_play_the_same_plan(trap_text, written):
    """As a page prints them: by the register's id and by its place."""
    trap = loads(trap_text)
    values = written(trap)
    ids = {entry.id: values[path] for path, entry in defaults_used(trap)}
    by_id = with_values(trap, ids)
    assert by_id == trap
    assert plan(by_id) == plan(trap)


def test_what_sources_says_to_type_is_the_default(traps):
    """Typed after KEY=, at the register's id and at its place, it changes nothing."""
    tried = set()
    for trap in traps.values():
        for path, known in defaults_used(trap):
            told = typed_at(trap, path, known)
            for key in {(known.id, told), (path, told)} - tried:
                values = parse_vary(["=".join(key)])
                assert len(values) == 1, told
                assert with_values(trap, values[0]) == trap, key
                tried.add(key)
    assert len(tried) > 400


def test_what_sources_says_to_type_can_be_typed_together(trap_text):
    trap = loads(trap_text)
    told = {path: typed_at(trap, path, known) for path, known in defaults_used(trap)}
    (together,) = parse_vary([f"{path}={value}" for path, value in told.items()])
    typed = with_values(trap, together)
    assert typed == trap
    assert plan(typed) == plan(trap)


@pytest.mark.parametrize("name", register())
def test_what_sources_says_of_any_id_can_be_typed_in_some_trap(name, traps):
    (values,) = parse_vary([f"{name}={register()[name].write}"])
    refused = []
    for trap in traps.values():
        try:
            with_values(trap, values)
        except ScenarioError as error:
            refused.append(str(error))
        else:
            return
    pytest.fail("\n".join(refused))


def test_every_id_of_the_register_is_a_path_of_some_trap(traps):
    """Those that no trap rests on are choices, and can be typed all the same."""
    used = {entry.id for trap in traps.values() for _, entry in defaults_used(trap)}
    for name in sorted(set(register()) - used):
        takes, value = [], register()[name].example or register()[name].said()
        for trap in traps.values():
            try:
                takes.append(with_values(trap, {name: value}))
            except ScenarioError as error:
                told = str(error)
                assert "unknown key" not in told, name
                assert name.split(".")[-1] in told or "no " in told, (name, told)
        assert takes, name


def test_ids_move_what_they_name(two):
    moved = with_values(
        two,
        {
            "opening.gate.drop.friction": 0.5,
            "opening.gate.hinge.friction": 0.25,
            "opening.gate.push panel.side.push_force.sigma": 0.7,
            "opening.latch.solenoid.pull": "30 lbf",
            "opening.latch.knee.diameter": "1 in",
            "opening.latch.air cylinder.supply": {"fixed": 1.0},
            "trigger.line.height": "24 in",
            "trigger.person.radio.command_delay.sigma": 0.9,
            "opening.gate.depth": "4 in",
        },
    )
    drop, top, panel = moved.opening
    assert drop.gate.friction.median == pytest.approx(0.5)
    assert top.gate.friction.median == pytest.approx(0.25)
    assert drop.gate.friction.sigma == two.opening[0].gate.friction.sigma == 0.3
    assert panel.gate.push_force.sigma == 0.7
    assert drop.latch.pull == pytest.approx(30 * 4.4482216152605)
    assert top.latch.diameter == pytest.approx(0.0254)
    assert top.latch.supply == LogNormal.of(1.0)
    assert drop.latch.diameter == two.opening[0].latch.diameter
    lines = moved.trigger.parts[:2]
    assert [line.height for line in lines] == pytest.approx([0.6096, 0.6096])
    assert moved.trigger.parts[2].command_delay.b == 0.9
    assert [o.gate.depth for o in moved.opening] == pytest.approx([0.1016] * 3)


def test_a_kind_narrows_one_entry_too(two):
    assert with_values(two, {"opening.1.gate.drop.friction": 0.5}) != two
    assert with_values(two, {"trigger.any.2.line.height": "24 in"}).trigger.parts[0].height < 0.5
    with pytest.raises(ScenarioError, match=r"opening.2.gate.drop.friction: this scenario has no"):
        with_values(two, {"opening.2.gate.drop.friction": 0.5})


def test_a_latch_without_a_number_is_that_of_every_opening_that_can_have_one(two):
    moved = with_values(two, {"opening.latch.engaged": "1 in"})
    assert [o.latch and o.latch.engaged for o in moved.opening] == [0.0254, 0.0254, None]
    with pytest.raises(ScenarioError, match=r"opening.3.latch: a push panel needs no latch"):
        with_values(two, {"opening.3.latch.engaged": "1 in"})


def test_a_kind_follows_what_was_set_before_it(two):
    spring = {"opening.gate.side-hinged.spring.preload": "9 deg"}
    moved = with_values(two, {"opening.1.gate": {"kind": "side-hinged"}, **spring})
    assert moved.opening[0].gate.preload == pytest.approx(0.15707963)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("opening.gate.net skirt.snout",
         "opening.gate.net skirt.snout: this scenario has no gate of kind 'net skirt'; "
         "what it has: drop, hinge, push panel, side, top-hinged"),
        ("opening.latch.animal.delay", "has no latch of kind 'animal'; what it has: air cylinder"),
        ("trigger.person.modem.dropout", "has no trigger of kind 'modem'; what it has: person, ra"),
        ("trigger.bait.rate", "has no trigger of kind 'bait'; what it has: line, person, radio"),
        ("opening.gate.dorp.friction", "opening.1.gate.dorp: unknown key; did you mean 'drag"),
        ("opening.0.width", "there is no entry 0: the list has 3, counted from 1"),
        ("opening.4.gate.drop.friction", "there is no entry 4: the list has 3, counted from 1"),
        ("trigger.any.0.height", "there is no entry 0: the list has 3, counted from 1"),
    ],
)  # fmt: skip
def test_paths_to_what_is_not_there(two, path, words):
    with pytest.raises(ScenarioError) as caught:
        with_values(two, {path: 1})
    assert words in str(caught.value)


def test_an_entry_of_a_list_that_the_file_leaves_out(two):
    untouched = copy.deepcopy(default("bait.levels_appetite"))
    moved = with_values(two, {"bait.levels_appetite.5": 40.0})
    assert moved.bait.levels_appetite == (*two.bait.levels_appetite[:4], 40.0)
    assert default("bait.levels_appetite") == untouched


def test_the_pages_name_places_that_can_be_typed(two):
    for path, entry in defaults_used(two):
        if entry.low is not None and entry.numeric and not entry.of:
            arms = make_arms(two, [f"{path}={show(entry.at(entry.low))}"])
            assert arms[0].scenario.opening, path


def test_false_release_of_a_part_is_no_default_of_its_own(two):
    named = [path for path, entry in defaults_used(two) if entry.id == "trigger.false_release"]
    assert named == ["trigger.false_release"]
