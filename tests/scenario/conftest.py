"""A small complete scenario text that tests change one line of, and traps of every kind."""

from __future__ import annotations

from typing import Any

import pytest

from soundergate.scenario.loading import loads
from soundergate.scenario.schema import Scenario

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


GATES = {
    "drop": "",
    "top-hinged": "",
    "side-hinged": "",
    "side-hinged ": ', closer = "rising hinge"',
    "side-hinged  ": ', closer = "weight"',
    "push panel": "",
    "push panel ": ', hinge = "side"',
    "curled panel": "",
    "net skirt": "",
}
LATCHES = {
    "pin": 'puller = "solenoid"',
    "knee": 'puller = "air cylinder"',
    "finger": 'puller = "animal"',
    "rotary": 'puller = "solenoid", turns = 900, plunger_area = "1 in^2"',
}
TRIGGERS = (
    'kind = "line"',
    'kind = "bait"',
    'kind = "counter"',
    *(f'kind = "person"\nlink = "{link}"' for link in ("radio", "modem", "relay")),
    'kind = "none"',
    'any = [{kind = "line"}, {kind = "bait"}, {kind = "person"}]',
)


def scenario_text(gate: str, latch: str, trigger: str, drag: str = "") -> str:
    more = GATES[gate] + drag
    one_way = gate.strip() in ("push panel", "curled panel", "net skirt")
    hung = "" if one_way else f'latch = {{kind = "{latch}", {LATCHES[latch]}}}'
    return f"""
[sounder]
sows = 1
boars = 1
juveniles = 2
piglets = 1
varies = {{low = 1}}

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {{kind = "{gate.strip()}"{more}}}
{hung}

[trigger]
{trigger}
"""


def every_trap() -> dict[str, str]:
    """Scenarios that between them rest on every default of the register, by name."""
    found = {}
    for gate in GATES:
        found[f"gate {gate}"] = scenario_text(gate, "pin", 'kind = "counter"')
    for latch in LATCHES:
        found[f"latch {latch}"] = scenario_text("drop", latch, TRIGGERS[0])
    for trigger in TRIGGERS:
        found[f"trigger {trigger}"] = scenario_text("drop", "pin", trigger)
    found["drag"] = scenario_text("drop", "pin", TRIGGERS[0], ', drag = "2 lbf"')
    found["left out"] = scenario_text("drop", "pin", TRIGGERS[0]).replace(
        'latch = {kind = "pin", puller = "solenoid"}', ""
    )
    return found


TRAPS = every_trap()


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that asks for `trap_text` meets traps that rest on every default of the register."""
    if "trap_text" in metafunc.fixturenames:
        metafunc.parametrize("trap_text", TRAPS.values(), ids=TRAPS)


@pytest.fixture(scope="session")
def traps() -> dict[str, Scenario]:
    """What `trap_text` goes through, by name, loaded."""
    return {name: loads(text) for name, text in TRAPS.items()}


@pytest.fixture
def written():
    """``written(scenario)``: the defaults it rests on as a person would write them, by path."""

    def plainly(resolved: dict[str, Any], path: str, name: str) -> Any:
        from soundergate.scenario.messages import look_up
        from soundergate.scenario.register import form

        how = form(name)
        if how is not None:
            return how.value
        value = look_up(resolved, path.split("."))
        # A duration that does not vary by the register is resolved as fixed.
        return value["fixed"] if isinstance(value, dict) else value

    def told(scenario) -> dict[str, Any]:
        from soundergate.scenario.assumptions import defaults_used

        resolved = scenario.resolved()
        used = defaults_used(scenario)
        return {path: plainly(resolved, path, entry.id) for path, entry in used}

    return told
