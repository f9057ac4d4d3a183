"""The sheet to take along: cautions first, this trap's own numbers, and a fragment that loads."""

from __future__ import annotations

import tomllib

import pytest

from soundergate.mechanics import scatter
from soundergate.mechanics.advice.sheet import BEFORE, sheet
from soundergate.mechanics.setup import solve
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values

NAMES = [item["name"] for item in examples.catalogue()]


@pytest.mark.parametrize("name", NAMES)
def test_cautions_come_before_anything_to_measure(name):
    lines = sheet(loads(examples.text(name)))
    first = next(n for n, line in enumerate(lines) if line.startswith("1. "))
    assert all(f"- {line}" in lines[:first] for line in BEFORE)
    assert "suspended load" in lines[3]


@pytest.mark.parametrize("name", NAMES)
def test_what_it_expects_are_the_traps_own_numbers(name):
    scenario = loads(examples.text(name))
    text = "\n".join(sheet(scenario, "SI"))
    for opening in solve(scenario).openings:
        if opening.latch_kind == "none":
            continue
        low, high = (scatter.quantile(opening.required, share) for share in (0.05, 0.95))
        assert f"{low:.3g} N to {high:.3g} N" in text or f"{high:.0f} N" in text
        if opening.curve.shuts:
            assert f"Expect: {opening.curve.shut_time:.2f} s" in text


@pytest.mark.parametrize("name", NAMES)
def test_its_fragment_goes_into_the_file(name):
    scenario = loads(examples.text(name))
    lines = sheet(scenario)
    start = lines.index("[opening.measured]")
    end = lines.index("", start)
    said = tomllib.loads("\n".join(lines[start:end]))["opening"]["measured"]
    if scenario.opening[0].gate.mass is not None:
        del said["weight"]
    again = with_values(scenario, {"opening.1.measured": said})
    if scenario.opening[0].latch is not None:
        need = solve(scenario).openings[0].pull_required
        assert solve(again).openings[0].pull_required == pytest.approx(need, rel=0.01)


def test_it_worries_at_what_the_puller_gives():
    scenario = loads(examples.text(NAMES[0]))
    weak = with_values(scenario, {"opening.latch": {"kind": "pin", "pull": "1 lbf"}})
    assert "Worry: already" in "\n".join(sheet(weak))
