"""Nights whose law is known exactly, written as ordinary scenario files, against that law.

Where travel, crossing and dwell take no time and clocks are exponential, a night is a Markov chain
and its law a matter of matrix exponentials (scipy.linalg.expm), of hypoexponential times, or of
elementary probability. Sources: Norris, "Markov Chains" (1997), sections 2.5 to 2.8, for birth
processes and exp(tQ); Ross, "Introduction to Probability Models", 10th ed., section 5.2.4, for the
hypoexponential law; Vaupel, Manton and Stallard, Demography 16 (1979) 439, for gamma frailty.
Page and section numbers from memory.

A right engine fails one of these tests with probability 1e-4 (seeds are fixed, so each gives the
same answer every time). Each has a negative control: a slightly wrong rate must fail.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import expm

from soundergate.engine import play

FALSE_ALARM = 1e-4
SEED = 20260106
NIGHTS = 200_000


def births(size: int, pull: float, mean: float) -> np.ndarray:
    """Rate of the next entry with k inside, k = 0 .. size - 1."""
    k = np.arange(size)
    return (size - k) * (1.0 + pull * k) / mean


# ---- a container disturbed by the feeding pigs ---------------------------------------------

BUCKET = {"kind": "bait", "friction": 0, "rate": {"dist": "exponential", "mean": "600 s"}}


def bucket_law(size: int, pull: float, entry: float, rate: float) -> np.ndarray:
    """P(k inside at the release): the k-th birth, or the disturbance by k, whichever is first."""
    b = np.append(births(size, pull, entry), 0.0)
    h = np.arange(size + 1) / rate
    stays = b / (b + h)
    reached = np.concatenate([[1.0], np.cumprod(stays[:-1])])
    return reached * h / (b + h)


@pytest.fixture(scope="module")
def bucket_nights(plan_of, plain_night) -> np.ndarray:
    plan = plan_of(plain_night, trigger=BUCKET, entry={"social_pull": 0.25})
    nights = play(plan, SEED, 0, NIGHTS)
    assert nights["released"].all()
    return np.bincount(nights["inside_at_release"], minlength=9)


def test_container_released_by_k_feeding_pigs(bucket_nights, chi_square) -> None:
    law = bucket_law(8, 0.25, 60.0, 600.0)
    # The same numbers worked by hand: h_k / (b_k + h_k) times the product of b_i / (b_i + h_i).
    worked = [0, 0.011299, 0.021493, 0.032062, 0.044531, 0.061422, 0.088842, 0.150216, 0.590134]
    np.testing.assert_allclose(law, worked, atol=5e-7)
    assert chi_square(bucket_nights, law) > FALSE_ALARM


@pytest.mark.parametrize(("pull", "rate"), [(0.26, 600.0), (0.25, 610.0), (0.0, 600.0)])
def test_container_with_a_wrong_rate_fails(bucket_nights, pull, rate, chi_square) -> None:
    assert chi_square(bucket_nights, bucket_law(8, pull, 60.0, rate)) < FALSE_ALARM


# ---- a counter: pure births ----------------------------------------------------------------


def hypoexponential_cdf(rates: np.ndarray, t: np.ndarray) -> np.ndarray:
    """P(sum of exponential times of these distinct rates <= t), by partial fractions."""
    others = [np.delete(rates, j) for j in range(len(rates))]
    weight = [np.prod(o / (o - r)) for o, r in zip(others, rates, strict=True)]
    return 1.0 - sum(w * np.exp(-r * t) for w, r in zip(weight, rates, strict=True))


PULL = 0.3
DELAY = 20.0


@pytest.fixture(scope="module")
def counted_nights(plan_of, plain_night):
    """Released 20 s after the fifth of eight went in."""
    text = plain_night.replace('delay = "0 s"', 'delay = "20 s"')
    counter = {"kind": "counter", "count": 5, "miss": 0, "double": 0}
    plan = plan_of(text, trigger=counter, entry={"social_pull": PULL})
    return play(plan, SEED + 1, 0, NIGHTS)


def test_time_of_the_fifth_entry_is_hypoexponential(counted_nights) -> None:
    rates = births(8, PULL, 60.0)[:5]
    fifth = counted_nights["release_s"] - DELAY
    assert stats.kstest(fifth, lambda t: hypoexponential_cdf(rates, t)).pvalue > FALSE_ALARM
    wrong = births(8, PULL + 0.01, 60.0)[:5]
    assert stats.kstest(fifth, lambda t: hypoexponential_cdf(wrong, t)).pvalue < FALSE_ALARM


def test_entries_while_the_latch_takes_its_time_are_a_birth_process(
    counted_nights, chi_square, chain
) -> None:
    b = births(8, PULL, 60.0)
    q = chain({(k, k + 1): b[k] for k in range(5, 8)}, list(range(5, 9)))
    counts = np.bincount(counted_nights["inside_at_release"], minlength=9)
    assert counts[:5].sum() == 0
    assert chi_square(counts[5:], expm(q * DELAY)[0]) > FALSE_ALARM
    assert chi_square(counts[5:], expm(q * DELAY * 1.02)[0]) < FALSE_ALARM


# ---- arrivals, lanes and crossings: what is where at the check ------------------------------


def queue_law(chain, n: int, lanes: int, arrival: float, crossing: float, t: float) -> dict:
    """P(away, at the opening) at t: each arrives on its own, ``lanes`` cross at a time."""
    states = [(away, at) for away in range(n + 1) for at in range(n + 1 - away)]
    rates = {}
    for away, at in states:
        if away:
            rates[(away, at), (away - 1, at + 1)] = away / arrival
        if at:
            rates[(away, at), (away, at - 1)] = min(at, lanes) / crossing
    law = expm(chain(rates, states) * t)[states.index((n, 0))]
    return dict(zip(states, law, strict=True))


@pytest.mark.parametrize(("lanes", "width"), [(1, "50 cm"), (2, "90 cm"), (3, "1.3 m")])
def test_arrivals_cross_in_lanes(lanes, width, plan_of, plain_night, chi_square, chain) -> None:
    """Six pigs 40 cm wide with clearance; who has come and who is in shows at the trap check."""
    text = plain_night.replace('width = "20 ft"', f'width = "{width}"')
    plan = plan_of(
        text,
        sounder={"juveniles": 6},
        body={"exponent": 0.0, "width_coefficient": "25 cm", "height_coefficient": "50 cm"},
        arrival={"spread": {"dist": "exponential", "mean": "30 s"}},
        entry={"clock": "0 s"},
        movement={"crossing": {"dist": "exponential", "mean": "20 s"}, "side_clearance": 1.6},
        visit={"check": "45 s"},
    )
    nights = play(plan, SEED + 2, 0, NIGHTS)
    away = 6 - nights["arrived"]
    at = nights["arrived"] - nights["escaped_before"]  # those inside have gone in and never left
    law = queue_law(chain, 6, lanes, 30.0, 20.0, 45.0)
    counts = np.array([np.sum((away == i) & (at == j)) for i, j in law])
    assert chi_square(counts, np.array(list(law.values()))) > FALSE_ALARM
    wrong = queue_law(chain, 6, lanes, 30.0, 20.5, 45.0)
    assert chi_square(counts, np.array(list(wrong.values()))) < FALSE_ALARM


# ---- frailty -------------------------------------------------------------------------------


def test_first_entry_of_a_lone_pig_with_gamma_frailty_is_lomax(plan_of, plain_night) -> None:
    """Exponential given a gamma rate of mean 1 and shape 1/cv^2 is Lomax (Pareto II) overall."""
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 1},
        entry={"frailty_cv": 0.8},
        trigger={"kind": "counter", "count": 1, "miss": 0, "double": 0},
        visit={"check": "30 day"},
    )
    entered = play(plan, SEED + 3, 0, NIGHTS)["release_s"]
    entered = np.where(np.isnan(entered), np.inf, entered)
    shape = 1.0 / 0.8**2
    assert stats.kstest(entered, stats.lomax(shape, scale=60.0 * shape).cdf).pvalue > FALSE_ALARM
    wrong = 1.0 / 0.82**2
    assert stats.kstest(entered, stats.lomax(wrong, scale=60.0 * wrong).cdf).pvalue < FALSE_ALARM


def test_frailty_is_of_entering_alone(plan_of, plain_night) -> None:
    """However long it took to go in, it leaves 100 s later; the latch is too stiff for its puller,
    so that the time of the pull says when it went in."""
    latch = {
        "kind": "pin",
        "puller": "solenoid",
        "pull": "0.01 lbf",
        "friction": {"fixed": 1},
        "delay": "0 s",
    }
    gate = {"kind": "drop", "mass": "100 kg"}
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 1},
        opening=[{"width": "20 ft", "height": "4 ft", "gate": gate, "latch": latch}],
        entry={"frailty_cv": 0.8},
        leaving={"clock": {"fixed": "100 s"}},
        trigger={"kind": "counter", "count": 1, "miss": 0, "double": 0},
        visit={"check": "30 day"},
    )
    nights = play(plan, SEED + 5, 0, 2000)
    went_in = ~np.isnan(nights["release_s"])
    stay = (nights["night_s"] - nights["release_s"])[went_in]
    assert went_in.mean() > 0.9
    assert nights.failed_release.sum() == went_in.sum()
    np.testing.assert_allclose(stay, 100.0, atol=1e-6)


CLOCKS = {
    "lognormal": (
        {"dist": "lognormal", "median": "45 s", "sigma": 0.8},
        stats.lognorm(0.8, scale=45.0),
    ),
    "gamma": ({"dist": "gamma", "mean": "60 s", "cv": 0.5}, stats.gamma(4.0, scale=15.0)),
    "weibull": (
        {"dist": "weibull", "shape": 2, "scale": "50 s"},
        stats.weibull_min(2.0, scale=50.0),
    ),
    "uniform": ({"dist": "uniform", "low": "10 s", "high": "90 s"}, stats.uniform(10.0, 80.0)),
}


@pytest.mark.parametrize(
    "name",
    [*list(CLOCKS)[:2], *(pytest.param(n, marks=pytest.mark.slow) for n in list(CLOCKS)[2:])],
)
def test_a_lone_pig_enters_when_its_clock_says(name, plan_of, plain_night) -> None:
    """In the reference state a clock is a plain time; wary after one night of two it runs at
    1 - exp(-1/2) of that speed."""
    table, law = CLOCKS[name]
    counter = {"kind": "counter", "count": 1, "miss": 0, "double": 0}
    for training, slow in (({}, 1.0), ({"nights": 0}, 1.0 - np.exp(-0.5))):
        entry = {"clock": table, "habituation_nights": 2.0 if training else 0}
        plan = plan_of(
            plain_night, sounder={"juveniles": 1}, trigger=counter, entry=entry, training=training
        )
        entered = play(plan, SEED + 4, 0, NIGHTS)["release_s"]
        assert stats.kstest(entered * slow, law.cdf).pvalue > FALSE_ALARM
        assert stats.kstest(entered * slow * 1.01, law.cdf).pvalue < FALSE_ALARM
