"""The share whose removal stops growth, and what published figures imply."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.scenario.register import entry
from soundergate.seasons.population import published
from soundergate.seasons.population.projection import Dynamics, Removal, expected
from soundergate.seasons.population.published import Reading, readings
from soundergate.seasons.population.removal_share import (
    AFTER,
    BASES,
    BEFORE,
    TIMINGS,
    Timing,
    held_factor,
    stopping_shares,
)
from soundergate.studies.errors import StudyError

FACTORS = st.floats(0.2, 5.0)
SHARES = st.floats(0.0, 1.0)
TIMED = st.sampled_from(TIMINGS)


@given(FACTORS, SHARES, TIMED, st.floats(0.0, 1.0))
def test_at_the_share_the_level_holds_and_no_less_will_do(
    factor: float, i: float, timing: Timing, part: float
) -> None:
    share = stopping_shares(factor, i, timing)
    start = Dynamics(1000, factor, i, timing)
    after = expected(start, Removal(share=share), 5)
    if share > 0:
        np.testing.assert_allclose(after, 1000.0, rtol=1e-9)
        less = expected(start, Removal(share=part * share), 1)[-1]
        assert less >= 1000.0 * (1 - 1e-9)
    else:
        assert (after <= 1000.0 * (1 + 1e-12)).all()


@given(FACTORS, FACTORS, SHARES, TIMED)
def test_the_share_rises_with_growth(one: float, other: float, i: float, timing: Timing) -> None:
    slow, fast = sorted((one, other))
    assert stopping_shares(slow, i, timing) <= stopping_shares(fast, i, timing)


@given(FACTORS, SHARES, SHARES, TIMED)
def test_the_share_rises_with_arrivals(
    factor: float, one: float, other: float, timing: Timing
) -> None:
    few, many = sorted((one, other))
    assert stopping_shares(factor, few, timing) <= stopping_shares(factor, many, timing)


@given(FACTORS, st.floats(0.0, 1.0), TIMED)
def test_the_number_to_remove_does_not_depend_on_the_timing(
    factor: float, i: float, timing: Timing
) -> None:
    there = factor + (i if timing == BEFORE else 0.0)
    assert there * stopping_shares(factor, i, timing) == pytest.approx(
        max(factor - 1 + i, 0.0), abs=1e-12
    )


@given(st.floats(0.05, 0.95), st.floats(0.0, 0.9), TIMED)
def test_the_factor_that_a_share_holds_undoes_the_share(
    share: float, i: float, timing: Timing
) -> None:
    factor = held_factor(share, BASES[0], i, timing)
    if not math.isnan(factor):
        assert stopping_shares(factor, i, timing) == pytest.approx(share, rel=1e-9)


@given(st.floats(0.0, 0.95), st.floats(0.0, 1.0))
def test_removal_before_births_needs_the_same_share(share: float, i: float) -> None:
    """With arrivals last: lambda (1 - s) N is the same in either order."""
    factor = held_factor(share, BASES[0], min(i, 0.9), AFTER)
    culled_first = factor * (1 - share) * 500 + min(i, 0.9) * 500
    assert culled_first == pytest.approx(500)


def test_nothing_needs_removal_where_numbers_fall_by_themselves() -> None:
    assert stopping_shares(0.8, 0.2) == pytest.approx(0.0, abs=1e-12)
    assert stopping_shares(0.8, 0.1, BEFORE) == 0.0
    assert stopping_shares(0.9, 0.3) == pytest.approx(1 - 0.7 / 0.9)  # yet arrivals may need it


def test_as_many_arrivals_as_pigs_leave_only_all_to_be_removed() -> None:
    assert stopping_shares(1.32, 1.0) == 1.0
    assert stopping_shares(1.32, 1.2, BEFORE) == pytest.approx(1 - 1 / 2.52)
    assert np.isnan(stopping_shares([1.1, 1.32], 1.2)).all()


@pytest.mark.parametrize(
    ("factor", "i", "timing", "words"),
    [
        (0.0, 0.0, AFTER, "growth_factor = 0.0.*more than 0 and finite"),
        (math.nan, 0.0, AFTER, "growth_factor = nan"),
        (math.inf, 0.0, AFTER, "growth_factor = inf"),
        (1.3, -0.1, AFTER, "immigration = -0.1.*at least 0"),
        (1.3, 0.1, "in spring", "timing = .*use 'arrivals after removal' or 'arrivals before"),
    ],
)
def test_what_cannot_be_is_refused(factor: float, i: float, timing: Timing, words: str) -> None:
    with pytest.raises(StudyError, match=words):
        stopping_shares(factor, i, timing)


# --- published figures -------------------------------------------------------------------------


def found(name: str, read_as: str, i: float = 0.0, timing: Timing = AFTER) -> Reading:
    (one,) = [
        r for r in readings(i, timing) if r.figure.name == name and r.read_as.startswith(read_as)
    ]
    return one


def test_growth_of_the_texas_model_implies_24_percent() -> None:
    """Mellish et al. 2014: 0.32 a year; 1 - 1/1.32 = 8/33."""
    one = found("Texas model", "growth")
    assert one.share == pytest.approx((8 / 33, 8 / 33))
    assert round(100 * one.share[0]) == 24


def test_the_texas_advice_implies_other_growth_in_each_reading() -> None:
    """Timmons et al. 2012: 66 % a year; 1/0.34 = 50/17, 1 + 0.66, and e^0.66 by its series."""
    series = sum(0.66**k / math.factorial(k) for k in range(20))
    assert found("Texas advice", BASES[0]).growth_factor[0] == pytest.approx(50 / 17)
    assert found("Texas advice", BASES[1]).growth_factor[0] == pytest.approx(series)
    assert found("Texas advice", BASES[2]).growth_factor[0] == pytest.approx(1.66)
    assert entry("population.growth").high == pytest.approx(50 / 17 - 1, abs=0.005)


@pytest.mark.parametrize(("timing", "arrivals"), [(AFTER, 0.5512), (BEFORE, 50 / 17 - 1.32)])
def test_arrivals_alone_could_reconcile_the_two_texas_figures(
    timing: Timing, arrivals: float
) -> None:
    one = found("Texas advice", "growth of the Texas model", timing=timing)
    assert one.growth_factor == (1.32, 1.32)
    assert one.arrivals[0] == pytest.approx(arrivals)
    assert one.share[0] == pytest.approx(0.66)


@pytest.mark.parametrize("timing", TIMINGS)
@pytest.mark.parametrize("i", [0.0, 0.1, 0.3])
def test_with_arrivals_a_published_share_stays_what_it_is(timing: Timing, i: float) -> None:
    for name, share in (("Texas advice", 0.66), ("Europe, summer pigs", 0.65)):
        assert found(name, BASES[0], i, timing).share[0] == pytest.approx(share)


@pytest.mark.parametrize("timing", TIMINGS)
def test_before_births_as_many_go_as_the_share_says(timing: Timing) -> None:
    """Played as a rule: of N = 100 counted, 66 go after births and arrivals as timed; level."""
    factor = found("Texas advice", BASES[2], 0.2, timing).growth_factor[0]
    assert expected(Dynamics(100, factor, 0.2, timing), Removal(pigs=66), 3) == pytest.approx(
        [100] * 4
    )


def test_all_year_round_is_the_limit_of_many_small_steps() -> None:
    """Growth, removal and arrivals in 100,000 steps a year keep 100 pigs level."""
    factor, steps = held_factor(0.66, BASES[1], 0.1), 100_000
    there = 100.0
    for _ in range(steps):
        there = there * factor ** (1 / steps) + (0.1 - 0.66) * 100 / steps
    assert there == pytest.approx(100, abs=0.01)


def test_growth_under_removal_plays_back_to_the_growth_printed() -> None:
    """Timmons et al. 2012 (second-hand): 18 and 21 % a year while 29 % go."""
    for timing in TIMINGS:
        after = found("Texas growth under removal", BASES[0], 0.1, timing).growth_factor
        before = found("Texas growth under removal", BASES[2], 0.1, timing).growth_factor
        for printed, one, other in zip((1.18, 1.21), after, before, strict=True):
            share = expected(Dynamics(100, one, 0.1, timing), Removal(share=0.29), 1)[-1]
            number = expected(Dynamics(100, other, 0.1, timing), Removal(pigs=29), 1)[-1]
            assert (share, number) == pytest.approx((100 * printed, 100 * printed))


def test_texas_2010_is_29_percent_and_held_little_growth() -> None:
    one = found("Texas 2010", BASES[0])
    assert round(100 * one.share[0]) == 29
    assert one.growth_factor[0] == pytest.approx(2_600_000 / (2_600_000 - 753_646))
    assert not one.for_plans


def test_new_zealand_recovery_implies_growth_of_62_percent() -> None:
    """Dzieciolowski et al. 1992: 30 % left are 100 % again after 30 months."""
    factor = found("New Zealand recovery", "steady").growth_factor[0]
    assert 0.3 * factor**2.5 == pytest.approx(1)
    assert factor == pytest.approx(1.62, abs=0.005)


def test_recovery_in_months_is_read_but_not_planned_with() -> None:
    """Garabedian & Kilgo 2024."""
    weeks = found("South Carolina recovery", "factors")
    assert math.log(weeks.growth_factor[0]) == pytest.approx(math.log(1.24) * 365.25 / 21)
    assert math.log(weeks.growth_factor[1]) == pytest.approx(math.log(1.28) * 365.25 / 21)
    cut = found("South Carolina recovery", "growth that regains").growth_factor
    assert (0.46 * cut[0] ** (5 / 12), 0.32 * cut[1] ** (3 / 12)) == pytest.approx((1, 1))
    assert found("South Carolina recovery", "arrivals").share == pytest.approx((0.54, 0.68))
    assert not any(r.for_plans for r in readings() if r.figure.name == "South Carolina recovery")


def test_every_figure_says_where_it_is_from_and_what_to_beware_of() -> None:
    assert {r.figure.name for r in readings()} == {f.name for f in published.PUBLISHED}
    for figure in published.PUBLISHED:
        assert figure.status in ("read", "read second-hand", "from memory")
        assert len(figure.caution) > 20
        assert any(year in figure.source for year in ("1992", "2012", "2013", "2014", "2024"))
    assert found("Europe, summer pigs", "share").figure.status == "from memory"


def test_arrivals_that_leave_no_growth_give_no_reading() -> None:
    assert math.isnan(found("Texas advice", BASES[0], 1.0).growth_factor[0])
    assert math.isnan(found("Texas advice", BASES[2], 1.7, BEFORE).share[0])
