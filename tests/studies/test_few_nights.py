"""Differences that rest on a few nights: what they cover, and that they are marked.

Two setups differ on a share of nights, by amounts that are skewed. Counts of each amount are drawn
at once (multinomial), and the interval is that of six pairs that are to hold together at 0.95.
"""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.paired import FEW_APART, Difference, PairTally
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.sentences import sentence

PAIRS, LEVEL, REPEATS = 6, 0.95, 4000
GEOMETRIC = 0.4 * 0.6 ** np.arange(11)
AMOUNTS = {  # pigs by which the setups differ on a night on which they do, and how often
    "one pig": ([1], [1.0]),
    "a few, skewed": (range(1, 12), GEOMETRIC / GEOMETRIC.sum()),
    "seldom the whole group": ([1, 11], [0.85, 0.15]),
    "either way": ([-1, 1, 2], [0.4, 0.4, 0.2]),
}


def covered(kind, nights, share):
    """Whether each of many intervals covers, and whether it is marked as resting on few nights."""
    values, chances = AMOUNTS[kind]
    values = np.array([0, *values])
    chances = np.array([1 - share, *(share * np.array(chances))])
    rng = np.random.default_rng([nights, int(1e4 * share)])
    counts = rng.multinomial(nights, chances / chances.sum(), size=REPEATS)
    total, squares, size = (counts @ v for v in (values, values**2, abs(values)))
    variance = (squares - total**2 / nights) / (nights - 1)
    each = intervals.bonferroni(LEVEL, PAIRS)
    half = intervals.t_quantile(nights, each) * np.sqrt(variance / nights)
    apart = size**2 / np.maximum(squares, 1)
    return np.abs(total / nights - chances @ values) <= half, apart < FEW_APART


@pytest.mark.parametrize("kind", AMOUNTS)
@pytest.mark.parametrize("nights", [200, 500, 2000])
def test_what_is_not_marked_holds_together(kind, nights):
    """Six pairs, none marked: together at 0.91 or more of 0.95. The standard error is 0.013 at
    most; three of them are allowed for."""
    for share in (0.02, 0.05, 0.1, 0.2, 0.4, 0.8):
        covers, few = covered(kind, nights, share)
        missed = np.mean(~covers & ~few)
        assert 1 - PAIRS * missed > 0.91 - 3 * PAIRS * math.sqrt(0.015 / REPEATS)


def test_what_is_marked_need_not_hold_at_all():
    covers, few = covered("seldom the whole group", 500, 0.05)
    assert few.mean() > 0.99
    assert 1 - PAIRS * np.mean(~covers) < 0.7


def nights_of(caught):
    outcomes = Outcomes.empty(len(caught))
    outcomes["night"][:] = np.arange(len(caught))
    outcomes["group_size"][:] = outcomes["arrived"][:] = 11
    outcomes["caught"][:] = caught
    outcomes["never_entered"][:] = 11 - outcomes["caught"]
    outcomes["whole_group"][:] = outcomes["caught"] == 11
    return outcomes


def difference(caught, other, measure="caught"):
    nights = nights_of(caught), nights_of(other)
    pair = PairTally.of(*nights, ["caught", "whole_group"])
    return pair.difference(measure, ("a", "b"), tuple(map(Tally.of, nights)), LEVEL, 1)


def test_nights_in_effect_are_counted_by_hand():
    """Differences 3, 4 and 0: (3 + 4)^2 / (9 + 16) = 49 / 25."""
    assert difference([8, 9, 5], [5, 5, 5]).apart == pytest.approx(49 / 25)
    pair = PairTally.of(nights_of([8, 9, 5]), nights_of([5, 10, 5]), ["caught"])
    assert pair.apart["caught"] == Fraction(4)
    assert (pair + pair).nights_apart("caught") == pytest.approx(2 * 16 / 10)
    assert math.isnan(PairTally(3, {"caught": Moments()}).nights_apart("caught"))


def test_few_nights_are_said_everywhere():
    caught = np.full(400, 5)
    caught[:30] = 9
    few = difference(caught, np.full(400, 5))
    assert few.few
    assert few.low > 0
    assert not few.settled
    assert few.to_json()["few"] is True
    assert (
        "Too few nights to tell: the difference rests on about 30 nights, and 50 are needed."
        in sentence(few)
    )
    one = replace(few, apart=1.2)
    assert "rests on about 1 night, and 50 are needed." in sentence(one)


def test_enough_nights_or_no_difference_at_all_are_not_few():
    caught = np.full(400, 5)
    caught[:50] = 9
    enough = difference(caught, np.full(400, 5))
    assert (enough.few, enough.settled) == (False, True)
    same = difference(np.full(400, 5), np.full(400, 5))
    assert (same.few, same.settled, same.apart) == (False, False, 0.0)
    caught[:30] = 11
    shares = difference(caught, np.full(400, 5), "whole_group")  # its interval is made for few
    assert not shares.few
    unknown = Difference("a", "b", "caught", 1.0, 0.5, 1.5, 0.95, 0.95, 1.0, 400, "pigs a night")
    assert not unknown.few
