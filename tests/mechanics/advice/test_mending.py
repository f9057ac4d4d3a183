"""What `check` proposes passes when it is followed, for whatever is wrong."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from typing import Any

import pytest

from soundergate.mechanics import setup
from soundergate.mechanics.advice import mending, mends
from soundergate.mechanics.advice.bench import Bench, shuts
from soundergate.mechanics.advice.check import check
from soundergate.mechanics.advice.latches import pin
from soundergate.mechanics.advice.pullers import air_cylinder, solenoid
from soundergate.scenario import examples
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, loads
from soundergate.scenario.schema import Scenario
from soundergate.scenario.unit_system import SI, US

Trap = Callable[..., Scenario]
AIR = {"kind": "pin", "puller": "air cylinder"}
COIL = {"kind": "pin", "puller": "solenoid"}


def drawn(rng: random.Random) -> dict[str, Any]:
    """An opening whose latch is often too weak, too short or slips, and whose gate may stick."""
    gate: dict[str, Any] = rng.choice(
        [
            {"kind": "drop", "sheet": "14 gauge"},
            {
                "kind": "drop",
                "channel_length": "3.8 ft",
                "drag_share": {"median": 0.1, "sigma": 0.6},
            },
            {"kind": "drop", "counterweight": "15 lb", "pull_offset": "2 in"},
            {"kind": "top-hinged", "set_angle": f"{rng.choice([90, 120, 150])} deg"},
            {"kind": "side-hinged", "spring_rate": f"{rng.choice([5, 15, 40])} N*m"},
        ]
    )
    latch: dict[str, Any] = {
        "kind": rng.choice(["pin", "knee", "finger", "rotary"]),
        "puller": rng.choice(["solenoid", "air cylinder", "animal"]),
        "lever": rng.choice([0.5, 1, 2, 6]),
        "engaged": rng.choice(["0.1 in", "0.3 in", "0.5 in", "1 in"]),
        "friction": {"median": rng.choice([0.2, 0.4, 0.6]), "sigma": rng.choice([0.2, 0.35])},
    }
    if latch["puller"] == "solenoid":
        latch |= {"pull": f"{rng.choice([3, 8, 20, 45])} lbf"}
        latch |= rng.choice([{}, {"gap": "1 in"}, {"wire_length": "90 ft", "wire_gauge": 20}])
        latch |= rng.choice([{}, {}, {"stroke": "2 in"}])
    if latch["puller"] == "air cylinder":
        latch |= {"bore": rng.choice(["0.75 in", "1.125 in", "1.5 in"]), "rod": "0.3 in"}
        latch |= {"pressure": rng.choice(["15 psi", "30 psi", "60 psi"])}
        latch |= {"stroke": rng.choice(["0.5 in", "1.5 in", "3 in"])}
    if latch["kind"] == "finger":
        latch |= {"offset": rng.choice(["0 in", "-0.1 in", "-0.25 in"])}
    if latch["kind"] == "pin":
        latch |= {"support": rng.choice(["double shear", "double shear", "overhung"])}
    return {"width": f"{rng.choice([4, 6, 10])} ft", "height": "3 ft", "gate": gate, "latch": latch}


def scenario_with(opening: dict[str, Any], **tables: Any) -> Scenario:
    table = {"sounder": {"sows": 2, "juveniles": 4}, "opening": [opening]}
    return from_table({**table, "trigger": {"kind": "line"}, **tables})


def followed(scenario: Scenario, units: Any = US) -> tuple[mending.Advice, bool]:
    """The advice on a scenario's only opening, each proposal applied and checked once more."""
    (before,) = setup.solve(scenario).openings
    advice = mending.advice(scenario, 0, before, units)
    for proposal in advice.proposals:
        # As a user would: the file as it now reads, loaded and checked from nothing.
        again = from_table(proposal.scenario.raw)
        report = check(again, units.name)
        (opening,) = report.setup.openings
        assert report.ok, proposal.words
        assert shuts(opening) >= mending.TARGET, proposal.words
        assert again != scenario
    return advice, shuts(before) < mending.TARGET


def sure(opening: Any) -> bool:
    return shuts(opening) >= mending.TARGET


@pytest.mark.parametrize("seed", range(4))
def test_every_proposal_passes_when_it_is_followed(seed: int) -> None:
    rng = random.Random(seed)
    advice, weak = followed(scenario_with(drawn(rng)), rng.choice([US, SI]))
    assert not weak or advice.lines


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4, 64))
def test_every_proposal_passes_when_it_is_followed_at_length(seed: int) -> None:
    rng = random.Random(seed)
    advice, weak = followed(scenario_with(drawn(rng)), rng.choice([US, SI]))
    assert not weak or advice.lines


def test_proposals_are_not_rare() -> None:
    """The walk above would be empty if nothing were ever proposed."""
    count = 0
    for seed in range(12):
        scenario = scenario_with(drawn(random.Random(seed)))
        (opening,) = setup.solve(scenario).openings
        count += len(mending.advice(scenario, 0, opening, US).proposals)
    assert count > 12


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_words_are_the_values_that_were_tried(trap: Trap, system: str) -> None:
    """Typed in from the sentence, the number does what the sentence says."""
    scenario = trap(width="6 ft", latch={**AIR, "bore": "1.25 in", "pressure": "60 psi"})
    said = " ".join(check(scenario, system).verdict)
    ratio = re.search(r"For 95 %: a lever ratio of ([\d.]+), with", said)[1]
    air = re.search(r"gives at ([\d.]+ (?:psi|kPa)) \(only within its rating\)", said)[1]
    for key, value in (("lever", float(ratio)), ("pressure", air)):
        latch = {**scenario.raw["opening"][0]["latch"], key: value}
        assert check(trap(width="6 ft", latch=latch)).ok


def test_the_least_that_does_is_proposed(trap: Trap) -> None:
    latch = {**AIR, "bore": "1.25 in", "pressure": "60 psi"}
    said = " ".join(check(trap(width="6 ft", latch=latch)).verdict)
    ratio = float(re.search(r"a lever ratio of ([\d.]+), with", said)[1])
    (short,) = setup.solve(trap(width="6 ft", latch={**latch, "lever": ratio - 0.1})).openings
    assert shuts(short) < mending.TARGET


def test_a_solenoid_of_hundreds_of_pounds_is_never_proposed(trap: Trap) -> None:
    """An overhung, dry pin under a heavy gate would take 476 lbf: nobody builds that."""
    gate = {"kind": "drop", "mass": "400 lb"}
    latch = {**COIL, "pull": "25 lbf", "support": "overhung", "overhang": "2 in", "friction": 0.6}
    report = check(trap(gate, latch))
    said = " ".join(report.verdict)
    pulls = [float(x) for x in re.findall(r"a pull of ([\d.]+) lbf", said)]
    assert all(x <= 60 for x in pulls)
    assert "would not do: another lever" in said
    assert "a solenoid of up to 60 lbf" in said
    travels = [float(x) for x in re.findall(r"with ([\d.]+) in of travel", said)]
    assert all(x <= 1.5 for x in travels)
    followed(trap(gate, latch))


def test_where_nothing_does_it_is_said(trap: Trap) -> None:
    gate = {"kind": "drop", "mass": "4 oz", "drag": "60 lbf"}
    said = " ".join(check(trap(gate, AIR)).verdict)
    assert "No channel length brings sticking open below 2 %" in said
    assert "No change of one part that was tried makes it sure" in said
    assert "For 95 %" not in said


def test_both_amiss_are_mended_together(trap: Trap) -> None:
    """A gate that sticks and a latch that is too weak: each proposal has a part for either."""
    gate = {"kind": "drop", "channel_length": "3.6 ft", "drag": {"median": "4 lbf", "sigma": 0.7}}
    scenario = trap(gate, {**AIR, "bore": "0.75 in", "rod": "0.3 in", "pressure": "40 psi"},
                    width="8 ft")  # fmt: skip
    advice, weak = followed(scenario)
    assert weak
    assert advice.proposals
    assert all("channels of" in p.words for p in advice.proposals)
    assert any("lever ratio" in p.words or "bore" in p.words for p in advice.proposals)


def test_several_openings_are_mended_each_in_its_own_table(trap: Trap) -> None:
    scenario = trap(latch=AIR, openings=2)
    raw = scenario.raw
    raw["opening"][1]["latch"] = {**AIR, "pressure": "12 psi"}
    two = from_table(raw)
    solved = setup.solve(two)
    assert not mending.advice(two, 0, solved.openings[0], US).proposals
    advice = mending.advice(two, 1, solved.openings[1], US)
    assert advice.proposals
    for proposal in advice.proposals:
        assert proposal.scenario.opening[0] == two.opening[0]
        assert proposal.scenario.opening[1] != two.opening[1]


def test_an_emptying_container_gets_one_that_frees_the_latch_to_the_end(trap: Trap) -> None:
    scenario = trap(
        latch={"kind": "pin", "puller": "animal", "lever": 2},
        trigger={"kind": "bait", "container": "6 lb"},
        bait={"mass": "40 lb"},
    )
    (opening,) = setup.solve(scenario).openings
    found = mending.advice(scenario, 0, opening, US).proposals
    assert found
    for proposal in found:
        (mended,) = setup.solve(from_table(proposal.scenario.raw)).openings
        assert mending.empty_release(mended) >= mending.TARGET


def test_a_bench_gives_nothing_for_what_the_file_may_not_say(trap: Trap) -> None:
    from soundergate.mechanics.advice.bench import Change

    bench = Bench(trap(latch=AIR), 0, US)
    assert bench.solved(Change({"bore": "50 in"})) is None
    with pytest.raises(ScenarioError):
        bench.written(Change({"bore": "50 in"}))


def test_examples_that_pass_get_no_advice() -> None:
    for name in examples.names():
        scenario = loads(examples.text(name))
        for index, opening in setup.solve(scenario).different():
            sure = shuts(opening) >= mending.TARGET
            sticks = opening.jams or opening.hang_probability > mending.HANG_TARGET
            empty = mending.empty_release(opening)
            advice = mending.advice(scenario, index, opening, US)
            if sure and not sticks and (empty is None or empty >= mending.TARGET):
                assert not advice.lines, name


def test_a_longer_stroke_is_the_mend_of_a_short_one_alone(trap: Trap) -> None:
    """A strong cylinder: short of the way the pin goes it takes a longer one, else no word."""

    def stroke_for(stroke: str) -> Any:
        latch = {**AIR, "bore": "2 in", "pressure": "80 psi", "engaged": "1 in", "stroke": stroke}
        bench = Bench(trap(latch=latch), 0, US)
        return air_cylinder.stroke(bench, sure), bench

    enough, _ = stroke_for("2 in")
    assert enough is None
    longer, bench = stroke_for("0.5 in")
    assert shuts(bench.now) == 0.0
    size, unit = longer.change.latch["stroke"].split()
    assert unit == "in"
    assert bench.now.trip_travel == pytest.approx(float(size) * 0.0254, rel=0.3)
    assert shuts(longer.solved) >= mending.TARGET


def test_less_engaged_lets_a_longer_lever_in_and_no_longer(trap: Trap) -> None:
    """Engaged length times the ratio is the travel at the puller: as near its stroke as may be."""
    latch = {**AIR, "bore": "1.125 in", "rod": "0.3 in", "engaged": "1 in", "stroke": "1 in"}
    scenario = trap({"kind": "drop", "mass": "60 lb"}, {**latch, "pressure": "60 psi"})
    bench = Bench(scenario, 0, US)
    mend = mends.engaged(bench, sure)
    inches, ratio = float(mend.change.latch["engaged"].split()[0]), mend.change.latch["lever"]
    assert inches < 1.0 < ratio
    assert inches * ratio <= 1.0 + 1e-9 < inches * (ratio + 0.1)
    assert shuts(bench.now) < mending.TARGET <= shuts(mend.solved)


def test_nobody_is_told_to_engage_less_where_a_lever_does_it(trap: Trap) -> None:
    latch = {**AIR, "bore": "1.125 in", "rod": "0.3 in", "engaged": "1 in", "stroke": "2.6 in"}
    bench = Bench(trap({"kind": "drop", "mass": "60 lb"}, {**latch, "pressure": "60 psi"}), 0, US)
    assert isinstance(mends.lever(bench, sure), mends.Mend)
    assert mends.engaged(bench, sure) is None


def test_a_pin_is_held_on_both_sides_where_it_was_overhung(trap: Trap) -> None:
    def held_for(**latch: Any) -> mends.Outcome:
        bench = Bench(trap(latch={**AIR, **latch}), 0, US)
        return pin.support(bench, lambda opening: shuts(opening) > shuts(bench.now))

    weak = {"pressure": "30 psi", "support": "overhung", "overhang": "2 in"}
    mend = held_for(**weak)
    assert isinstance(mend, mends.Mend)
    assert mend.solved.pull_required > 0.0
    assert mend.change.latch["support"] == "double shear"
    assert held_for(pressure="30 psi") is None
    knee = Bench(trap(latch={**AIR, "pressure": "5 psi", "kind": "knee"}), 0, US)
    assert pin.support not in mends.on_the_latch(knee)


CREEK = {**COIL, "pull": "25 lbf", "lever": 4}


def creek(trap: Trap, **latch: Any) -> Scenario:
    return trap({"kind": "drop", "sheet": "14 gauge"}, {**CREEK, **latch}, width="4 ft")


@pytest.mark.parametrize("engaged", ["0.5 in", "1 in", "2 in"])
def test_what_is_said_not_to_do_alone_does_not(trap: Trap, engaged: str) -> None:
    """A pin engaged by 1/8 in lets go in this trap, so nobody may say that less would not do."""
    assert check(creek(trap, engaged="1/8 in")).ok
    advice, weak = followed(creek(trap, engaged=engaged))
    assert weak
    assert any("with the lever as it is: a latch engaged by" in p.words for p in advice.proposals)
    assert "engaged by less" not in " ".join(advice.wont)


def test_two_causes_are_mended_by_two_changes(trap: Trap) -> None:
    """Thin cable and a long way: neither change does alone, both together do."""
    scenario = creek(trap, wire_length="100 ft", wire_gauge=22)
    bench = Bench(scenario, 0, US)
    assert not isinstance(mends.engaged(bench, sure), mends.Mend)
    assert not isinstance(solenoid.cable(bench, sure), mends.Mend)
    advice, _ = followed(scenario)
    first = advice.proposals[0]
    assert re.search(r"cable of \d+ gauge, and a latch engaged by", first.words)
    assert first.scenario.opening[0].latch.wire_gauge % 2 == 0
    report = check(scenario)
    assert report.verdict[0].endswith("then releases in 0 % of tries.")
    assert "does NOT shut: it stays set" in report.verdict[0]
    (weak,) = [line for line in report.verdict if line.startswith("Weak link")]
    assert "travel" in weak
    assert "and the pull, which would be too weak in 99" in weak


def test_no_pair_is_sought_where_one_change_does(trap: Trap) -> None:
    advice, _ = followed(creek(trap, engaged="2 in"))
    assert not any(", and " in p.words for p in advice.proposals)


@pytest.mark.parametrize("gauge", [17, 18, 21, 22])
def test_cable_is_proposed_in_gauges_that_are_sold(trap: Trap, gauge: int) -> None:
    bench = Bench(creek(trap, wire_gauge=gauge, wire_length="60 ft", engaged="1/8 in"), 0, US)
    gauges = solenoid.thicker_cables(bench)
    assert gauges[0] < gauge
    assert gauges[-1] == 10
    assert all(g % 2 == 0 for g in gauges)


@pytest.mark.parametrize("engaged", ["0.37 in", "0.5 in", "1.3 in", "2 in"])
def test_one_lever_ratio_is_told_in_one_rounding(trap: Trap, engaged: str) -> None:
    said = " ".join(check(creek(trap, engaged=engaged)).verdict)
    told = [float(x) for x in re.findall(r"only up to a ratio of ([\d.]+)", said)]
    told += [float(x) for x in re.findall(r"lbf with a lever ratio of ([\d.]+)", said)]
    told += [float(x) for x in re.findall(r"a lever ratio of ([\d.]+) is the most", said)]
    assert len(told) >= 2
    assert len(set(told)) == 1
    assert told[0] * float(engaged.split()[0]) <= 0.5 * (1.0 + 1e-9)


def test_a_line_that_breaks_is_told_what_fails_after_it(trap: Trap) -> None:
    scenario = trap(
        {"kind": "drop", "sheet": "14 gauge"},
        {"kind": "pin", "puller": "animal"},
        width="4 ft",
        trigger={"kind": "line", "break_force": "20 lbf"},
    )
    said = " ".join(check(scenario).verdict)
    assert "Weak link: the line, which breaks" in said
    assert re.search(r"a stronger line \(with one that bears \d+ lbf the weak link would be", said)
