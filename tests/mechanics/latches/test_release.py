"""Release probability: log-normal pull against log-normal friction."""

from math import exp, inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.latches.release_probability import margin, probability
from soundergate.mechanics.scatter import frees
from soundergate.scenario.distributions import LogNormal

SIGMAS = st.floats(0.01, 1.0)


def test_against_simulation() -> None:
    """400,000 draws; 4 standard errors (6e-5 false alarms)."""
    rng = np.random.default_rng(71)
    required = 100.0 * np.exp(0.3 * rng.standard_normal(400_000))
    available = 120.0 * np.exp(0.15 * rng.standard_normal(400_000))
    share = float((available > required).mean())
    error = (share * (1 - share) / 400_000) ** 0.5
    assert probability(LogNormal(100.0, 0.3), LogNormal(120.0, 0.15)) == pytest.approx(
        share, abs=4 * error
    )


def test_known_quantiles() -> None:
    """ln(A/R) of 1.6449 standard deviations is 95 % (normal table)."""
    available = LogNormal(100.0 * exp(1.644854 * 0.5), 0.4)
    assert probability(LogNormal(100.0, 0.3), available) == pytest.approx(0.95, abs=1e-6)
    assert probability(LogNormal(100.0, 0.3), LogNormal(100.0, 0.4)) == pytest.approx(0.5)


@given(r=st.floats(1.0, 1e4), a=st.floats(1.0, 1e4), s=SIGMAS, factor=st.floats(1.01, 3.0))
def test_more_pull_never_releases_less(r: float, a: float, s: float, factor: float) -> None:
    required = LogNormal(r, s)
    assert probability(required, LogNormal(a, 0.1)) <= probability(
        required, LogNormal(a * factor, 0.1)
    )


def test_edges() -> None:
    sure, none = LogNormal(10.0), LogNormal(0.0)
    assert probability(sure, LogNormal(10.1)) == 1.0
    assert probability(sure, LogNormal(9.9)) == 0.0
    assert probability(none, none) == 1.0
    assert probability(sure, none) == 0.0
    assert margin(none, sure) == inf
    assert margin(LogNormal(4.0), sure) == 2.5


def test_a_pull_that_is_just_enough_frees_as_it_does_in_every_other_account() -> None:
    """Without scatter A = R is enough: the same convention as `scatter` and the chain keep."""
    for pull in (9.9, 10.0, 10.1):
        given, need = LogNormal(pull), LogNormal(10.0)
        assert probability(need, given) == frees(need, given) == float(pull >= 10.0)
