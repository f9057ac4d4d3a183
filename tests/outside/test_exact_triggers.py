"""Triggers, latches and the closing gate against elementary probability.

Each scenario leaves one chance standing and its law is written down directly: geometric repeats,
negative binomial counts, log-normal bodies and forces (the sum of normals), a bolter's race with
the gate. A right engine fails one of these tests with probability 1e-4; seeds are fixed, and each
test also fails for a slightly wrong number.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from soundergate.engine import play
from soundergate.mechanics.setup import solve

FALSE_ALARM = 1e-4
SEED = 20260108
NIGHTS = 100_000

ONE = {"juveniles": 1}
AT_ONCE = {"clock": "0 s"}
PERSON = {
    "kind": "person", "link": "radio", "count": 1, "patience": "1000 h", "alert": "0 s",
    "awake": 1, "frame_interval": "0 s", "view_delay": "0 s", "reaction": "0 s",
    "command_delay": "0 s", "dropout": 0, "undercount": 0, "overcount": 0, "refresh": "0 s",
    "clear_opening": False,
}  # fmt: skip
COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}


def share(hits: np.ndarray, p: float) -> float:
    """p-value of a share of nights by the exact binomial test."""
    return float(stats.binomtest(int(hits.sum()), len(hits), p).pvalue)


# ---- a person on a link --------------------------------------------------------------------


def test_the_first_picture_after_the_entry_releases(plan_of, plain_night, chi_square) -> None:
    """Pictures at 5, 12, 19 .. s; a lone pig enters after an exponential time of mean 60 s."""
    person = {**PERSON, "alert": {"fixed": "5 s"}, "frame_interval": "7 s"}
    nights = play(plan_of(plain_night, sounder=ONE, trigger=person), SEED, 0, NIGHTS)
    number = np.round((nights["release_s"] - 5.0) / 7.0).astype(int)
    np.testing.assert_allclose(nights["release_s"], 5.0 + 7.0 * number, atol=1e-9)

    def law(mean: float) -> np.ndarray:
        looks = [0.0, *(5.0 + 7.0 * j for j in range(number.max() + 1)), math.inf]
        return np.array([math.exp(-a / mean) - math.exp(-b / mean) for a, b in pairwise(looks)])

    counts = np.append(np.bincount(number), 0)
    assert chi_square(counts, law(60.0)) > FALSE_ALARM
    assert chi_square(counts, law(61.5)) < FALSE_ALARM
    np.testing.assert_allclose(nights["operator_min"], 7.0 * number / 60.0, atol=1e-9)


def test_alert_reaction_and_command_add_up(plan_of, plain_night) -> None:
    """Two exponential times of one mean and two fixed ones: a shifted gamma of shape 2."""
    person = {
        **PERSON,
        "alert": {"dist": "exponential", "mean": "10 s"},
        "reaction": {"dist": "exponential", "mean": "10 s"},
        "command_delay": {"fixed": "2 s"},
        "view_delay": "3 s",
    }
    plan = plan_of(plain_night, sounder=ONE, entry=AT_ONCE, trigger=person)
    nights = play(plan, SEED + 1, 0, NIGHTS)
    law = stats.gamma(2.0, loc=5.0, scale=10.0)
    assert stats.kstest(nights["release_s"], law.cdf).pvalue > FALSE_ALARM
    assert stats.kstest(nights["release_s"] + 0.2, law.cdf).pvalue < FALSE_ALARM


def test_lost_commands_are_geometric(plan_of, plain_night, chi_square) -> None:
    person = {**PERSON, "dropout": 0.3, "retry": "10 s"}
    plan = plan_of(plain_night, sounder=ONE, entry=AT_ONCE, trigger=person)
    lost = np.round(play(plan, SEED + 2, 0, NIGHTS)["release_s"] / 10.0).astype(int)
    counts = np.append(np.bincount(lost), 0)

    def law(p: float) -> np.ndarray:
        k = np.arange(len(counts) - 1)
        return np.append((1 - p) * p**k, p ** len(k))

    assert chi_square(counts, law(0.3)) > FALSE_ALARM
    assert chi_square(counts, law(0.31)) < FALSE_ALARM


def test_asleep_means_no_release(plan_of, plain_night) -> None:
    plan = plan_of(plain_night, sounder=ONE, entry=AT_ONCE, trigger={**PERSON, "awake": 0.7})
    released = play(plan, SEED + 3, 0, NIGHTS)["released"]
    assert share(released, 0.7) > FALSE_ALARM
    assert share(released, 0.69) < FALSE_ALARM


@pytest.mark.parametrize(("under", "over"), [(0.2, 0.0), (0.25, 0.1)])
def test_recounts_until_all_six_are_seen(under, over, plan_of, plain_night, chi_square) -> None:
    """Each pig is missed with probability u, else counted twice with probability o; the error
    stays until the next recount, every 10 s."""
    person = {**PERSON, "count": 6, "undercount": under, "overcount": over, "refresh": "10 s"}
    plan = plan_of(plain_night, sounder={"juveniles": 6}, entry=AT_ONCE, trigger=person)
    recounts = np.round(play(plan, SEED + 4, 0, NIGHTS)["release_s"] / 10.0).astype(int)
    counts = np.append(np.bincount(recounts), 0)

    def law(u: float, o: float) -> np.ndarray:
        enough = 0.0
        for missed in range(7):
            for twice in range(7 - missed):
                if 6 - missed + twice >= 6:
                    ways = math.comb(6, missed) * math.comb(6 - missed, twice)
                    once = (1 - u) * (1 - o)
                    p = u**missed * ((1 - u) * o) ** twice * once ** (6 - missed - twice)
                    enough += ways * p
        k = np.arange(len(counts) - 1)
        return np.append(enough * (1 - enough) ** k, (1 - enough) ** len(k))

    assert chi_square(counts, law(under, over)) > FALSE_ALARM
    assert chi_square(counts, law(under + 0.01, over)) < FALSE_ALARM


def test_recounts_keep_to_the_time_since_watching_began(plan_of, plain_night) -> None:
    """All six go in at 3 s; the count is made then, and anew at 10, 20, .. s after watching began,
    not 10 s after the last count."""
    person = {**PERSON, "count": 6, "undercount": 0.2, "refresh": "10 s"}
    entry = {"clock": {"fixed": "3 s"}}
    plan = plan_of(plain_night, sounder={"juveniles": 6}, entry=entry, trigger=person)
    when = play(plan, SEED + 13, 0, NIGHTS)["release_s"]
    first = when == 3.0
    assert share(first, 0.8**6) > FALSE_ALARM
    assert share(first, 0.79**6) < FALSE_ALARM
    assert (when[~first] % 10.0 == 0.0).all()


# ---- a counter -----------------------------------------------------------------------------


@pytest.mark.parametrize(("miss", "double"), [(0.25, 0.0), (0.0, 0.2), (0.15, 0.1)])
def test_a_counter_that_errs(miss, double, plan_of, plain_night, chi_square) -> None:
    """Inside when the count reaches 4 of at most 12: steps of 0, 1 or 2 until they add up to it."""
    counter = {"kind": "counter", "count": 4, "miss": miss, "double": double}
    plan = plan_of(plain_night, sounder={"juveniles": 12}, trigger=counter)
    nights = play(plan, SEED + 5, 0, NIGHTS)
    inside = np.where(nights["released"], nights["inside_at_release"], 13)

    def law(miss: float, double: float) -> np.ndarray:
        steps = np.array([miss, 1.0 - miss - double, double])
        below, reached = np.array([1.0, 0.0, 0.0, 0.0]), []
        for _ in range(12):
            after = np.convolve(below, steps)
            reached.append(after[4:].sum())
            below = after[:4]
        return np.array([0.0, *reached, below.sum()])

    counts = np.bincount(inside, minlength=14)
    assert chi_square(counts, law(miss, double)) > FALSE_ALARM
    assert chi_square(counts, law(miss + 0.01, double)) < FALSE_ALARM
    assert chi_square(counts, law(miss, double + 0.01)) < FALSE_ALARM


# ---- a line --------------------------------------------------------------------------------

BODIES = {"juveniles": 8, "mass": {"juvenile": {"median": "25 kg", "sigma": 0.25}}}
LINE = {"kind": "line", "distance": "10 ft", "weight": "0 g/m", "switch_force": "0 lbf"}


def test_only_animals_taller_than_the_line_touch_it(plan_of, plain_night, chi_square) -> None:
    """Eight pigs walk under a line one by one; the first that is too tall for it releases."""
    scatter = 0.06

    def plan(height: str):
        line = {**LINE, "height": height}
        body = {"shoulder_scatter": scatter}
        return plan_of(plain_night, sounder=BODIES, body=body, trigger=line)

    nights = play(plan("60 cm"), SEED + 6, 0, NIGHTS)
    first = np.where(nights["released"], nights["inside_at_release"], 9)
    counts = np.bincount(first, minlength=10)

    def law(height: float) -> np.ndarray:
        middle = math.log(0.178) + 0.33 * math.log(25.0)
        spread = math.hypot(0.33 * 0.25, scatter)
        tall = stats.norm.sf((math.log(height) - middle) / spread)
        return np.array([0.0, *(tall * (1 - tall) ** j for j in range(8)), (1 - tall) ** 8])

    assert chi_square(counts, law(0.60)) > FALSE_ALARM
    assert chi_square(counts, law(0.601)) < FALSE_ALARM


def test_only_animals_strong_enough_work_the_switch(plan_of, plain_night, scenario_of) -> None:
    """Push = share of weight: log-normal times log-normal against what the switch asks for."""
    from soundergate.triggers.line import push_on_switch

    line = {**LINE, "height": "10 cm", "switch_force": "20 lbf", "switch_travel": "1 in",
            "friction": {"median": 0.3, "sigma": 0.0}}  # fmt: skip
    change = {"sounder": {**BODIES, "juveniles": 1}, "trigger": line}
    change["body"] = {"strength": {"median": 0.4, "sigma": 0.35}}
    scenario = scenario_of(plain_night, **change)
    part = scenario.trigger
    push = push_on_switch(part)
    released = play(plan_of(scenario), SEED + 7, 0, NIGHTS)["released"]

    def law(sigma: float) -> float:
        ahead = math.log(0.4 * 25.0 * 9.80665 / push)
        return float(stats.norm.cdf(ahead / math.hypot(sigma, 0.25)))

    assert 0.1 < released.mean() < 0.9
    assert share(released, law(0.35)) > FALSE_ALARM
    assert share(released, law(0.30)) < FALSE_ALARM


# ---- latch, gate, wind ---------------------------------------------------------------------


def test_a_latch_lets_go_when_the_pull_beats_its_friction(
    plan_of, plain_night, scenario_of
) -> None:
    latch = {
        "kind": "pin",
        "puller": "air cylinder",
        "pressure": "75 psi",
        "delay": "0 s",
        "friction": {"median": 0.4, "sigma": 0.35},
        "supply": {"median": 0.9, "sigma": 0.1},
    }
    gate = {"kind": "drop", "mass": "60 kg", "drag": "0 lbf"}
    opening = [{"width": "4 ft", "height": "4 ft", "gate": gate, "latch": latch}]
    scenario = scenario_of(plain_night, sounder=ONE, trigger=COUNTER, opening=opening)
    solved = solve(scenario).openings[0]
    nights = play(plan_of(scenario), SEED + 8, 0, NIGHTS)
    lead = math.log(solved.pull_available / solved.pull_required)
    p = float(stats.norm.cdf(lead / math.hypot(0.35, 0.1)))
    assert 0.05 < p < 0.95
    assert share(nights["released"], p) > FALSE_ALARM
    assert share(nights["released"], p + 0.01) < FALSE_ALARM
    assert (nights.failed_release == ~nights["released"]).all()


def test_a_gate_hangs_as_often_as_its_drag_says(plan_of, plain_night, scenario_of) -> None:
    gate = {"kind": "drop", "mass": "20 kg", "drag": {"median": "15 lbf", "sigma": 1.0}}
    latch = {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"}
    opening = [{"width": "5 ft", "height": "3 ft", "gate": gate, "latch": latch}]
    scenario = scenario_of(plain_night, sounder=ONE, trigger=COUNTER, opening=opening)
    hangs = solve(scenario).openings[0].hang_probability
    assert 0.05 < hangs < 0.95
    nights = play(plan_of(scenario), SEED + 9, 0, NIGHTS)
    assert share(nights.failed_release, hangs) > FALSE_ALARM
    assert share(nights.failed_release, hangs + 0.01) < FALSE_ALARM


def test_wind_and_other_animals_release_at_a_constant_rate(plan_of, plain_night) -> None:
    trigger = {"kind": "none", "false_release": "0.25 1/h"}
    plan = plan_of(plain_night, arrival={"first": "never"}, trigger=trigger)
    nights = play(plan, SEED + 10, 0, NIGHTS)
    assert (nights["arrived"] == 0).all()
    when = nights["release_s"][nights["released"]]
    law = stats.truncexpon(6.0, scale=4 * 3600.0)  # until the check, after 24 h
    assert stats.kstest(when, law.cdf).pvalue > FALSE_ALARM
    assert stats.kstest(when * 1.02, law.cdf).pvalue < FALSE_ALARM
    assert share(nights["released"], 1 - math.exp(-6.0)) > FALSE_ALARM


# ---- the race with the gate ----------------------------------------------------------------


def test_a_bolter_races_the_gate(plan_of, plain_night, scenario_of, chi_square) -> None:
    """One pig at the bait, 0.8 m from the opening: it freezes, is too late, is through in time,
    or is under the gate when this is as low as its back; then it ends up on either side."""
    change = {
        "sounder": ONE,
        "trigger": {**COUNTER, "count": 2, "dwell": "10 s"},
        "corral": {"bait_distance": "0.8 m"},
        "movement": {"crossing": "0.15 s", "bolt_speed": "4 m/s"},
        "startle": {"bolt_share": 0.6, "delay": {"dist": "lognormal", "median": "0.1 s",
                                                 "sigma": 0.6}},
        "strike": {"out_share": 0.3, "prop": {"fixed": "1 s"}},
    }  # fmt: skip
    scenario = scenario_of(plain_night, **change)
    solved = solve(scenario).openings[0]
    nights = play(plan_of(scenario), SEED + 11, 0, NIGHTS)
    back = 0.85 * 0.178 * 25.0**0.33
    passable = math.sqrt(2.0 * (solved.height - back) / 9.80665)
    assert solved.curve.time_to(back) == pytest.approx(passable, rel=2e-3)  # it falls freely

    def law(bolts: float, out: float, passable: float) -> np.ndarray:
        through = stats.lognorm(0.6, scale=0.1).cdf(passable - 0.8 / 4.0 - 0.15)
        in_time = stats.lognorm(0.6, scale=0.1).cdf(passable - 0.8 / 4.0)
        under = bolts * (in_time - through)
        escaped = bolts * through
        return np.array([escaped, under * out, under * (1 - out), 1.0 - escaped - under])

    caught, struck = nights["caught"] == 1, nights["struck"] == 1
    counts = np.array(
        [np.sum(~caught & ~struck), np.sum(~caught & struck), np.sum(caught & struck),
         np.sum(caught & ~struck)]
    )  # fmt: skip
    # The tabulated closing curve is the engine's; free fall checks it to a part in a thousand.
    edge = solved.curve.time_to(back)
    assert chi_square(counts, law(0.6, 0.3, edge)) > FALSE_ALARM
    assert chi_square(counts, law(0.61, 0.3, edge)) < FALSE_ALARM
    assert chi_square(counts, law(0.6, 0.32, edge)) < FALSE_ALARM
    assert chi_square(counts, law(0.6, 0.3, edge + 0.005)) < FALSE_ALARM
    fallen = solved.mass * 9.80665 * (solved.height - back)
    assert nights["strike_energy_j"][struck] == pytest.approx(fallen, rel=1e-3)
    assert (nights["strike_energy_j"][~struck] == 0.0).all()


@pytest.mark.parametrize("turns", [0.0, 1.0])
def test_one_struck_on_its_way_in_ends_outside_with_the_stated_share(
    turns, plan_of, plain_night, scenario_of, chi_square
) -> None:
    """Two step in together and the first to be through shuts the gate on the other, which has an
    exponential time to go; or it turns back, and has as long to go as it has been in there."""
    change = {
        "sounder": {"juveniles": 2},
        "entry": AT_ONCE,
        "trigger": COUNTER,
        "movement": {"crossing": {"dist": "exponential", "mean": "2 s"}},
        "startle": {"bolt_share": 0, "turn_back_share": turns},
        "strike": {"out_share": 0.3, "prop": {"fixed": "1 s"}},
    }
    scenario = scenario_of(plain_night, **change)
    solved = solve(scenario).openings[0]
    nights = play(plan_of(scenario), SEED + 12, 0, NIGHTS)
    edge = solved.curve.time_to(0.85 * 0.178 * 25.0**0.33)
    # the first of two is through after an exponential time of half the mean
    misses = 1.0 - math.exp(-edge) if turns else 1.0 - math.exp(-edge / 2.0)

    def law(out: float, misses: float) -> np.ndarray:
        clear = [misses, 0.0] if turns else [0.0, misses]
        return np.array([*clear, (1.0 - misses) * out, (1.0 - misses) * (1.0 - out)])

    struck, both = nights["struck"] == 1, nights["caught"] == 2
    assert (nights["caught"] + nights["never_entered"] == 2).all()
    counts = np.array([np.sum(s & b) for s in (~struck, struck) for b in (~both, both)])
    assert chi_square(counts, law(0.3, misses)) > FALSE_ALARM
    assert chi_square(counts, law(0.32, misses)) < FALSE_ALARM
    assert chi_square(counts, law(0.3, misses * 1.1)) < FALSE_ALARM
    # it falls as low as the back, is propped for 1 s, and falls on from rest
    back = 0.85 * 0.178 * 25.0**0.33
    shut = edge + 1.0 + math.sqrt(2.0 * back / 9.80665)
    took = (nights["night_s"] - nights["release_s"])[struck]
    assert took == pytest.approx(shut, rel=2e-3)


def test_appetite_shortens_the_stay_as_the_bait_goes(plan_of, plain_night) -> None:
    """One pig of 25 kg eats 4 kg at 0.02 kg a kg and hour, a quarter in 7200 s. Its clock of
    20,000 s runs at 1, 1.5 and 2 on the first three quarters and at 4 on the last."""
    plan = plan_of(
        plain_night,
        sounder=ONE,
        bait={"mass": "4 kg", "intake": "0.02 1/h", "levels_appetite": [1, 1.5, 2, 4, 30]},
        entry=AT_ONCE,
        leaving={"clock": {"fixed": "20000 s"}},
    )
    nights = play(plan, SEED, 0, 3)
    third = 20_000 - 7200 * (1 + 1.5)  # what is left of the clock when half is eaten
    assert nights["night_s"] == pytest.approx(14_400 + third / 2.0, rel=1e-6)
