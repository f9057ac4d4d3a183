"""Each distribution's samples against SciPy's, and the sizes of a body that follow from draws.

A right sampler fails a Kolmogorov-Smirnov test here with probability 1e-4; seeds are fixed. The
wrong ones at the end show that 20,000 samples tell a distribution from its neighbours.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from soundergate.engine import codes as k
from soundergate.engine.luck.draws import (
    body_scale,
    gamma_sample,
    ln_body_mass,
    micrometres,
    sample,
)
from soundergate.engine.luck.philox import uniform
from soundergate.scenario.distributions import Duration

FALSE_ALARM = 1e-4
SEED = 20260102
PURPOSE = 9
"""What the draws are for is no matter here."""

SCIPY = {
    "exponential": (Duration("exponential", 60.0), stats.expon(scale=60.0)),
    "lognormal": (Duration("lognormal", math.log(20.0), 0.8), stats.lognorm(0.8, scale=20.0)),
    "gamma": (Duration("gamma", 4.0, 15.0), stats.gamma(4.0, scale=15.0)),
    "gamma of shape 1": (Duration("gamma", 1.0, 15.0), stats.gamma(1.0, scale=15.0)),
    "gamma of shape 0.3": (Duration("gamma", 0.3, 15.0), stats.gamma(0.3, scale=15.0)),
    "weibull": (Duration("weibull", 1.7, 30.0), stats.weibull_min(1.7, scale=30.0)),
    "weibull of shape 0.5": (Duration("weibull", 0.5, 30.0), stats.weibull_min(0.5, scale=30.0)),
    "uniform": (Duration("uniform", 5.0, 8.0), stats.uniform(5.0, 3.0)),
}


def samples(duration: Duration, count: int = 20_000, night_stride: int = 1) -> np.ndarray:
    kind = k.DISTRIBUTION_CODES[duration.kind]
    return np.array(
        [
            sample(kind, duration.a, duration.b, SEED, night, PURPOSE, 0, 0)
            for night in range(0, count * night_stride, night_stride)
        ]
    )


@pytest.mark.parametrize("name", SCIPY)
def test_samples_follow_the_distribution(name: str) -> None:
    duration, law = SCIPY[name]
    drawn = samples(duration)
    assert (drawn > 0.0).all()
    assert stats.kstest(drawn, law.cdf).pvalue > FALSE_ALARM


@pytest.mark.parametrize("name", SCIPY)
def test_moments_agree_with_those_that_the_scenario_states(name: str) -> None:
    duration, law = SCIPY[name]
    drawn = samples(duration)
    standard_error = drawn.std(ddof=1) / math.sqrt(len(drawn))
    assert abs(drawn.mean() - duration.mean()) < stats.norm.isf(FALSE_ALARM / 2) * standard_error
    assert duration.mean() == pytest.approx(law.mean(), rel=1e-12)


@pytest.mark.parametrize("name", SCIPY)
def test_later_samples_of_one_animal_follow_it_too(name: str) -> None:
    duration, law = SCIPY[name]
    kind = k.DISTRIBUTION_CODES[duration.kind]
    drawn = [sample(kind, duration.a, duration.b, SEED, 0, PURPOSE, 4, j) for j in range(5000)]
    assert len(set(drawn)) == 5000
    assert stats.kstest(drawn, law.cdf).pvalue > FALSE_ALARM


def test_fixed_is_fixed() -> None:
    assert sample(k.FIXED, 12.5, 0.0, SEED, 1, PURPOSE, 0, 0) == 12.5
    assert sample(k.FIXED, math.inf, 0.0, SEED, 1, PURPOSE, 0, 0) == math.inf


@pytest.mark.parametrize("name", [n for n in SCIPY if not n.startswith("gamma")])
def test_an_inverted_sample_is_the_quantile_of_its_uniform(name: str) -> None:
    """Gamma goes by rejection; all others by inversion, the exponential ones from the top."""
    duration, law = SCIPY[name]
    kind = k.DISTRIBUTION_CODES[duration.kind]
    falls = duration.kind in ("exponential", "weibull")
    for night in range(200):
        u = uniform(SEED, night, PURPOSE, 3, 0)
        expected = law.isf(u) if falls else law.ppf(u)
        found = sample(kind, duration.a, duration.b, SEED, night, PURPOSE, 3, 0)
        assert found == pytest.approx(float(expected), rel=1e-12)


def test_gamma_samples_do_not_share_blocks() -> None:
    first = [gamma_sample(0.7, 1.0, SEED, 0, PURPOSE, 0, j) for j in range(2000)]
    assert len(set(first)) == 2000
    assert stats.pearsonr(first[:-1], first[1:]).pvalue > FALSE_ALARM


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("exponential", stats.expon(scale=62.0)),
        ("lognormal", stats.lognorm(0.85, scale=20.0)),
        ("gamma", stats.gamma(4.0, scale=15.5)),
        ("gamma of shape 0.3", stats.gamma(0.32, scale=14.0625)),
        ("weibull", stats.weibull_min(1.8, scale=30.0)),
        ("uniform", stats.uniform(5.0, 3.1)),
    ],
)
def test_a_slightly_wrong_distribution_is_noticed(name: str, wrong) -> None:
    assert stats.kstest(samples(SCIPY[name][0]), wrong.cdf).pvalue < FALSE_ALARM


# ---- bodies --------------------------------------------------------------------------------


def numbers(k: int, count: int = 10_000) -> list[float]:
    return [uniform(SEED, 0, PURPOSE, who, k) for who in range(count)]


def test_mass_is_log_normal() -> None:
    mu, sigma = math.log(70.0), 0.2
    drawn = np.exp([ln_body_mass(mu, sigma, u) for u in numbers(0)])
    assert stats.kstest(drawn, stats.lognorm(sigma, scale=70.0).cdf).pvalue > FALSE_ALARM
    assert ln_body_mass(mu, 0.0, 0.3) == mu


def test_scale_is_a_power_of_mass() -> None:
    for mass in (0.5, 1.0, 6.0, 70.0, 300.0):
        assert body_scale(math.log(mass), 0.33, 0.0, 0.3) == pytest.approx(mass**0.33, rel=1e-14)


def test_scatter_of_lengths_is_log_normal_around_the_power_of_mass() -> None:
    drawn = [body_scale(math.log(70.0), 0.33, 0.045, u) for u in numbers(1)]
    law = stats.lognorm(0.045, scale=70.0**0.33)
    assert stats.kstest(drawn, law.cdf).pvalue > FALSE_ALARM


@pytest.mark.parametrize(
    ("length", "whole"),
    [(0.0, 0), (1.0, 1_000_000), (0.4e-6, 0), (0.5e-6, 1), (1.2192, 1_219_200), (2.5e-6, 3)],
)
def test_micrometres_round_half_up(length: float, whole: int) -> None:
    found = micrometres(length)
    assert found == whole
    assert isinstance(found, int)
