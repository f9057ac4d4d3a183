"""`check`: the words, the margins, the cautions, and when it does not pass."""

import re
from collections.abc import Callable

import pytest

from soundergate.mechanics.check import check
from soundergate.scenario.loading import with_values
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
AIR = {"kind": "pin", "puller": "air cylinder"}


def weak(trap: Trap, **more: object) -> Scenario:
    """A wide, heavy gate on a small cylinder at low pressure."""
    return trap(width="10 ft", latch={**AIR, "bore": "1 in", "pressure": "60 psi", **more})


def test_a_good_trap_passes_and_says_so_first(trap: Trap) -> None:
    report = check(trap())
    assert report.ok
    first = report.verdict[0]
    assert "holds and releases in over 99.9 % of tries" in first
    assert "4 ft wide, 3 ft high" in first
    assert report.text().startswith(first)


def test_a_weak_latch_fails_with_what_would_mend_it(trap: Trap) -> None:
    report = check(weak(trap))
    words = " ".join(report.verdict)
    assert not report.ok
    assert "holds, but does NOT release surely: in under 0.1 % of tries" in report.verdict[0]
    assert "Weak link: the pull" in words
    assert "For 95 %: a lever ratio of" in words
    assert "psi (only within its rating)" in words


def test_the_proposed_lever_does_what_it_promises(trap: Trap) -> None:
    scenario = weak(trap)
    words = " ".join(check(scenario).verdict)
    ratio = float(re.search(r"a lever ratio of ([\d.]+), with", words)[1])
    mended = check(with_values(scenario, {"opening.latch.lever": ratio}))
    almost = check(with_values(scenario, {"opening.latch.lever": ratio - 0.1}))
    assert mended.setup.openings[0].release_probability >= 0.95
    assert almost.setup.openings[0].release_probability < 0.95
    assert mended.ok


def test_the_proposed_pressure_does_what_it_promises(trap: Trap) -> None:
    scenario = weak(trap)
    words = " ".join(check(scenario).verdict)
    pressure = float(re.search(r"gives at ([\d.]+) psi", words)[1])
    mended = check(with_values(scenario, {"opening.latch.pressure": f"{pressure + 1} psi"}))
    assert mended.setup.openings[0].release_probability == pytest.approx(0.95, abs=0.01)


def test_a_lever_that_runs_out_of_stroke_is_told(trap: Trap) -> None:
    scenario = trap(latch={**AIR, "lever": 8, "stroke": "3 in", "engaged": "0.5 in"})
    report = check(scenario)
    words = " ".join(report.verdict)
    assert not report.ok
    assert "Weak link: travel" in words
    assert "a lever ratio of 6 is the most" in words


def test_when_no_lever_will_do_it_says_so(trap: Trap) -> None:
    words = " ".join(check(weak(trap, stroke="0.6 in", engaged="0.5 in")).verdict)
    assert "A lever alone will not do" in words


def test_a_hanging_gate_gets_channels_that_cure_it(trap: Trap) -> None:
    gate = {"kind": "drop", "channel_length": "3.6 ft", "drag": {"median": "4 lbf", "sigma": 0.7}}
    scenario = trap(gate=gate, width="8 ft")
    report = check(scenario)
    words = " ".join(report.verdict)
    before = report.setup.openings[0].hang_probability
    length = float(re.search(r"Channels of ([\d.]+) ft a side", words)[1])
    mended = with_values(scenario, {"opening.gate.channel_length": f"{length} ft"})
    assert before > 0.03
    assert check(mended).setup.openings[0].hang_probability == pytest.approx(0.02, abs=0.002)


def test_a_gate_that_no_channel_cures(trap: Trap) -> None:
    gate = {"kind": "drop", "drag": {"median": "30 lbf", "sigma": 0.5}}
    assert "No channel length brings" in " ".join(check(trap(gate=gate)).verdict)


def test_a_jam_fails_without_a_crash(trap: Trap) -> None:
    report = check(trap(gate={"kind": "drop", "drag": "60 lbf"}))
    assert not report.ok
    assert "does NOT shut" in report.verdict[0]
    assert report.table.loc["movement to shut", "opening 1"] == "does not shut"


def test_two_openings_are_told_apart(trap: Trap) -> None:
    two = with_values(trap(openings=2), {"opening.1.width": "10 ft"})
    report = check(two)
    assert list(report.table.columns) == ["opening 1", "opening 2"]
    assert any(line.startswith("Opening 2 (drop, 10 ft wide") for line in report.verdict)
    assert len(set(report.cautions)) == len(report.cautions)


def test_one_weak_opening_fails_the_trap(trap: Trap) -> None:
    low = {"opening.1.latch.pressure": "12 psi"}
    assert not check(with_values(trap(openings=2), low)).ok


def test_cautions_always_stand(trap: Trap) -> None:
    text = " ".join(check(trap()).cautions)
    for word in (
        "suspended load",
        "children, helpers and dogs",
        "Compressed air",
        "is ever a clearance",
        "disease",
        "at least daily",
        "not its target",
        "local codes and licensed or agency advice come first",
    ):
        assert word in text


def test_units_follow_the_file_unless_told(trap: Trap) -> None:
    metric = trap(width="1.2 m", height="0.9 m", gate={"kind": "drop", "mass": "20 kg"})
    assert check(metric).units == "SI"
    assert "1.2 m wide" in check(metric).verdict[0]
    assert check(metric).table.loc["load on the latch", "opening 1"] == "196 N"
    assert check(metric, units="US").table.loc["load on the latch", "opening 1"] == "44.1 lbf"
    assert check(trap()).units == "US"
    with pytest.raises(ValueError, match="units must be 'US' or 'SI', got 'metric'"):
        check(metric, units="metric")


def test_common_practice_figures_of_a_six_foot_panel_corral(trap: Trap) -> None:
    """Common practice, no source: openings 3 ft high and 3 to 10 ft wide; 6 ft of channel a side.

    All of them hold and shut; the channel length is the default.
    """
    for width in (3, 4, 6, 8, 10):
        scenario = trap(width=f"{width} ft")
        assert scenario.opening[0].gate.channel_length == pytest.approx(6 * 0.3048)
        opening = check(scenario).setup.openings[0]
        assert not opening.jams
        assert 0.43 < opening.curve.shut_time < 0.55
