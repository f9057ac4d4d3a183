"""The JSON Schema says of a file what loading says, as far as single values go."""

from __future__ import annotations

import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from soundergate.scenario import ScenarioError, examples, loads
from soundergate.scenario.json_schema import json_schema
from soundergate.scenario.register import register

SCHEMA = json_schema()
TYPES = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "integer": int,
    "number": (int, float),
}
LIMITS = {
    "minimum": lambda value, limit: value >= limit,
    "maximum": lambda value, limit: value <= limit,
    "exclusiveMinimum": lambda value, limit: value > limit,
    "exclusiveMaximum": lambda value, limit: value < limit,
    "minProperties": lambda value, limit: len(value) >= limit,
    "minItems": lambda value, limit: len(value) >= limit,
    "maxItems": lambda value, limit: len(value) <= limit,
    "maxLength": lambda value, limit: len(value) <= limit,
    "pattern": lambda value, pattern: re.search(pattern, value) is not None,
    "const": lambda value, constant: value == constant,
    "enum": lambda value, options: value in options,
}
REMARKS = {"description", "default", "examples", "title", "$defs", "$schema"}


def fits(value: Any, schema: dict[str, Any]) -> bool:
    """Whether `value` is valid under `schema`: the part of JSON Schema 2020-12 that is used here.

    An unknown keyword raises, so that nothing in the schema goes unread.
    """
    if "type" in schema and not fits_keyword(value, "type", schema["type"], schema):
        return False
    for keyword, rule in schema.items():
        if keyword in REMARKS or keyword in ("required", "additionalProperties"):
            continue
        if not fits_keyword(value, keyword, rule, schema):
            return False
    return True


def fits_keyword(value: Any, keyword: str, rule: Any, schema: dict[str, Any]) -> bool:
    if keyword == "$ref":
        return fits(value, SCHEMA["$defs"][rule.removeprefix("#/$defs/")])
    if keyword == "type":
        is_bool = isinstance(value, bool)
        return isinstance(value, TYPES[rule]) and is_bool == (rule == "boolean")
    if keyword == "anyOf":
        return any(fits(value, option) for option in rule)
    if keyword == "oneOf":
        return sum(fits(value, option) for option in rule) == 1
    if keyword == "items":
        return all(fits(item, rule) for item in value)
    if keyword == "properties":
        assert schema["additionalProperties"] is False
        known = all(key in rule and fits(item, rule[key]) for key, item in value.items())
        return known and all(key in value for key in schema.get("required", []))
    return bool(LIMITS[keyword](value, rule))


def table(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


@pytest.mark.parametrize("name", examples.names())
def test_every_example_fits(name):
    assert fits(table(examples.text(name)), SCHEMA)


@pytest.mark.parametrize("name", examples.names())
def test_every_resolved_example_fits(name):
    assert fits(json.loads(json.dumps(loads(examples.text(name)).resolved())), SCHEMA)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('width = "4 ft"', "width = 4"),
        ('width = "4 ft"', 'width = "4"'),
        ('width = "4 ft"', 'widht = "4 ft"'),
        ('width = "4 ft"', ""),
        ("sows = 2", "sows = -1"),
        ("sows = 2", "sows = true"),
        ('kind = "line"', ""),
        ('kind = "line"', 'kind = "lien"'),
        ('kind = "line"', 'kind = "bait"\nheight = "20 in"'),
        ('kind = "line"', 'kind = "person"\nlink = "mail"'),
        ('puller = "solenoid", pull = "25 lbf"', 'puller = "air cylinder", pull = "25 lbf"'),
        ('kind = "drop", sheet = "14 gauge"', 'kind = "drop", set_angle = "90 deg"'),
        ('kind = "drop", sheet = "14 gauge"', 'kind = "side-hinged", rise = "2 in"'),
        ("[corral]", '[entry]\nclock = {fixed = "2 s", sigma = 1}\n[corral]'),
        ("[corral]", "[entry]\nclock = {}\n[corral]"),
        ("[corral]", '[entry]\nclock = {about = "2 s", median = "2 s"}\n[corral]'),
        ("[corral]", "[training]\nnights = {about = 7}\n[corral]"),
        ("[corral]", '[entry]\nclock = {dist = "fixed", value = "2 s"}\n[corral]'),
        ("[corral]", '[startle]\ndelay = "never"\n[corral]'),
        ("[corral]", "[startle]\nbolt_share = 2\n[corral]"),
    ],
)
def test_what_loading_refuses_does_not_fit(night_text, old, new):
    assert fits(table(night_text), SCHEMA)
    assert old in night_text
    bad = night_text.replace(old, new, 1)
    with pytest.raises(ScenarioError):
        loads(bad)
    assert not fits(table(bad), SCHEMA)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('kind = "line"', 'kind = "person"'),
        ('kind = "line"', 'kind = "person"\nlink = "radio"\ncount = 4'),
        ('kind = "line"', 'any = [{kind = "line"}, {kind = "counter", count = 3}]'),
        ('kind = "line"', 'kind = "none"'),
        ('{kind = "pin", puller = "solenoid", pull = "25 lbf", lever = 4}', '{kind = "rotary"}'),
        ('kind = "drop", sheet = "14 gauge"', 'kind = "side-hinged", spring_rate = "9 N*m"'),
        ("[corral]", '[entry]\nclock = {dist = "gamma", mean = "9 s", cv = 1}\n[corral]'),
        ("[corral]", '[entry]\nclock = "never"\n[corral]'),
        ("[corral]", '[entry]\nclock = {fixed = "9 s"}\n[corral]'),
        ("[corral]", '[entry]\nclock = {about = "9 s"}\n[corral]'),
        ("[corral]", '[entry]\nclock = {about = "9 s", sigma = 1}\n[corral]'),
        ("[corral]", "[bait]\nlevels_appetite = {about = [1, 1, 1, 2, 9]}\n[corral]"),
        ('sheet = "14 gauge"}', 'sheet = "14 gauge", friction = {about = 0.2}}'),
        ("[corral]", "[entry]\nclock = {sigma = 0.5}\n[corral]"),
        ("[corral]", '[entry]\nclock = {median = "9 s"}\n[corral]'),
        ("[corral]", "[body]\nstrength = {fixed = 0.7}\n[corral]"),
        ("[corral]", '[costs]\ncurrency = "EUR"\nwage = 20\nsetup_time = "6 h"\n[corral]'),
        ("sows = 2", 'sows = 2\nmass = {sow = "80 kg", boar = {median = "90 kg", sigma = 0.1}}'),
    ],
)
def test_what_loading_takes_fits(night_text, old, new):
    assert old in night_text
    good = night_text.replace(old, new, 1)
    loads(good)
    assert fits(table(good), SCHEMA)


def test_required_keys():
    assert set(SCHEMA["required"]) == {"sounder", "opening", "trigger"}
    assert set(SCHEMA["$defs"]["Opening"]["required"]) == {"width", "height", "gate"}
    assert SCHEMA["$defs"]["LineTrigger"]["required"] == ["kind"]
    assert SCHEMA["properties"]["opening"]["minItems"] == 1


def test_defaults_are_told_with_their_origin():
    corral = SCHEMA["$defs"]["Corral"]["properties"]
    assert corral["diameter"]["default"] == "26 ft"
    assert corral["diameter"]["description"].endswith("[assumption]")
    assert "default: 0.7 x corral.diameter" in corral["bait_distance"]["description"]
    assert SCHEMA["$defs"]["Entering"]["properties"]["clock"]["default"]["median"] == "45 s"


def test_every_default_told_fits_its_own_schema():
    for definition in SCHEMA["$defs"].values():
        for name, field in definition.get("properties", {}).items():
            if "default" in field:
                assert fits(field["default"], field), name


def test_it_is_json_without_null_and_small_enough_to_read():
    text = json.dumps(SCHEMA, allow_nan=False)
    assert "null" not in text
    assert len(text) < 120_000


def parts(node: Any) -> Iterator[dict[str, Any]]:
    """Every table of the schema, from the outermost on."""
    if isinstance(node, dict):
        yield node
    for item in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        yield from parts(item)


def test_every_reference_is_one_and_nothing_shared_is_left_over():
    """A reference is a URI reference of the characters of RFC 3986, 3.5, and leads somewhere."""
    found = {part["$ref"] for part in parts(SCHEMA) if isinstance(part.get("$ref"), str)}
    assert all(re.fullmatch(r"#/\$defs/[\w.:/?@!$&'()*+,;=~-]+", one, re.A) for one in found)
    assert {one.removeprefix("#/$defs/") for one in found} == set(SCHEMA["$defs"])


def test_what_several_tables_have_is_said_once():
    """A default's origin stands in one place, to which all of its tables lead."""
    told = Counter(str(part["description"]) for part in parts(SCHEMA) if "description" in part)
    origins = {(entry.note, entry.origin) for entry in register().values() if not entry.of}
    notes = Counter(entry.note for entry in register().values())
    said = {
        note: sum(count for words, count in told.items() if words.endswith(f". {note} [{origin}]"))
        for note, origin in origins
        if notes[note] == 1
    }
    assert set(said.values()) <= {0, 1}, [note for note, times in said.items() if times > 1]
    assert sum(said.values()) > 100


def test_nothing_internal_is_left():
    text = json.dumps(SCHEMA)
    assert '"register"' not in text
    assert "x-shared" not in text
