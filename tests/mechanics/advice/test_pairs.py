"""Gates against latches: who bars a juvenile soonest, and why a pair will not do."""

import re
from collections.abc import Callable
from math import inf, isfinite

import pytest

from soundergate.mechanics import setup
from soundergate.mechanics.advice.pairs import GATES, LATCHES, compare_pairs, juvenile_clearance
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, with_values
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
AIR = {"kind": "pin", "puller": "air cylinder"}


def test_every_pair_is_there_the_feasible_first(trap: Trap) -> None:
    found = compare_pairs(trap())
    assert {(p.gate, p.latch) for p in found.pairs} == {(g, k) for g in GATES for k in LATCHES}
    order = [(not p.feasible, p.juvenile_time) for p in found.pairs]
    assert order == sorted(order)
    assert found.best is found.pairs[0]
    assert len(found.table) == len(GATES) * len(LATCHES)
    for pair in found.pairs:
        assert pair.feasible == (pair.why == "")
        if pair.feasible:
            assert pair.release_time < pair.juvenile_time <= pair.shut_time < inf


def test_the_written_pair_keeps_all_its_keys(trap: Trap) -> None:
    gate = {"kind": "drop", "sheet": "14 gauge", "drag": "5 lbf", "channel_length": "5 ft"}
    scenario = trap(gate=gate, latch={**AIR, "support": "overhung", "overhang": "2 in"})
    (opening,) = setup.solve(scenario).openings
    pair = next(p for p in compare_pairs(scenario).pairs if (p.gate, p.latch) == ("drop", "pin"))
    assert pair.margin == pytest.approx(opening.margin)
    assert pair.shut_time == pytest.approx(opening.release_delay.median() + opening.curve.shut_time)
    needed = juvenile_clearance(scenario, opening)
    assert pair.juvenile_time == pytest.approx(
        opening.release_delay.median() + opening.curve.time_to(needed)
    )


def test_materials_go_with_every_gate(trap: Trap) -> None:
    """Twice the mass halves every margin, whatever the gate and latch."""
    light = {(p.gate, p.latch): p for p in compare_pairs(_massed(trap, "15 kg")).pairs}
    heavy = {(p.gate, p.latch): p for p in compare_pairs(_massed(trap, "30 kg")).pairs}
    for key, pair in light.items():
        if key[0] in ("drop", "top-hinged"):
            assert pair.margin == pytest.approx(2.0 * heavy[key].margin, rel=0.05)


def _massed(trap: Trap, mass: str) -> Scenario:
    return trap(gate={"kind": "drop", "mass": mass})


def test_infeasible_pairs_say_why(trap: Trap) -> None:
    scenario = trap(width="10 ft", latch={**AIR, "bore": "1 in", "pressure": "60 psi"})
    found = compare_pairs(scenario)
    drop = {p.latch: p for p in found.pairs if p.gate == "drop"}
    assert not drop["pin"].feasible
    assert "the pull, which is too weak" in drop["pin"].why
    jammed = compare_pairs(trap(gate={"kind": "drop", "drag": "80 lbf"}))
    assert all("does not shut" in p.why for p in jammed.pairs if p.gate == "drop")
    assert not any(isfinite(p.shut_time) for p in jammed.pairs if p.gate == "drop")


def test_a_pair_that_cannot_be_built_says_why(trap: Trap) -> None:
    """An unknown wire gauge has no mass, whatever the gate."""
    scenario = trap(gate={"kind": "side-hinged", "mesh": "99 gauge 2x4 in"})
    found = compare_pairs(scenario)
    assert found.best is None
    assert all("unknown wire gauge" in pair.why for pair in found.pairs)


def test_a_lever_that_would_do_is_named_and_does(trap: Trap) -> None:
    """Each end of the range it names makes the pair feasible; a little beyond does not."""
    scenario = trap(latch={"kind": "pin", "puller": "solenoid", "pull": "25 lbf", "gap": "2 in"})
    pair = next(p for p in compare_pairs(scenario).pairs if (p.gate, p.latch) == ("drop", "pin"))
    found = re.search(r"a lever ratio from ([\d.]+) to ([\d.]+) would do", pair.why)
    assert found is not None
    least, most = float(found[1]), float(found[2])
    for ratio, does in ((least * 1.02, True), (most, True), (least * 0.9, False), (4.1, False)):
        (opening,) = setup.solve(with_values(scenario, {"opening.latch.lever": ratio})).openings
        assert (opening.release_probability >= 0.94) == does


def test_no_lever_is_named_where_none_does(trap: Trap) -> None:
    latch = {"kind": "pin", "puller": "solenoid", "pull": "5 lbf", "gap": "0.6 in"}
    pairs = compare_pairs(trap(latch=latch, width="10 ft")).pairs
    pin = next(p for p in pairs if (p.gate, p.latch) == ("drop", "pin"))
    assert "lever" not in pin.why


def test_an_entrance_without_a_latch_has_no_pairs(trap: Trap) -> None:
    table = trap().raw
    table["opening"][0] = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "push panel"}}
    with pytest.raises(ScenarioError, match="a one-way entrance has no latch to compare"):
        compare_pairs(from_table({**table, "trigger": {"kind": "none"}}))
