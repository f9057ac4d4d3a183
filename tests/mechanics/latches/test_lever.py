"""A lever trades force for travel and gains no work."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.latches.lever import from_puller_end, longest_ratio
from soundergate.mechanics.latches.pin import pin
from soundergate.scenario.distributions import LogNormal


@given(st.floats(0.1, 50.0))
def test_force_down_travel_up_work_kept(ratio: float) -> None:
    latch = pin(400.0, LogNormal(0.42, 0.3), 0.025)
    seen = from_puller_end(latch, ratio)
    assert seen.pull_required == pytest.approx(latch.pull_required / ratio)
    assert seen.trip_travel == pytest.approx(latch.trip_travel * ratio)
    work = latch.pull_required * latch.trip_travel
    assert seen.pull_required * seen.trip_travel == pytest.approx(work)
    assert seen.pull_required_sigma == latch.pull_required_sigma


def test_longest_ratio_still_clears_the_pin() -> None:
    assert longest_ratio(0.02, 0.10) == pytest.approx(5.0)
    assert longest_ratio(0.0, 0.10) == float("inf")


def test_ratio_must_be_positive() -> None:
    with pytest.raises(ValueError, match="lever ratio must be positive, got 0"):
        from_puller_end(pin(1.0, LogNormal(0.4), 0.02), 0.0)
