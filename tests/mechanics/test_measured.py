"""Measured beats computed: readings enter the one chain, and `check` and `run` both follow them."""

from __future__ import annotations

from math import exp, hypot, log, sqrt

import numpy as np
import pytest
from scipy import stats

from shared.plans import plan_of
from soundergate.engine import play
from soundergate.mechanics import measured
from soundergate.mechanics.advice import bench, check
from soundergate.mechanics.advice.measured import differences
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.setup import solve
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, loads, with_values
from soundergate.scenario.unit_system import SI, units

TEXT = """
[sounder]
sows = 2
juveniles = 3
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "14 gauge"}
latch = {kind = "pin", puller = "air cylinder"}
[trigger]
kind = "person"
awake = 1.0
"""
BASE = loads(TEXT)
COIL = with_values(BASE, {"opening.latch": {"kind": "pin", "puller": "solenoid", "pull": "60 lbf"}})

COUNTED = with_values(BASE, {"trigger": {"kind": "counter", "count": 1, "miss": 0, "double": 0}})
"""The first animal that goes in calls for the release, every night the same way."""


def found(scenario=BASE, **readings):
    return with_values(scenario, {f"opening.1.measured.{k}": v for k, v in readings.items()})


def opening(scenario):
    return solve(scenario).openings[0]


# ---- what readings say --------------------------------------------------------------------


def test_one_reading_has_its_stated_error_and_several_their_scatter():
    one = measured.reading([5.0], 0.1)
    assert (one.median, one.sigma) == (pytest.approx(5.0), pytest.approx(0.1))
    values = [4.0, 5.0, 6.5]
    several = measured.reading(values, 0.01)
    assert several.median == pytest.approx(stats.gmean(values))
    assert several.sigma == pytest.approx(np.std(np.log(values), ddof=1) * sqrt(4 / 3))


def test_equal_readings_are_no_surer_than_so_many_of_that_error():
    assert measured.reading([5.0] * 4, 0.1).sigma == pytest.approx(0.05)


def test_a_next_reading_falls_within_the_scatter_as_often_as_it_says():
    """Predictive variance s^2 (1 + 1/n): over samples of 8 the mean square of the next one's
    standardised distance is that of Student's t with 7 degrees, (7 / 5). False alarm 1e-4."""
    rng = np.random.default_rng(20260301)
    distance = []
    for _ in range(4000):
        *seen, after = np.exp(rng.normal(0.5, 0.3, 9))
        said = measured.reading(list(map(float, seen)), 1e-6)
        distance.append((log(after) - log(said.median)) / said.sigma)
    assert stats.kstest(distance, stats.t(7).cdf).pvalue > 1e-4
    assert stats.kstest(distance, stats.norm.cdf).pvalue < 1e-2, "a control that must fail"


# ---- how they enter the chain -------------------------------------------------------------


def test_a_pull_replaces_the_need_at_the_pullers_end_whatever_the_lever():
    for lever in (1, 3):
        scenario = found(with_values(BASE, {"opening.latch.lever": lever}), pull=["40 N", "60 N"])
        solved = opening(scenario)
        assert solved.pull_required == pytest.approx(sqrt(40 * 60))
        assert solved.required.sigma == pytest.approx(measured.reading([40, 60], 0.1).sigma)
        friction = with_values(scenario, {"opening.latch.friction": 0.9})
        assert opening(friction).required == solved.required


def test_check_and_run_agree_on_a_latch_of_which_the_pull_was_measured():
    """The share of nights that release of those on which an animal came in and so called for it,
    against the probability that check prints. False alarm 1e-5."""
    solved = opening(COUNTED)
    pulls = [f"{solved.pull_available * x!r} N" for x in (0.7, 1.0, 1.5)]
    scenario = found(COUNTED, pull=pulls)
    odds = opening(scenario).release_probability
    played = play(plan_of(scenario), 5, 0, 4000).frame()
    asked = int((played["never_entered"] < played["group_size"]).sum())
    assert 0.3 < odds < 0.8
    assert asked > 3000
    assert stats.binomtest(int(played["released"].sum()), asked, odds).pvalue > 1e-5
    unmeasured = opening(COUNTED).release_probability
    assert stats.binomtest(int(played["released"].sum()), asked, unmeasured).pvalue < 1e-5


def test_both_engines_play_measured_traps_alike_and_otherwise_than_unmeasured():
    scenario = found(pull=["40 N", "60 N"], frames=[24, 27], frame_rate=30, weight="20 kg")
    one, other = (play(plan_of(scenario), 3, 0, 40, engine) for engine in ("batch", "reference"))
    assert one.frame().equals(other.frame())
    assert not one.frame().equals(play(plan_of(BASE), 3, 0, 40).frame())


@pytest.mark.parametrize("kind", ["drop", "top-hinged", "side-hinged"])
def test_a_closing_time_stretches_the_curve_and_its_speeds(kind):
    base = with_values(BASE, {"opening.gate": {"kind": kind}})
    plain, timed = opening(base), opening(found(base, closing=["1.1 s", "1.3 s"]))
    factor = sqrt(1.1 * 1.3) / plain.curve.shut_time
    assert timed.curve.shut_time == pytest.approx(sqrt(1.1 * 1.3))
    assert timed.curve.time == pytest.approx(plain.curve.time * factor)
    assert timed.curve.rest_time == pytest.approx(plain.curve.rest_time * factor)
    assert timed.curve.speed == pytest.approx(plain.curve.speed / factor)
    assert timed.curve.energy == pytest.approx(plain.curve.energy / factor**2)
    assert timed.pull_required == plain.pull_required


def test_frames_are_seconds_by_their_rate():
    by_frames = found(frames=[15, 18], frame_rate=30)
    by_seconds = found(closing=["0.5 s", "0.6 s"])
    assert opening(by_frames).curve.shut_time == pytest.approx(opening(by_seconds).curve.shut_time)


def test_a_weighed_gate_is_one_of_stated_mass():
    weighed, stated = found(weight="20 kg"), with_values(BASE, {"opening.gate.mass": "20 kg"})
    one, other = opening(weighed), opening(stated)
    assert one.mass == pytest.approx(20.0)
    assert one.holding_load == pytest.approx(other.holding_load)
    assert one.curve.shut_time == pytest.approx(other.curve.shut_time)


def test_the_volts_that_the_model_has_change_nothing_and_half_of_them_quarter_the_pull():
    from soundergate.mechanics.pullers.solenoid import circuit_of

    there = circuit_of(COIL.opening[0].latch).coil_volts
    same, half = (opening(found(COIL, volts=f"{v!r} V")) for v in (there, there / 2))
    assert same.pull_available == pytest.approx(opening(COIL).pull_available)
    assert half.pull_available == pytest.approx(opening(COIL).pull_available / 4)


def test_it_survives_being_written_down():
    scenario = found(COIL, pull="40 N", closing=["0.6 s", "0.7 s"], weight="20 kg", volts="10 V")
    assert from_table(scenario.resolved()) == scenario


def test_in_every_world_the_measured_values_hold():
    from soundergate.studies.worlds.steel import steel_over_worlds

    scenario = found(pull=["40 N", "60 N"], closing="0.8 s")
    over = steel_over_worlds(scenario, 20)
    assert over is not None
    for friction in (0.15, 0.7):
        world = with_values(scenario, {"opening.latch.friction": friction,
                                       "opening.gate.friction": friction})  # fmt: skip
        assert opening(world).required == opening(scenario).required
        assert opening(world).curve.shut_time == pytest.approx(0.8)


# ---- what check says ----------------------------------------------------------------------


def test_a_pull_of_another_friction_speaks_against_the_friction_by_its_value():
    other = opening(with_values(BASE, {"opening.latch.friction": 0.2})).pull_required
    (one,) = differences(found(pull=[f"{other * x!r} N" for x in (0.98, 1.02)],
                               reading_error=0.02), 0, SI)  # fmt: skip
    assert not one.agrees
    assert "the friction of the latch: 0.2 would give it, where 0.4 is taken" in one.sentence
    assert "50 % less" in one.sentence


def test_a_pull_that_no_friction_explains_speaks_against_more():
    (one,) = differences(found(pull=["900 N", "910 N"]), 0, SI)
    assert "more than the friction" in one.speaks_against


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ({"weight": "60 kg"}, "hinges, lock, bolts"),
        ({"weight": "8 kg"}, "thinner face"),
        ({"closing": "1.5 s"}, "friction and drag in the channels"),
        ({"closing": "0.1 s"}, "falls more freely"),
    ],
)
def test_each_difference_names_an_assumption(readings, words):
    (one,) = differences(found(**readings), 0, units("US"))
    assert words in one.sentence
    assert one.sentence in " ".join(check.check(found(**readings)).verdict)


def test_low_volts_speak_against_the_circuit_with_its_ohms():
    from soundergate.mechanics.pullers.solenoid import circuit_of

    circuit = circuit_of(COIL.opening[0].latch)
    volts = circuit.volts * circuit.coil / (circuit.coil + 3.0)
    (one,) = differences(found(COIL, volts=f"{volts!r} V", reading_error=0.01), 0, SI)
    assert "take 3 ohm" in one.sentence


def test_readings_of_what_the_model_has_agree_with_it():
    plain = opening(BASE)
    scenario = found(
        pull=f"{plain.pull_required!r} N", closing=f"{plain.curve.shut_time!r} s",
        weight=f"{plain.mass!r} kg",
    )  # fmt: skip
    said = differences(scenario, 0, SI)
    assert [one.agrees for one in said] == [True, True, True]
    assert all(one.computed == pytest.approx(one.measured) for one in said)


def test_a_pull_is_held_against_the_gate_as_it_was_weighed():
    heavy = with_values(BASE, {"opening.gate.mass": "40 kg"})
    need = opening(heavy).pull_required
    pull = differences(found(weight="40 kg", pull=f"{need!r} N"), 0, SI)[1]
    assert pull.computed == pytest.approx(need)
    assert pull.agrees


# ---- what no longer holds when the trap is changed ----------------------------------------


def test_advice_on_another_gate_or_latch_forgets_what_was_measured_at_this_one():
    scenario = found(COIL, pull="40 N", closing="0.8 s", volts="10 V", weight="20 kg")
    table = bench.Bench(scenario, 0, SI)
    latch = table.written(bench.Change(latch={"lever": 2})).opening[0].measured
    assert (latch.pull, latch.volts, latch.closing) == (None, None, (0.8,))
    gate = table.written(bench.Change(gate={"sheet": "16 gauge"})).opening[0].measured
    assert (gate.pull, gate.volts, gate.closing, gate.weight) == (None, (10.0,), None, None)
    assert table.written(bench.Change()).opening[0].measured.pull == (40.0,)


def test_without_leaves_the_rest_of_the_file_as_it_is():
    scenario = found(pull="40 N")
    assert without(scenario) == BASE
    assert without(BASE) is BASE


# ---- what cannot be -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scenario", "readings", "key", "words"),
    [
        (BASE, {"closing": "0.5 s", "frames": 15}, "frames", "twice"),
        (BASE, {"frames": 15}, "frame_rate", "go together"),
        (BASE, {"frame_rate": 30}, "frames", "go together"),
        (BASE, {"pull": []}, "pull", "0 readings"),
        (BASE, {"pull": ["5 N", "6"]}, "pull", "no unit"),
        (BASE, {"pull": "0 N"}, "pull", "above 0 N"),
        (BASE, {"volts": "10 V"}, "volts", "no coil"),
        (with_values(BASE, {"opening.gate.mass": "9 kg"}), {"weight": "8 kg"}, "weight", "twice"),
        (with_values(BASE, {"opening.gate.drag": "900 lbf"}), {"closing": "1 s"}, "closing",
         "does not shut at all"),
    ],
)  # fmt: skip
def test_bad_readings_are_refused_by_key(scenario, readings, key, words):
    with pytest.raises(ScenarioError, match=words) as caught:
        solve(found(scenario, **readings))
    assert caught.value.key == f"opening.1.measured.{key}"


def test_a_one_way_entrance_has_nothing_to_time():
    entrance = with_values(
        BASE, {"opening": [{"width": "2 ft", "height": "3 ft", "gate": {"kind": "push panel"}}],
               "trigger": {"kind": "none"}},
    )  # fmt: skip
    with pytest.raises(ScenarioError, match="no latch that holds"):
        found(entrance, closing="1 s")
    assert opening(found(entrance, weight="20 kg")).mass == pytest.approx(20.0)


def test_the_scatter_widens_the_odds_as_two_log_normals_do():
    """P(A >= R) of two log-normals in closed form, where the air's seals take nothing."""
    plain = with_values(BASE, {"opening.latch.seal_loss": "0 psi"})
    scenario = found(plain, pull=["80 N", "120 N"])
    solved = opening(scenario)
    spread = hypot(solved.required.sigma, solved.available.sigma)
    wanted = stats.norm.cdf(log(solved.available.median / exp(log(80 * 120) / 2)) / spread)
    assert solved.release_probability == pytest.approx(wanted, abs=1e-9)
