"""Captives, one-way entrances and who comes, against elementary probability.

As in test_exact_triggers each scenario leaves one chance standing. A right engine fails one of
these tests with probability 1e-4; seeds are fixed; a slightly wrong number must fail too.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import expm

from soundergate.engine import play
from soundergate.mechanics.setup import solve

FALSE_ALARM = 1e-4
SEED = 20260111
NIGHTS = 50_000

ONE = {"juveniles": 1, "mass": {"juvenile": {"median": "25 kg", "sigma": 0.25}}}
AT_ONCE = {"clock": "0 s"}
COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}
PANEL = {"kind": "push panel", "mass": "200 g", "push_force": "0 lbf"}


def share(hits: np.ndarray, p: float) -> float:
    """p-value of a share of nights by the exact binomial test."""
    return float(stats.binomtest(int(hits.sum()), len(hits), p).pvalue)


@pytest.fixture(scope="module")
def caught_one(scenario_of, plain_night):
    """One pig caught at once; further tables say how it may get out by the check after an hour."""

    def made(**change):
        change = {"sounder": ONE, "entry": AT_ONCE, "trigger": COUNTER, **change}
        change.setdefault("startle", {"bolt_share": 0})
        return scenario_of(plain_night, visit={"check": "3600 s"}, **change)

    return made


def test_rooting_and_climbing_are_two_hazards_at_once(caught_one, plan_of) -> None:
    scenario = caught_one(
        corral={"panel_height": "1 cm"},
        holding={
            "root_clock": {"dist": "exponential", "mean": "2 h"},
            "climb_clock": {"dist": "exponential", "mean": "1 h"},
        },
    )
    nights = play(plan_of(scenario), SEED, 0, NIGHTS)
    shut = solve(scenario).openings[0].curve.shut_time
    out = nights["escaped_after"] == 1
    assert (nights["caught"] == ~out).all()
    rate, left = 1 / 7200 + 1 / 3600, 3600.0 - shut
    assert share(out, 1.0 - math.exp(-rate * left)) > FALSE_ALARM
    assert share(out, 1.0 - math.exp(-rate * left * 1.03)) < FALSE_ALARM
    when = nights["night_s"][out] - shut  # the night is over when nobody is left to break out
    assert (
        stats.kstest(when, stats.truncexpon(rate * left, scale=1 / rate).cdf).pvalue > FALSE_ALARM
    )
    assert stats.kstest(when, stats.truncexpon(left / 3600, scale=3600).cdf).pvalue < FALSE_ALARM


def test_who_can_climb_is_a_matter_of_back_and_reach(caught_one, plan_of) -> None:
    """ln(reach x back) is normal: median 1.5 of a back of 0.178 m (25 kg)^0.33."""
    scenario = caught_one(
        body={"shoulder_scatter": 0.06},
        corral={"panel_height": "80 cm"},
        holding={"climb_clock": {"fixed": "10 min"}, "climb_reach": {"median": 1.5, "sigma": 0.12}},
    )
    out = play(plan_of(scenario), SEED + 1, 0, NIGHTS)["escaped_after"] == 1

    def law(reach: float) -> float:
        middle = math.log(reach * 0.178) + 0.33 * math.log(25.0)
        spread = math.sqrt((0.33 * 0.25) ** 2 + 0.06**2 + 0.12**2)
        return float(stats.norm.sf((math.log(0.8) - middle) / spread))

    assert 0.1 < law(1.5) < 0.9
    assert share(out, law(1.5)) > FALSE_ALARM
    assert share(out, law(1.51)) < FALSE_ALARM


def test_who_can_open_the_gate_is_a_matter_of_strength(caught_one, plan_of, plain_night) -> None:
    opening = [
        {
            "width": "6 ft",
            "height": "4 ft",
            "gate": {"kind": "drop", "drag": "0 lbf", "lock": False, "mass": "20 kg"},
            "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
        }
    ]
    change = {"opening": opening, "body": {"strength": {"median": 0.8, "sigma": 0.35}}}
    scenario = caught_one(holding={"try_clock": {"fixed": "10 min"}}, **change)
    solved = solve(scenario).openings[0]
    out = play(plan_of(scenario), SEED + 2, 0, NIGHTS)["escaped_after"] == 1

    def law(strength: float) -> float:
        force = min(solved.lift_force, solved.pry_force)
        ahead = math.log(strength * 25.0 * 9.80665 / force)
        return float(stats.norm.cdf(ahead / math.hypot(0.35, 0.25)))

    assert 0.05 < law(0.8) < 0.95
    assert share(out, law(0.8)) > FALSE_ALARM
    assert share(out, law(0.83)) < FALSE_ALARM
    opening[0]["gate"] |= {"lock": True, "lock_fails": 0}
    locked = play(
        plan_of(caught_one(holding={"try_clock": {"fixed": "10 min"}}, **change)), SEED + 2, 0, 2000
    )
    assert (locked["escaped_after"] == 0).all()


def test_others_follow_while_a_way_stays(plan_of, plain_night, chi_square) -> None:
    """A sow opens the gate, which seven young cannot, and it stays open for 20 min. Each finds it
    after an exponential time with a mean of 30 min, and so with 1 - exp(-2/3)."""
    opening = [
        {
            "width": "6 ft",
            "height": "4 ft",
            "gate": {"kind": "drop", "drag": "0 lbf", "lock": False, "mass": "35 kg"},
            "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
        }
    ]
    plan = plan_of(
        plain_night,
        sounder={
            "sows": 1,
            "juveniles": 7,
            "mass": {"sow": {"fixed": "70 kg"}, "juvenile": {"fixed": "25 kg"}},
        },
        body={"strength": {"fixed": 0.8}},
        entry={"clock": "0 s", "leaderless": 1},
        opening=opening,
        trigger={**COUNTER, "count": 8},
        startle={"bolt_share": 0},
        visit={"check": "1 h"},
        holding={
            "try_clock": {"fixed": "10 min"},
            "gate_clock": {"fixed": "20 min"},
            "follow_clock": {"dist": "exponential", "mean": "30 min"},
        },
    )
    nights = play(plan, SEED + 11, 0, NIGHTS)
    assert (nights["escaped_after"] >= 1).all()
    counts = np.bincount(nights["escaped_after"] - 1, minlength=8)

    def law(mean: float) -> np.ndarray:
        return stats.binom.pmf(np.arange(8), 7, 1.0 - math.exp(-20.0 / mean))

    assert chi_square(counts, law(30.0)) > FALSE_ALARM
    assert chi_square(counts, law(30.5)) < FALSE_ALARM


def test_a_lock_that_fails_on_a_share_of_nights(caught_one, plan_of) -> None:
    """A pig that is always strong enough gets out of just these."""
    opening = [
        {
            "width": "6 ft",
            "height": "4 ft",
            "gate": {"kind": "drop", "drag": "0 lbf", "mass": "5 kg", "lock_fails": 0.3},
            "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
        }
    ]
    scenario = caught_one(
        opening=opening,
        body={"strength": {"fixed": 2}},
        holding={"try_clock": {"fixed": "10 min"}},
    )
    nights = play(plan_of(scenario), SEED + 12, 0, NIGHTS)
    out = nights["escaped_after"] == 1
    assert (nights["caught"] == ~out).all()
    assert share(out, 0.3) > FALSE_ALARM
    assert share(out, 0.31) < FALSE_ALARM


# ---- those outside stay near ---------------------------------------------------------------


def test_one_that_stays_near_has_a_chance_at_each_return(plan_of, plain_night) -> None:
    """Near for an exponential time, mean m, and back after exponential waits, mean w, and as it
    goes. Each return comes before the end with a = m/(m + w), by lack of memory; with a chance q
    at each it goes in at last with E = a (q + (1 - q) E) + (1 - a) q = q/(1 - a (1 - q))."""
    hangs = {
        "width": "20 ft",
        "height": "4 ft",
        "gate": {"kind": "drop", "drag": "1000 lbf"},
        "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
    }
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 1, "sows": 1},
        entry={"clock": {"dist": "exponential", "mean": "60 s"}, "leaderless": 1},
        opening=[hangs],
        trigger=COUNTER,
        startle={"bolt_share": 0},
        holding={
            "near_clock": {"dist": "exponential", "mean": "2 h"},
            "late_clock": {"dist": "exponential", "mean": "1 h"},
            "open_entry": 0.2,
        },
        visit={"check": "30 day"},
    )
    nights = play(plan, SEED + 13, 0, NIGHTS)
    assert (nights["inside_at_release"] == 1).all()
    went_in = nights["never_entered"] == 0

    def law(near: float, q: float) -> float:
        return q / (1.0 - near / (near + 1.0) * (1.0 - q))

    assert share(went_in, law(2.0, 0.2)) > FALSE_ALARM
    assert share(went_in, law(2.2, 0.2)) < FALSE_ALARM
    assert share(went_in, law(2.0, 0.21)) < FALSE_ALARM


def test_by_default_pigs_return_about_as_often_as_was_seen(scenario_of, plain_night) -> None:
    """2.9 visits a night (standard error 0.45) of pigs left outside shut traps with companions
    inside: Smith, Smith, Johnson and Ditchkoff 2014, Wildlife Society Bulletin. A check of
    consistency: the time near is these visits times their length, the waits are a guess.

    Until an exponential time ends there are 1/(1 - L) returns on average, the last of them at its
    end, L the Laplace transform of the waits at the rate of that end.
    """
    text = plain_night.replace('near_clock = "0 s"\n', "")
    assert text != plain_night
    holding = scenario_of(text).holding
    near, wait = holding.near_clock, holding.late_clock
    assert (near.kind, wait.kind) == ("exponential", "lognormal")
    law = stats.lognorm(wait.b, scale=math.exp(wait.a))
    laplace = law.expect(lambda t: math.exp(-t / near.a))
    assert 1.0 / (1.0 - laplace) == pytest.approx(2.9, abs=1.645 * 0.45)


# ---- one-way entrances ---------------------------------------------------------------------


def one_way(gate: dict, **change) -> dict:
    way = {"width": "3 ft", "height": "4 ft", "gate": gate}
    return {"opening": [way], "visit": {"check": "1 h"}, **change}


def test_the_willing_and_strong_push_in(plan_of, scenario_of, plain_night, chi_square) -> None:
    """Untaught, a share of 0.3 is willing; and its push must beat that of the panel."""
    gate = {
        "kind": "push panel",
        "mass": "16 kg",
        "push_force": {"fixed": "8 lbf"},
        "late_entry": 0.3,
    }
    change = one_way(
        gate,
        sounder={"juveniles": 8, "mass": ONE["mass"]},
        training={"nights": 0},
        body={"strength": {"median": 0.4, "sigma": 0.35}},
        holding={"slip_share": 0},
    )
    scenario = scenario_of(plain_night, **change)
    nights = play(plan_of(scenario), SEED + 3, 0, NIGHTS)
    counts = np.bincount(nights["caught"], minlength=9)
    ahead = math.log(0.4 * 25.0 * 9.80665 / solve(scenario).openings[0].gate.push_force)
    strong = stats.norm.cdf(ahead / math.hypot(0.35, 0.25))
    assert 0.1 < strong < 0.95
    law = stats.binom.pmf(np.arange(9), 8, 0.3 * strong)
    assert chi_square(counts, law) > FALSE_ALARM
    assert chi_square(counts, stats.binom.pmf(np.arange(9), 8, 0.31 * strong)) < FALSE_ALARM


def test_an_entrance_is_stiff_on_some_nights(plan_of, scenario_of, plain_night, chi_square) -> None:
    """A night's panel is equally stiff to all eight: a binomial law mixed over a log-normal force.

    The mixture by Gauss-Hermite quadrature (NumPy); the law without the mixing must fail.
    """
    force = {"median": "15 lbf", "sigma": 0.6}
    gate = {"kind": "push panel", "mass": "16 kg", "push_force": force, "late_entry": 1.0}
    change = one_way(
        gate,
        sounder={"juveniles": 8, "mass": ONE["mass"]},
        body={"strength": {"median": 0.4, "sigma": 0.35}},
        holding={"slip_share": 0},
    )
    scenario = scenario_of(plain_night, **change)
    nights = play(plan_of(scenario), SEED + 7, 0, NIGHTS)
    counts = np.bincount(nights["caught"], minlength=9)
    ahead = math.log(0.4 * 25.0 * 9.80665 / solve(scenario).openings[0].gate.push_force)
    z, weight = np.polynomial.hermite_e.hermegauss(60)
    strong = stats.norm.cdf((ahead - 0.6 * z) / math.hypot(0.35, 0.25))
    mixed = (weight / weight.sum()) @ stats.binom.pmf(np.arange(9), 8, strong[:, None])
    assert chi_square(counts, mixed) > FALSE_ALARM
    every = stats.norm.cdf(ahead / math.hypot(0.35, 0.25, 0.6))
    assert chi_square(counts, stats.binom.pmf(np.arange(9), 8, every)) < FALSE_ALARM


def test_each_that_pushes_in_may_let_one_out(plan_of, plain_night, chi_square) -> None:
    """Four push in one after another; each but the first lets one slip with probability 0.3.

    A chain over the number inside: with k there before it, an entry leads to k + 1 or to k.
    """
    gate = {**PANEL, "late_entry": 1.0}
    change = one_way(gate, sounder={"juveniles": 4}, holding={"slip_share": 0.3})
    nights = play(plan_of(plain_night, **change), SEED + 4, 0, NIGHTS)
    counts = np.bincount(nights["caught"], minlength=5)

    def law(slip: float) -> np.ndarray:
        return np.array([0.0, *stats.binom.pmf(np.arange(4), 3, 1.0 - slip)])

    assert chi_square(counts, law(0.3)) > FALSE_ALARM
    assert chi_square(counts, law(0.31)) < FALSE_ALARM
    assert (nights["escaped_after"] == 4 - nights["caught"]).all()


def test_those_left_outside_come_back_with_the_share_of_late_entry(plan_of, plain_night) -> None:
    """Beside a gate that closes at 60 s stands a panel; the shy stay outside until then."""
    gate_way = {
        "width": "20 ft",
        "height": "4 ft",
        "gate": {"kind": "drop", "drag": "0 lbf"},
        "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
    }
    panel_way = {"width": "3 ft", "height": "4 ft", "gate": {**PANEL, "late_entry": 0.35}}
    plan = plan_of(
        plain_night,
        opening=[gate_way, panel_way],
        entry={"clock": {"fixed": "1 s"}, "shy_share": 0.5},
        trigger={"kind": "counter", "count": 99, "dwell": "60 s", "miss": 0, "double": 0},
        startle={"bolt_share": 0},
        holding={
            "slip_share": 0,
            "near_clock": {"fixed": "30 s"},
            "late_clock": {"dist": "uniform", "low": "1 s", "high": "60 s"},
        },
    )
    nights = play(plan, SEED + 5, 0, NIGHTS)
    released = nights["released"]
    outside = (8 - nights["inside_at_release"])[released].sum()
    late = (nights["caught"] - nights["inside_at_release"])[released].sum()
    assert (nights["caught"] >= nights["inside_at_release"]).all()
    assert stats.binomtest(int(late), int(outside), 0.35).pvalue > FALSE_ALARM
    assert stats.binomtest(int(late), int(outside), 0.355).pvalue < FALSE_ALARM


# ---- who comes -----------------------------------------------------------------------------


def test_a_piglet_enters_at_a_share_of_its_speed_until_a_sow_is_inside(
    plan_of, plain_night, chain
) -> None:
    """Time until sow and piglet are both in: a phase-type law over who is inside."""
    plan = plan_of(
        plain_night,
        sounder={"sows": 1, "piglets": 1, "juveniles": 0},
        entry={"leaderless": 0.2, "social_pull": 0.5},
        trigger={**COUNTER, "count": 2},
    )
    both = np.sort(play(plan, SEED + 6, 0, NIGHTS)["release_s"])

    def law(leaderless: float):
        rates = {
            ("none", "sow"): 1 / 60,
            ("none", "piglet"): leaderless / 60,
            ("sow", "both"): 1.5 / 60,
            ("piglet", "both"): 1.5 / 60,
        }
        q = chain(rates, ["none", "sow", "piglet", "both"])
        grid = np.linspace(0.0, both[-1], 4001)
        step, now, cdf = expm(q * (grid[1] - grid[0])), np.array([1.0, 0, 0, 0]), []
        for _ in grid:
            cdf.append(now[3])
            now = now @ step
        return lambda t: np.interp(t, grid, cdf)

    assert stats.kstest(both, law(0.2)).pvalue > FALSE_ALARM
    assert stats.kstest(both, law(0.25)).pvalue < FALSE_ALARM


def test_the_size_of_a_sounder_is_negative_binomial_cut_off(
    plan_of, plain_night, chi_square
) -> None:
    sounder = {"sows": 1, "juveniles": 2,
               "varies": {"mean": 6, "dispersion": 1.8, "low": 2, "high": 20}}  # fmt: skip
    nights = play(plan_of(plain_night, sounder=sounder, entry=AT_ONCE), SEED + 7, 0, NIGHTS)
    counts = np.bincount(nights["group_size"], minlength=21)

    def law(k: float) -> np.ndarray:
        mass = stats.nbinom.pmf(np.arange(21), k, k / (k + 6.0))
        mass[:2] = 0.0
        return mass / mass.sum()

    assert chi_square(counts, law(1.8)) > FALSE_ALARM
    assert chi_square(counts, law(2.3)) < FALSE_ALARM
    assert (nights["arrived"] == nights["group_size"]).all()


def test_two_sounders_come_in_their_own_time(plan_of, plain_night) -> None:
    """The gate shuts on whoever enters first; the other sounder is there by then or it is not.

    First arrivals are exponential with means of one hour, so the second has come within d of the
    first with probability 1 - exp(-d / 1 h).
    """
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 3},
        other=[{"sows": 2}],
        arrival={"first": {"dist": "exponential", "mean": "1 h"}},
        entry={"clock": {"fixed": "10 min"}, "leaderless": 1},
        trigger=COUNTER,
        startle={"bolt_share": 0},
    )
    nights = play(plan, SEED + 8, 0, NIGHTS)
    about = nights["caught"] + nights["educated"]  # at the closing, and then held or free
    both = about == 5
    assert set(np.unique(about)) == {2, 3, 5}
    assert share(both, 1.0 - math.exp(-1 / 6)) > FALSE_ALARM
    assert share(both, 1.0 - math.exp(-1 / 6) + 0.01) < FALSE_ALARM
    first = about[~both] == 3
    assert share(first, 0.5) > FALSE_ALARM


def test_those_came_whose_time_is_before_the_check_shut_or_not(plan_of, plain_night) -> None:
    """The first of six shuts the gate on itself; each comes within the hour with 1 - exp(-1)."""
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 6},
        arrival={"spread": {"dist": "exponential", "mean": "1 h"}},
        entry=AT_ONCE,
        trigger=COUNTER,
        startle={"bolt_share": 0},
        visit={"check": "1 h"},
    )
    nights = play(plan, SEED + 9, 0, NIGHTS)
    assert (nights["night_s"] < 3600.0).mean() > 0.9  # most nights are over before the check
    came = int(nights["arrived"].sum())
    p = 1.0 - math.exp(-1.0)
    assert stats.binomtest(came, 6 * NIGHTS, p).pvalue > FALSE_ALARM
    assert stats.binomtest(came, 6 * NIGHTS, p + 0.005).pvalue < FALSE_ALARM
    assert stats.binomtest(came, 6 * NIGHTS, p - 0.005).pvalue < FALSE_ALARM
