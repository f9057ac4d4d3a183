"""Exact sums: no rounding, no dependence on pieces or order."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soundergate.studies.estimates.moments import Moments, exact_sum

# magnitudes whose squares neither overflow nor fall below the smallest normal double
doubles = st.floats(min_value=-1e100, max_value=1e100).filter(lambda v: v == 0 or abs(v) > 1e-100)


@given(st.lists(doubles, max_size=60))
@settings(max_examples=100, deadline=None)
def test_sums_of_doubles_are_exact(values):
    x = np.array(values, dtype=float)
    assert exact_sum(x) == sum(map(Fraction, values))
    assert Moments.of(x).squares == sum(Fraction(v) ** 2 for v in values)


def test_a_sum_that_doubles_get_wrong():
    x = np.array([1e16, 1.0, -1e16, 1e-8])
    assert x.sum() != 1.00000001
    assert Moments.of(x).mean == 1.00000001 / 4


@given(st.lists(doubles, min_size=1, max_size=40), st.data())
@settings(max_examples=60, deadline=None)
def test_pieces_and_order_do_not_matter(values, data):
    cut = data.draw(st.integers(0, len(values)))
    mixed = data.draw(st.permutations(values))
    whole = Moments.of(np.array(values))
    assert Moments.of(np.array(values[:cut])) + Moments.of(np.array(values[cut:])) == whole
    assert Moments.of(np.array(mixed)) == whole


@given(st.lists(st.integers(-(2**40), 2**40), min_size=2, max_size=40), st.integers(1, 30))
@settings(max_examples=60, deadline=None)
def test_whole_numbers_over_a_divisor(values, divisor):
    m = Moments.of(np.array(values), divisor)
    exact = [Fraction(v, divisor) for v in values]
    mean = sum(exact) / len(exact)
    assert m.mean == float(mean)
    assert m.variance == float(sum((v - mean) ** 2 for v in exact) / (len(exact) - 1))
    assert (m.low, m.high) == (min(values) / divisor, max(values) / divisor)


def test_one_divisor_a_night():
    m = Moments.of(np.array([1, 2, 3]), np.array([2, 4, 8]))
    assert m.total == Fraction(1, 2) + Fraction(1, 2) + Fraction(3, 8)
    assert m == Moments.of(np.array([0.5, 0.5, 0.375]))


def test_variance_survives_a_large_offset():
    """NIST StRD univariate set NumAcc4: 1001 values 1e7 + {0.1, 0.2, 0.3}, certified sd 0.1."""
    x = np.array([10000000.2] + [10000000.1, 10000000.3] * 500)
    assert Moments.of(x).mean == 10000000.2
    assert math.sqrt(Moments.of(x).variance) == pytest.approx(0.1, rel=1e-7)


def test_yes_no_and_large_counts():
    m = Moments.of(np.array([True, False, True]))
    assert (m.n, m.total, m.mean) == (3, 2, 2 / 3)
    huge = Moments.of(np.full(4, 2**61))
    assert huge.total == 4 * 2**61
    assert huge.squares == 4 * 2**122
    assert huge.variance == 0


def test_too_few_nights_and_bad_values():
    empty = Moments()
    assert math.isnan(empty.mean)
    assert math.isnan(Moments.of(np.array([3])).variance)
    assert empty + Moments.of(np.array([3])) == Moments.of(np.array([3]))
    assert Moments.of(np.array([])) == empty
    with pytest.raises(ValueError, match="nan or infinity"):
        Moments.of(np.array([1.0, math.inf]))
    with pytest.raises(ValueError, match="divisor"):
        Moments.of(np.array([1]), 0)
