"""Durations and spreads against SciPy, and the forms they are written in."""

from __future__ import annotations

import math

import pytest
import scipy.stats as sps
from hypothesis import given
from hypothesis import strategies as st

from soundergate.scenario.distributions import Duration, LogNormal, exp_inverse
from soundergate.scenario.errors import Problem
from soundergate.scenario.spread_fields import DurationField, SpreadField

SECONDS = st.floats(1e-3, 1e5)
SHAPES = st.floats(0.2, 20.0)
SIGMAS = st.floats(0.05, 2.5)

DURATIONS = st.one_of(
    st.builds(lambda m: Duration("exponential", m), SECONDS),
    st.builds(lambda m, s: Duration("lognormal", math.log(m), s), SECONDS, SIGMAS),
    st.builds(lambda k, s: Duration("gamma", k, s), SHAPES, SECONDS),
    st.builds(lambda k, s: Duration("weibull", k, s), SHAPES, SECONDS),
    st.builds(lambda a, w: Duration("uniform", a, a + w), SECONDS, SECONDS),
)


def in_scipy(d: Duration):
    """The same distribution in SciPy's parametrisation (scipy.stats reference)."""
    return {
        "exponential": lambda: sps.expon(scale=d.a),
        "lognormal": lambda: sps.lognorm(s=d.b, scale=math.exp(d.a)),
        "gamma": lambda: sps.gamma(d.a, scale=d.b),
        "weibull": lambda: sps.weibull_min(d.a, scale=d.b),
        "uniform": lambda: sps.uniform(d.a, d.b - d.a),
    }[d.kind]()


@given(DURATIONS, st.floats(0.001, 0.999))
def test_quantile_mean_and_median_agree_with_scipy(d, q):
    other = in_scipy(d)
    assert d.quantile(q) == pytest.approx(float(other.ppf(q)), rel=1e-8)
    assert d.mean() == pytest.approx(float(other.mean()), rel=1e-8)
    assert d.median() == pytest.approx(float(other.median()), rel=1e-8)


@given(DURATIONS)
def test_quantiles_rise_from_the_least_value(d):
    qs = [0.0, 0.1, 0.5, 0.9, 0.999]
    values = [d.quantile(q) for q in qs]
    assert values == sorted(values)
    assert values[0] >= 0.0


@given(DURATIONS)
def test_written_and_read_again_is_the_same_distribution(d):
    field = DurationField()
    again = field.read(field.write(d))
    assert again.kind == d.kind
    assert again.a == pytest.approx(d.a, rel=1e-15, abs=1e-15)
    assert again.b == d.b


@given(SECONDS, SIGMAS)
def test_a_written_median_survives_to_the_last_bit(median, sigma):
    field = DurationField()
    once = field.read({"dist": "lognormal", "median": f"{median!r} s", "sigma": sigma})
    assert field.read(field.write(once)) == once


def test_fixed_and_never():
    field = DurationField(never=True)
    assert field.read("20 s") == Duration("fixed", 20.0, 0.0)
    assert field.read({"fixed": "1 min"}) == Duration.fixed(60.0)
    assert field.write(Duration.fixed(60.0)) == {"fixed": "60.0 s"}
    assert field.read("0 s").mean() == 0.0
    never = field.read("never")
    assert never.never
    assert never.quantile(0.3) == math.inf
    assert field.write(never) == "never"


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ({"dist": "exponential", "mean": "0 s"}, Duration.fixed(0.0)),
        ({"dist": "lognormal", "median": "0 s", "sigma": 1}, Duration.fixed(0.0)),
        ({"dist": "lognormal", "median": "20 s", "sigma": 0}, Duration.fixed(20.0)),
        ({"dist": "gamma", "mean": "20 s", "cv": 0}, Duration.fixed(20.0)),
        ({"dist": "gamma", "mean": "0 s", "cv": 1}, Duration.fixed(0.0)),
        ({"dist": "weibull", "shape": 2, "scale": "0 s"}, Duration.fixed(0.0)),
        ({"dist": "uniform", "low": "3 s", "high": "3 s"}, Duration.fixed(3.0)),
        ({"dist": "gamma", "mean": "20 s", "cv": 0.5}, Duration("gamma", 4.0, 5.0)),
        ({"dist": "gamma", "shape": 4, "scale": "5 s"}, Duration("gamma", 4.0, 5.0)),
    ],
)
def test_without_scatter_it_is_the_fixed_time(table, expected):
    assert DurationField().read(table) == expected


@pytest.mark.parametrize(
    ("value", "key", "words"),
    [
        ("never", "", 'must come to an end, so "never" will not do'),
        ("-1 s", "", "a duration cannot be negative"),
        (20, "", "bare number where a unit is due"),
        ("20 ft", "", "the unit 'ft' is not a time"),
        ({"median": "20 s"}, "", "needs the key dist, one of: exponential, lognormal"),
        ({"dist": "normal"}, "dist", "not one of the choices"),
        ({"dist": "lognormal", "median": "2 s"}, "", "takes median and sigma"),
        ({"dist": "gamma", "mean": "2 s"}, "", "takes mean and cv or shape and scale"),
        ({"dist": "exponential", "mean": "2 s", "sd": 1}, "sd", "no such key"),
        ({"dist": "lognormal", "median": "2 s", "sigma": "1"}, "sigma", "must be a plain number"),
        ({"dist": "lognormal", "median": 2, "sigma": 1}, "median", "bare number"),
        ({"dist": "lognormal", "median": "2 s", "sigma": -1}, "sigma", "at least 0"),
        ({"dist": "weibull", "shape": 0, "scale": "2 s"}, "shape", "above 0"),
        ({"dist": "uniform", "low": "3 s", "high": "1 s"}, "", "low is above high"),
    ],
)
def test_bad_durations(value, key, words):
    with pytest.raises(Problem) as caught:
        DurationField().read(value)
    assert words in caught.value.text
    assert caught.value.key == key


def test_quantile_refuses_what_is_no_probability():
    with pytest.raises(ValueError, match="q must be at least 0 and below 1, got 1"):
        Duration("exponential", 1.0).quantile(1.0)
    with pytest.raises(ValueError, match="q must be above 0 and below 1, got 0"):
        LogNormal.of(1.0).quantile(0.0)


@given(st.floats(1e-3, 1e3), st.floats(0.01, 2.0), st.floats(0.01, 0.99))
def test_spread_agrees_with_scipy(median, sigma, q):
    spread, other = LogNormal.of(median, sigma), sps.lognorm(s=sigma, scale=median)
    assert spread.median == pytest.approx(median)
    assert spread.mean() == pytest.approx(float(other.mean()))
    assert spread.quantile(q) == pytest.approx(float(other.ppf(q)))


def test_spread_forms():
    field = SpreadField("mass")
    assert field.read("70 kg") == LogNormal.of(70.0)
    assert field.read({"median": "70 kg", "sigma": 0.2}) == LogNormal.of(70.0, 0.2)
    assert field.read("0 kg").median == 0.0
    assert field.read(field.write(LogNormal.of(0.0, 0.3))) == LogNormal.of(0.0, 0.3)
    assert SpreadField(None).read(0.4) == LogNormal.of(0.4)
    with pytest.raises(Problem, match="takes a plain value, or median and sigma"):
        field.read({"mean": "70 kg"})
    with pytest.raises(Problem, match="out of range"):
        SpreadField("mass", zero=False).read("0 kg")
    with pytest.raises(Problem, match="must be a number"):
        SpreadField(None).read("0.4 kg")


@given(st.floats(1e-6, 1e6))
def test_exp_inverse_gives_back_the_logarithm(x):
    assert math.log(exp_inverse(math.log(x))) == math.log(x)


@given(cv=st.floats(1e-5, 10.0), mean=SECONDS)
def test_any_gamma_that_is_read_can_be_written_down(cv, mean):
    """A small scatter is a large shape, which a file may then state as well."""
    field = DurationField()
    read = field.read({"dist": "gamma", "mean": f"{mean!r} s", "cv": cv})
    assert field.read(field.write(read)) == read


@pytest.mark.parametrize("cv", [5e-324, 1e-300, 1e-160, 9e-6])
def test_a_gamma_scatter_that_makes_no_shape_is_refused(cv):
    with pytest.raises(Problem, match="cannot be told from none") as caught:
        DurationField().read({"dist": "gamma", "mean": "20 s", "cv": cv})
    assert caught.value.key == "cv"
    assert "at least" in caught.value.hint


@pytest.mark.parametrize("shape", [0.2, 0.01, 0.0059, 0.003, 1e-9, 5e-324])
def test_a_mean_beyond_all_floats_is_infinite(shape):
    """Of a Weibull distribution of a small shape, whose rare times are beyond all measure."""
    mean = Duration("weibull", shape, 2.0).mean()
    assert mean > 200.0
    assert not math.isnan(mean)
    assert (mean == math.inf) == (shape < 0.0059)
