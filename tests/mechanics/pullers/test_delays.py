"""A constant added to an uncertain time."""

import pytest

from soundergate.mechanics.pullers.delays import later
from soundergate.scenario.distributions import Duration

WEIBULL, GAMMA = Duration("weibull", 1.5, 0.2), Duration("gamma", 2.0, 0.1)
LOGNORMAL, EXPONENTIAL = Duration("lognormal", -3.0, 0.5), Duration("exponential", 0.3)


def test_fixed_and_uniform_shift_exactly() -> None:
    assert later(Duration.fixed(0.1), 0.25) == Duration.fixed(0.35)
    assert later(Duration("uniform", 0.1, 0.2), 0.5) == Duration("uniform", 0.6, 0.7)


@pytest.mark.parametrize("duration", [WEIBULL, GAMMA, LOGNORMAL, EXPONENTIAL])
def test_others_keep_median_and_ninth_decile(duration: Duration) -> None:
    shifted = later(duration, 0.05)
    assert shifted.kind == "lognormal"
    for q in (0.5, 0.9):
        assert shifted.quantile(q) == pytest.approx(duration.quantile(q) + 0.05, rel=1e-9)


def test_nothing_added_changes_nothing() -> None:
    assert later(WEIBULL, 0.0) is WEIBULL
