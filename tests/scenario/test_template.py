"""The template of a scenario file loads, and no default in it changes a night when it is said."""

from __future__ import annotations

import re

import numpy as np
import pytest

from shared.plans import plan_of
from soundergate.engine import play
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.keys import scenario_keys
from soundergate.scenario.loading import loads
from soundergate.scenario.template import DEFAULT, UNSET, WORDS, template

KINDS = [
    (),
    ("top-hinged", "knee", "air cylinder", "person"),
    ("rising hinge", "finger", "animal", "bait"),
    ("weight", "rotary", "radio"),
    ("spring", "counter"),
    ("side", "none"),
    ("push panel", "relay"),
    ("curled panel", "none"),
    ("net skirt", "none"),
]
FEW = 12


def default_lines(text: str) -> list[int]:
    lines = text.splitlines()
    return [n for n, line in enumerate(lines) if re.match(r"# [a-z_]+ = ", line)]


def with_line(text: str, number: int) -> str:
    lines = text.splitlines()
    lines[number] = lines[number].removeprefix(DEFAULT)
    return "\n".join(lines) + "\n"


def nights(text: str):
    frame = play(plan_of(text), 3, 0, 12).frame()
    return {name: frame[name].to_numpy() for name in frame}


@pytest.mark.parametrize("kinds", KINDS, ids="-".join)
def test_it_loads_and_every_line_is_of_one_kind(kinds):
    text = template(kinds)
    scenario = loads(text)
    assert scenario.resolved() == loads(template(kinds)).resolved()
    for line in text.splitlines():
        assert len(line) <= 90
        said = re.match(r"[a-z_]+ = |\[", line)
        assert not line or said or line.startswith((DEFAULT, UNSET, WORDS.rstrip()))


@pytest.mark.parametrize("kinds", KINDS, ids="-".join)
def test_each_line_alone_says_what_holds_anyway(kinds):
    text = template(kinds)
    base = loads(text)
    for number in default_lines(text):
        assert loads(with_line(text, number)) == base, text.splitlines()[number]


def test_all_lines_together_do_too():
    text = template()
    said = text
    for number in default_lines(text):
        said = with_line(said, number)
    assert loads(said) == loads(text)


def test_some_lines_alone_play_the_same_nights():
    text = template()
    lines = default_lines(text)
    check_nights(text, lines[:: len(lines) // FEW])


@pytest.mark.slow
@pytest.mark.parametrize("kinds", KINDS, ids="-".join)
def test_each_line_alone_plays_the_same_nights(kinds):
    text = template(kinds)
    check_nights(text, default_lines(text))


def check_nights(text, numbers):
    base = nights(text)
    for number in numbers:
        played = nights(with_line(text, number))
        for column, kept in base.items():
            assert np.array_equal(played[column], kept, equal_nan=kept.dtype.kind == "f"), (
                column, text.splitlines()[number],
            )  # fmt: skip


def test_a_changed_line_changes_something():
    """The test above can fail: another value in the line is another scenario."""
    text = template()
    number = next(n for n in default_lines(text) if "shy_share" in text.splitlines()[n])
    lines = text.splitlines()
    lines[number] = "shy_share = 0.9"
    other = "\n".join(lines)
    assert loads(other) != loads(text)
    assert any(not np.array_equal(a, b) for a, b in zip(
        nights(other).values(), nights(text).values(), strict=True))  # fmt: skip


def test_every_key_stands_in_the_template_of_some_kind():
    found = set()
    for kinds in KINDS:
        place = ""
        for line in template(kinds).splitlines():
            if head := re.match(r"(?:#\? )?\[+([a-z.]+)\]", line):
                place = head[1] + "."
            elif key := re.match(r"(?:# |#\? )?([a-z_]+) = ", line):
                found.add(place + key[1])
    wanted = {key.path for key in scenario_keys() if not key.table} - {"trigger.any", "trigger.all"}
    assert wanted <= found


def test_what_has_no_default_is_shown_by_a_value_that_would_do():
    for kinds in KINDS:
        for line in template(kinds).splitlines():
            if key := re.match(r"#\? ([a-z_]+) = (.*)", line):
                fields = [one for one in scenario_keys() if one.name == key[1] and one.spec]
                assert any(reads(one, key[2]) for one in fields), line


def reads(key, text):
    import tomllib

    value = tomllib.loads(f"x = {text}")["x"]
    try:
        for one in value if key.several else [value]:
            key.spec.read(one)
    except Exception:
        return False
    return True


@pytest.mark.parametrize(
    ("kinds", "near"), [(("levitating",), "drop"), (("knee", "pin"), "not both")]
)
def test_kinds_that_cannot_be(kinds, near):
    with pytest.raises(ScenarioError, match=near):
        template(kinds)
