"""Sums as text and nights as bytes come back exactly, and nothing else is taken for them."""

import json
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.outcomes import COLUMNS, Outcomes
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.store import codec

ratios = st.builds(Fraction, st.integers(-(10**40), 10**40), st.integers(1, 10**30))
doubles = st.floats(allow_nan=False)


@given(st.integers(0, 10**12), ratios, ratios, doubles, doubles)
def test_moments_of_any_size(n, total, squares, low, high):
    moments = Moments(n, total, squares, low, high)
    assert codec.from_text(codec.to_text(Tally(moments={"caught": moments}))).moments == {
        "caught": moments
    }


def test_tallies_and_pairs_of_nights(nights):
    a, b = nights(0.6)(3, 0, 500), nights(0.4)(3, 0, 500)
    for sums in (Tally.of(a), PairTally.of(a, b), Tally(), PairTally()):
        text = codec.to_text(sums)
        assert codec.from_text(text) == sums
        json.loads(text, parse_constant=pytest.fail)  # no infinity outside of JSON
    whole = codec.from_text(codec.to_text(Tally.of(a))) + codec.from_text(
        codec.to_text(Tally.of(b))
    )
    assert whole == Tally.of(a) + Tally.of(b)


@pytest.mark.parametrize("text", ["", "{}", "[1", '{"kind":"Heap"}', '{"kind":"Tally","ni":1}'])
def test_other_texts_are_refused(text):
    with pytest.raises(ValueError, match=r".+"):
        codec.from_text(text)


whole_numbers = st.integers(-(2**63), 2**63 - 1)
any_night = st.tuples(
    *({"i8": whole_numbers, "f8": st.floats(), "?": st.booleans()}[kind] for _, kind in COLUMNS)
)


@given(st.lists(any_night, max_size=20))
def test_nights_of_any_numbers(rows):
    outcomes = Outcomes.empty(len(rows))
    for place, (name, _) in enumerate(COLUMNS):
        outcomes[name][:] = [row[place] for row in rows]
    assert codec.from_bytes(codec.to_bytes(outcomes)) == outcomes


def test_nights_are_small(nights):
    outcomes = nights()(1, 10**9, 2000)
    assert len(codec.to_bytes(outcomes)) < 2000 * 20 < 2000 * 8 * len(COLUMNS) / 5


def test_damaged_nights_are_refused(nights):
    data = codec.to_bytes(nights()(1, 0, 300))
    for bad in (b"", data[:40], data[:-7], data[:200] + b"\x00\x01" + data[202:], b"abc" * 99):
        with pytest.raises(ValueError, match=r".+"):
            codec.from_bytes(bad)


def test_infinity_is_kept(nights):
    read = codec.from_text(codec.to_text(Tally()))
    assert math.isinf(read.moments["caught"].low)
    assert np.isnan(read.moments["caught"].mean)
