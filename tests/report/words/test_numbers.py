"""Shares in words: something is never told as nothing, and nothing is told as such."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.numbers_in_words import percent as steel_percent
from soundergate.report.words.numbers import (
    digits_of,
    digits_shown,
    number,
    of_nights,
    percent,
)
from soundergate.report.words.world_answers import span_of
from soundergate.studies.estimates.intervals import wilson
from soundergate.studies.estimates.tally import Estimate
from soundergate.studies.sentences import about_percent, points


def share(k: int, n: int) -> Estimate:
    low, high, level = wilson(k, n, 0.95)
    return Estimate("whole_group", k / n, low, high, level, "of nights", n)


@pytest.mark.parametrize(
    ("k", "n", "text"),
    [
        (370, 1000, "37 % (34 to 40 %) of nights"),
        (2, 2000, "0.10 % (0.03 to 0.36 %) of nights"),
        (0, 1000, "none of the 1,000 nights (in the long run on at most 1 night in 260)"),
        (0, 100, "none of the 100 nights (in the long run on at most 4 % of nights)"),
        (1000, 1000, "all of the 1,000 nights (in the long run not on at most 1 night in 260)"),
        (0, 1, "none of the one night"),
    ],
)
def test_on_how_many_nights(k: int, n: int, text: str) -> None:
    assert of_nights(share(k, n)) == text


@given(st.integers(10, 10**6), st.floats(0, 1))
def test_what_is_not_nothing_never_reads_as_nothing(n: int, part: float) -> None:
    k = min(max(round(part * n), 1), n - 1)
    numbers = [float(text) for text in re.findall(r"\d+(?:\.\d+)?", percent(share(k, n)))]
    assert len(numbers) == 3
    assert all(0 < number < 100 for number in numbers)
    assert numbers[1] <= numbers[0] <= numbers[2]


@given(st.floats(-1e-3, 0.0), st.integers(0, 4))
def test_no_number_reads_as_less_than_nothing_that_is_nothing(value: float, digits: int) -> None:
    assert about_percent(value) == "0 %"
    assert about_percent(1.0 - value) == "100 %"
    for told in (number(value, digits), steel_percent(value), points(-0.0), number(-0.0, digits)):
        if not re.search(r"[1-9]", told):
            assert not re.search("[-\N{MINUS SIGN}]", told), told
    assert points(-0.0) == "0 points"
    assert about_percent(-0.0) == "0 %"


def test_what_is_rough_by_itself_is_not_said_to_be_about() -> None:
    assert span_of(0.9951, 0.9990) == "over 99 %"
    assert span_of(0.0001, 0.0002) == "under 1 %"
    assert span_of(0.3701, 0.3702) == "about 37 %"
    assert span_of(0.2, 0.9999) == "20 to over 99 %"


def test_without_an_interval_or_an_answer() -> None:
    nan = math.nan
    assert percent(Estimate("released", nan, nan, nan, 0.95, "of nights", 0)) == "an unknown share"
    assert percent(Estimate("released", 0.5, nan, nan, 0.95, "of nights", 1)) == "50.0 %"
    assert digits_of(nan, nan, 2) == 2
    for half in ((0.0, nan), (nan, 0.004)):  # an end that is not known is no interval either
        assert (digits_of(*half), digits_shown(*half, 100), digits_shown(*half, 1)) == (1, 1, 2)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0 %"), (0.003, "under 1 %"), (0.37, "37 %"), (0.997, "over 99 %"), (1, "100 %")],
)
def test_about(value: float, text: str) -> None:
    assert about_percent(value) == text


@pytest.mark.parametrize(
    ("low", "high", "factor", "digits"),
    [
        (0.55, 0.6, 100, 1),
        (0.00049, 0.0074, 100, 2),  # +0.05 to +0.74 points is not "+0.0 to +0.7"
        (-0.0074, -0.0002, 100, 2),
        (0.0, 0.0040, 100, 1),
        (0.996, 0.9996, 100, 2),
        (3.9, 4.2, 1, 2),
        (0.0004, 0.02, 1, 4),
        (0.0, 0.04, 1, 2),
        (1e-9, 0.04, 1, 2),  # no number of decimals would help
        (math.nan, math.nan, 1, 2),
    ],
)
def test_digits_of_a_cell(low: float, high: float, factor: float, digits: int) -> None:
    assert digits_shown(low, high, factor) == digits
