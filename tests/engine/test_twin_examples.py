"""Both engines agree to the bit on every example scenario, which together cover every gate, latch
and trigger that a scenario can name."""

from __future__ import annotations

import tomllib

import pytest

from shared.identities import check_identities
from shared.plans import plan_of
from soundergate.engine import play
from soundergate.scenario import examples
from soundergate.scenario.gates.choice import GATES
from soundergate.scenario.loading import loads
from soundergate.scenario.triggers.base import TRIGGERS
from soundergate.scenario.variants import kinds_in

SEED = 20


@pytest.mark.parametrize("name", examples.names())
def test_example_is_the_same_night_in_both_engines(name: str) -> None:
    scenario = loads(examples.text(name), name)
    plan = plan_of(scenario)
    reference = play(plan, SEED, 0, 25, "reference")
    check_identities(reference)
    assert reference == play(plan, SEED, 0, 25, "batch")


def test_examples_cover_every_gate_latch_trigger_and_puller() -> None:
    tables = [tomllib.loads(examples.text(name)) for name in examples.names()]
    openings = [opening for table in tables for opening in table["opening"]]
    latches = [opening["latch"] for opening in openings if "latch" in opening]
    triggers = [table["trigger"] for table in tables]
    parts = [
        part for trigger in triggers for part in trigger.get("any", trigger.get("all", [trigger]))
    ]
    assert {opening["gate"]["kind"] for opening in openings} == set(kinds_in(GATES))
    assert {latch["kind"] for latch in latches} == {"pin", "knee", "finger", "rotary"}
    assert {latch["puller"] for latch in latches} == {"solenoid", "air cylinder", "animal"}
    assert {part["kind"] for part in parts} == set(kinds_in(TRIGGERS))
    assert {part.get("link") for part in parts} >= {"radio", "modem", "relay"}
    assert any("any" in trigger for trigger in triggers)
    assert any("all" in trigger for trigger in triggers)
