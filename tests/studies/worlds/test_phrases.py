"""Every unknown in plain words, with values in a unit that one would say."""

from __future__ import annotations

import re

import numpy as np
import pytest

from soundergate.scenario.register import UNKNOWN, register
from soundergate.studies.worlds.boxes import Side
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.phrases import named, phrase, value, where

UNKNOWNS = [Input(one.id, (one.id,), one) for one in register().values() if one.role == UNKNOWN]


def unknown(name):
    return Input(name, (name,), register()[name])


def test_every_unknown_has_a_phrase_and_its_id_behind():
    """New unknowns of the register need words too, unless they are the scatter of one that has."""
    assert not [one.id for one in UNKNOWNS if phrase(one.id) == one.id]
    for one in UNKNOWNS:
        assert named(one.id) == f"{phrase(one.id)} ({one.id})"
        assert re.fullmatch(r"(the|a) [^.;:]+", phrase(one.id))
    assert named("something.else") == "something.else"


def test_limits_of_every_unknown_can_be_said():
    """Values are those of `Input.at`, to two figures, and neither a place nor a bare u."""
    for one in UNKNOWNS:
        for u in (0.2, 0.4, 0.7):
            for below in (True, False):
                said = where(Side(one, below, u))
                assert said.startswith(named(one.id))
                assert not re.search(r"None|nan|e[-+]\d|\^|1/", said)
                if not (isinstance(one.entry.value, list) or one.entry.whole):
                    number = value(one, one.at(u)).partition(" ")[0]
                    assert re.search(rf"(?<![\d.]){re.escape(number)}(?![\d.])", said)
                    assert (" under " if below else " above ") in said


@pytest.mark.parametrize(
    ("name", "number", "said"),
    [
        ("entry.clock", 119.0, "119 s"),
        ("entry.clock", 121.0, "2 min"),
        ("holding.root_clock", 500.0, "21 days"),
        ("opening.latch.animal.delay", 2500.0, "2.5 s"),
        ("entry.shy_share", 0.0512, "5.1 %"),
        ("movement.side_clearance", 1.234, "1.2"),
        ("opening.latch.solenoid.temperature", -7.26, "−7.3 °C"),
        ("trigger.false_release", 0.0312, "0.031 a day"),
        ("opening.gate.drop.drag_share", 0.08, "0.08 times the gate's weight"),
        ("trigger.false_release", 0.0, "0 a day"),
    ],
)
def test_values_in_a_handy_unit(name, number, said):
    assert value(unknown(name), number) == said


def test_whole_numbers_are_said_as_such():
    """Parties of the group, 1 to 3, half of them one: no limit says "1 or more"."""
    parties = unknown("sounder.subgroups")
    edge = max(u for u in np.linspace(0.01, 0.99, 99) if parties.at(u) == 1)
    assert where(Side(parties, False, 0.3)).endswith("is 2 or more")
    assert where(Side(parties, False, edge + 0.01)).endswith("is 2 or more")
    assert where(Side(parties, True, edge)).endswith("is 1 or less")
    nights = unknown("entry.push_nights")
    for wanted in (2, 3, 5):
        u = np.array([x for x in np.linspace(0.01, 0.99, 999) if nights.at(x) == wanted])
        assert where(Side(nights, False, u.min())).endswith(f"is {wanted} or more")
        assert where(Side(nights, True, u.max())).endswith(f"is {wanted} or less")


def test_several_numbers_that_move_together_have_ends_and_no_value():
    lists = [one for one in UNKNOWNS if isinstance(one.entry.value, list)]
    assert lists
    for one in lists:
        assert value(one, one.at(0.05)) == "its low end"
        assert value(one, one.at(0.95)) == "its high end"
        assert where(Side(one, True, 0.37)).endswith("is below its 37 % point")
