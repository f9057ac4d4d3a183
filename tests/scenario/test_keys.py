"""`keys` knows every key of the schema and nothing else, and has the register's defaults."""

from __future__ import annotations

import re

import pytest

from shared.tables import every_table
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.json_schema import json_schema
from soundergate.scenario.keys import key_id, narrowed, scenario_keys, spec_of
from soundergate.scenario.meanings import meaning, meanings, moved_by
from soundergate.scenario.paths import table_classes
from soundergate.scenario.register import register
from soundergate.scenario.schema import Scenario
from soundergate.studies.study_keys import study_keys
from soundergate.studies.study_schema import (
    ArmEntry,
    RobustEntry,
    SensitivityEntry,
    StudyFile,
)

KEYS = scenario_keys()
EVERY = (*KEYS, *study_keys())


def everywhere():
    """(class, place, field name) of every field that can be reached from a scenario."""
    seen = set()

    def of(cls, place):
        if (cls, place) in seen:
            return
        seen.add((cls, place))
        for name, field in cls.model_fields.items():
            yield cls, place, name
            for inner in table_classes(field.annotation):
                yield from of(inner, f"{place}.{name}".lstrip("."))

    return list(of(Scenario, ""))


def test_every_key_of_the_schema_is_listed_once_and_nothing_else():
    listed = [key.id for key in KEYS]
    assert len(listed) == len(set(listed))
    again = ("other.", "trigger.any.", "trigger.all.")
    wanted = {
        key_id(cls, name, place)
        for cls, place, name in everywhere()
        if not f"{place}.".startswith(again)
    }
    assert set(listed) == wanted
    # and what stands in a list of further sounders or triggers is none that is not listed
    names = {(cls.__name__, name) for cls, place, name in everywhere()}
    schema = json_schema()
    told = {
        (cls, name) for cls, node in schema["$defs"].items() for name in node.get("properties", {})
    }
    assert {one for one in told if one[0] in {cls for cls, _ in names}} <= names


def test_every_key_of_a_study_file_is_listed():
    paths = {key.path for key in study_keys()}
    for lead, model in (
        ("", StudyFile), ("arm.", ArmEntry), ("across.", ArmEntry),
        ("robust.", RobustEntry), ("sensitivity.", SensitivityEntry),
    ):  # fmt: skip
        assert {f"{lead}{name}" for name in model.model_fields} - {"path"} <= paths
    top = {"", "arm", "across", "robust", "sensitivity"}
    assert {key.place for key in study_keys()} == top


def test_every_default_is_the_registers():
    entries = {key.entry.id for key in KEYS if key.entry}
    shapes = tuple(f".{shape}" for shape in ("sigma", "cv", "shape"))
    assert {name for name in register() if not name.endswith(shapes)} == entries
    assert all(key.entry is register()[key.entry.id] for key in KEYS if key.entry)


def test_every_key_has_words_and_moves_something():
    for key in EVERY:
        assert re.fullmatch(r"(the|a|whether) ([^.;:]|\.(?=\w))+", key.means), key.id
        assert key.moves, key.id
        assert key.takes, key.id
    used = {one for key in EVERY for one in (key.id,)}
    unused = {one for one in meanings() if one not in used}
    assert not unused


def test_a_kind_has_the_meaning_of_what_all_kinds_share_unless_it_has_its_own():
    assert meaning("opening.gate.push panel.top.late_entry") == meaning("opening.gate.late_entry")
    assert meaning("opening.latch.pin.width") is None, "of an opening, and none of a latch's"
    assert moved_by("corral.diameter") == ("the plan",)
    assert moved_by("corralled") == ()


def test_the_schema_says_what_each_key_means():
    schema = json_schema()
    for cls, place, name in everywhere():
        node = schema if cls is Scenario else schema["$defs"][cls.__name__]
        words = meaning(key_id(cls, name, place.replace("other", "sounder")))
        if words is None:
            continue
        part = node["properties"][name]
        if set(part) == {"$ref"}:
            part = schema["$defs"][part["$ref"].removeprefix("#/$defs/")]
        assert part["description"].casefold().startswith(words.casefold()), (cls, name)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("gate", "opening.gate.drop.friction"),
        ("trigger.person", "trigger.person.patience"),
        ("opening.gate.friction", "opening.gate.drop.friction"),
        ("gate.spring", "opening.gate.side-hinged.spring.preload"),
        ("Air Cylinder", "opening.latch.air cylinder.bore"),
    ],
)
def test_names_narrow(name, found):
    kept = [key.id for key in narrowed(KEYS, [name])]
    assert found in kept
    assert len(kept) < len(KEYS) / 2


def test_each_key_is_found_by_what_it_is_called():
    for key in KEYS:
        assert key in narrowed(KEYS, [key.id])
        assert key in narrowed(KEYS, [key.path])
        assert key in narrowed(KEYS, [key.name])


@pytest.mark.parametrize(
    ("wrong", "near"), [("gaet", "gate"), ("opening.widht", "width"), ("triger.person", "trigger")]
)
def test_a_mistyped_name_gets_the_nearest(wrong, near):
    with pytest.raises(ScenarioError, match=near) as caught:
        narrowed(KEYS, [wrong])
    assert wrong in str(caught.value)


def test_every_plain_key_says_what_may_stand_there():
    for key in KEYS:
        if key.table or key.choices:
            continue
        assert key.spec is not None, key.id
    fields = every_table()  # the helper that other tests walk the tables with
    assert fields
    assert spec_of(Scenario.model_fields["title"]) is not None
