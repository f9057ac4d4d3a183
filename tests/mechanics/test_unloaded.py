"""A latch that carries no load: one message that names what would do, and it does."""

import itertools
import re
from collections.abc import Callable
from math import isnan

import numpy as np
import pytest

from soundergate.mechanics import setup, unloaded
from soundergate.mechanics.advice.check import check
from soundergate.mechanics.advice.pairs import compare_pairs
from soundergate.mechanics.advice.sweep import sweep_width
from soundergate.mechanics.advice.trade_off import over_counterweight, over_set_angle
from soundergate.mechanics.gates import drop as drop_gate
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.gates import choice
from soundergate.scenario.gates.choice import GATE_CLASSES, gate_class
from soundergate.scenario.latches import base
from soundergate.scenario.loading import with_values
from soundergate.scenario.schema import Scenario
from soundergate.scenario.unit_system import US
from soundergate.scenario.variants import kinds_in

Trap = Callable[..., Scenario]

UNLOADED = [
    ({"kind": "drop", "counterweight": "60 lb"}, "gate.counterweight", "{} lb"),
    ({"kind": "drop", "counterweight": "37.5 lb", "mass": "37.5 lb"}, "gate.counterweight",
     "{} lb"),
    ({"kind": "top-hinged", "set_angle": "180 deg", "stop": "180 deg"}, "gate.set_angle",
     "{} deg"),
    ({"kind": "side-hinged", "spring_rate": "0 N*m"}, "gate.spring_rate", "{} N*m"),
    ({"kind": "side-hinged", "closer": "rising hinge", "rise": "0 in"}, "gate.rise", "{} in"),
]  # fmt: skip


@pytest.mark.parametrize(("gate", "key", "unit"), UNLOADED)
def test_the_message_names_the_key_and_what_would_do(
    trap: Trap, gate: dict[str, str], key: str, unit: str
) -> None:
    scenario = trap(gate=gate)
    with pytest.raises(ScenarioError) as caught:
        setup.solve(scenario)
    error = caught.value
    assert error.key == f"opening.1.{key}"
    assert error.value == gate[key.split(".")[1]]
    assert "carries no load" in error.problem
    number = float(re.search(r"([\d.]+) (?:lb|deg|N\*m|in)", error.hint)[1])
    mended = with_values(scenario, {f"opening.1.{key}": unit.format(number)})
    assert check(mended).setup.openings[0].curve.shuts


def test_a_counterweight_just_above_the_limit_hangs_and_is_a_result(trap: Trap) -> None:
    gate = drop_gate.DropGate(1.2, 0.9, 17.0, 1.8, drag=LogNormal(10.0), pull_offset=0.1)
    most = drop_gate.most_counterweight(gate)
    for share, falls in ((0.999, True), (1.001, False)):
        loaded = drop_gate.replace(gate, counterweight=share * most)
        assert loaded.falls(gate.friction.median, gate.drag.median) is falls
    stuck = trap(gate={"kind": "drop", "counterweight": "35 lb"})
    report = check(stuck)
    assert report.setup.openings[0].jams
    assert not report.ok


def test_the_counterweight_proposed_brings_sticking_down(trap: Trap) -> None:
    stuck = trap(gate={"kind": "drop", "sheet": "14 gauge", "counterweight": "35 lb"})
    said = " ".join(check(stuck, "US").verdict)
    lighter = float(re.search(r"A counterweight of ([\d.]+) lb instead of 35 lb", said)[1])
    for mass, does in ((lighter, True), (lighter + 1.0, False)):
        mended = with_values(stuck, {"opening.gate.counterweight": f"{mass} lb"})
        assert (setup.solve(mended).openings[0].hang_probability <= 0.02) == does


def test_upright_held_by_friction_is_a_result(trap: Trap) -> None:
    gate = {"kind": "top-hinged", "set_angle": "178 deg", "stop": "180 deg", "friction": 1.0}
    opening = setup.solve(trap(gate=gate | {"pin_radius": "1 in"})).openings[0]
    assert opening.jams
    assert opening.holding_load > 0.0


def test_wind_loads_the_latch_of_an_upright_gate(trap: Trap) -> None:
    gate = {"kind": "top-hinged", "set_angle": "180 deg", "stop": "180 deg", "wind": "5 m/s"}
    assert setup.solve(trap(gate=gate)).openings[0].holding_load > 1.0


def test_sweeps_say_why_and_go_on(trap: Trap) -> None:
    scenario = trap(
        gate={"kind": "drop", "sheet": "14 gauge", "counterweight": "30 lb"}, width="5 ft"
    )
    swept = sweep_width(scenario, [0.6, 1.2, 1.8])
    assert ["carries no load" in why for why in swept.why] == [True, False, False]
    assert list(swept.built()) == [False, True, True]
    assert swept.release_probability[0] == 0.0
    assert isnan(swept.mass[0])
    assert np.isfinite(swept.mass[1:]).all()
    assert (swept.hang_probability[1:] > 0.1).all()
    assert swept.widest() is None
    assert swept.widest(0.6) == 1.8
    assert swept.table["why"][2] == ""
    weights = over_counterweight(scenario, [0.0, 10.0, 40.0])
    assert [bool(why) for why in weights.why] == [False, False, True]
    assert list(weights.shuts())[2] is np.False_
    hinged = trap(gate={"kind": "top-hinged", "stop": "180 deg"})
    assert "upright" in over_set_angle(hinged, [1.5, np.pi]).why[1]


def test_pairs_say_why(trap: Trap) -> None:
    scenario = trap(gate={"kind": "drop", "counterweight": "60 lb"})
    pairs = [p for p in compare_pairs(scenario).pairs if p.gate == "drop"]
    assert len(pairs) == 4
    assert all("carries no load" in p.why and not p.feasible for p in pairs)


@pytest.mark.parametrize(
    "latch",
    [
        {"kind": "pin", "puller": "solenoid", "friction": 0},
        {"kind": "knee", "puller": "solenoid", "friction": 0, "over_centre": "0 deg"},
        {"kind": "finger", "puller": "solenoid", "offset": "-1 in"},
    ],
)
def test_no_margin_is_told_where_no_pull_is_needed(trap: Trap, latch: dict[str, object]) -> None:
    report = check(trap(latch=latch))
    text = report.text()
    assert not re.search(r"\b(inf|nan)\b", text)
    assert "It takes no pull to free it" in text
    assert isnan(report.setup.openings[0].margin)


@pytest.mark.parametrize(
    "latch",
    [{"puller": "solenoid", "pull": "0 lbf"}, {"puller": "air cylinder", "pressure": "0 psi"}],
)
def test_a_puller_without_pull_is_told_what_it_would_take(
    trap: Trap, latch: dict[str, object]
) -> None:
    scenario = trap(latch={"kind": "pin", **latch})
    report = check(scenario, "US")
    said = " ".join(report.verdict)
    assert not report.ok
    assert "gives no pull at all" in said
    pressure = re.search(r"gives at ([\d.]+) psi", said)
    if pressure:
        mended = with_values(scenario, {"opening.latch.pressure": f"{pressure[1]} psi"})
        sure = setup.solve(mended).openings[0].release_probability
        assert sure == pytest.approx(0.95, abs=0.02)


GATES = [
    {"kind": "drop"}, {"kind": "top-hinged"}, {"kind": "side-hinged"},
    {"kind": "side-hinged", "closer": "rising hinge"}, {"kind": "side-hinged", "closer": "weight"},
    {"kind": "push panel"}, {"kind": "push panel", "hinge": "side"}, {"kind": "curled panel"},
    {"kind": "net skirt"},
]  # fmt: skip
LATCHES = ("pin", "knee", "finger", "rotary")
PULLERS = ("solenoid", "air cylinder", "animal")


def test_the_walk_is_over_all_kinds() -> None:
    assert {gate["kind"] for gate in GATES} == set(kinds_in(choice.GATES))
    pullers = kinds_in(base.PULLERS, key="puller")
    assert (set(LATCHES), set(PULLERS)) == (set(kinds_in(base.LATCHES)), set(pullers))
    found = {gate_class(gate) for gate in GATES}
    assert found == set(GATE_CLASSES)


@pytest.mark.parametrize("gate", GATES, ids=lambda g: " ".join(g.values()))
def test_every_kind_has_an_answer_when_nothing_loads_its_latch(
    trap: Trap, scenario_of: Trap, gate: dict[str, str]
) -> None:
    """Also for kinds that no file can reach, asked in Python: a Problem, never a KeyError."""
    way = {"width": "4 ft", "height": "3 ft", "gate": gate}
    scenario = scenario_of({"sounder": {"sows": 1}, "opening": [way], "trigger": {"kind": "none"}})
    (opening,) = setup.solve(scenario).openings
    problem = unloaded.problem(scenario.opening[0], opening.gate, US)
    assert "carries no load" in problem.text
    assert problem.key.startswith("gate.")
    assert problem.hint


LATCHED = [g for g in GATES if g["kind"] not in ("push panel", "curled panel", "net skirt")]


@pytest.mark.parametrize(
    "gate",
    [g for g in GATES if g not in LATCHED],
    ids=lambda g: " ".join(g.values()),
)
def test_a_latch_is_refused_where_none_is_needed(trap: Trap, gate: dict[str, str]) -> None:
    for latch, puller in itertools.product(LATCHES, PULLERS):
        with pytest.raises(ScenarioError, match="needs no latch"):
            trap(gate=gate, latch={"kind": latch, "puller": puller})


@pytest.mark.parametrize(
    ("gate", "latch", "puller"),
    [
        pytest.param(*parts, marks=[pytest.mark.slow] * bool(number % 5))
        for number, parts in enumerate(itertools.product(LATCHED, LATCHES, PULLERS))
    ],
)
def test_every_gate_latch_and_puller_is_checked(
    trap: Trap, gate: dict[str, str], latch: str, puller: str
) -> None:
    report = check(trap(gate=gate, latch={"kind": latch, "puller": puller}))
    assert 0.0 <= report.setup.openings[0].release_probability <= 1.0
