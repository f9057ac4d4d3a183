"""A small complete scenario text that tests change one line of."""

from __future__ import annotations

import pytest

NIGHT = """\
title = "Invented: a trap for tests"

[sounder]
sows = 2
juveniles = 5
piglets = 4

[corral]
diameter = "26 ft"

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "14 gauge"}
latch = {kind = "pin", puller = "solenoid", pull = "25 lbf", lever = 4}

[trigger]
kind = "line"
"""


@pytest.fixture
def night_text() -> str:
    return NIGHT
