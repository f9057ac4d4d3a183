"""Make-ups of a sounder by name."""

from __future__ import annotations

import pytest

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads
from soundergate.scenario.sounder import PRESETS

FILE = """
[sounder]
{sounder}
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {{kind = "drop"}}
[trigger]
kind = "counter"
"""


def heads(sounder: str) -> tuple[int, int, int, int]:
    found = loads(FILE.format(sounder=sounder)).sounder
    return found.sows, found.boars, found.juveniles, found.piglets


def test_each_preset_is_somebody() -> None:
    assert heads('preset = "single boar"') == (0, 1, 0, 0)
    assert heads('preset = "small family"') == (1, 0, 1, 4)
    assert heads('preset = "large sounder"') == (4, 0, 6, 12)
    assert len(PRESETS) == 3


def test_stated_heads_count_instead() -> None:
    assert heads('preset = "large sounder"\npiglets = 0\nboars = 1') == (4, 1, 6, 0)


def test_an_unknown_preset_names_those_there_are() -> None:
    with pytest.raises(ScenarioError, match=r"sounder\.preset.*\"single boar\".*mean \"large"):
        heads('preset = "large sounders"')


def test_a_preset_of_which_nobody_is_left() -> None:
    with pytest.raises(ScenarioError, match=r"the group is empty.*or a preset"):
        heads('preset = "single boar"\nboars = 0')
