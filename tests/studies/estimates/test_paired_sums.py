"""Many pairs summed together: the same, exactly, as every pair by itself, in any pieces."""

import itertools
import pickle

import numpy as np
import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.paired_sums import PairSums
from soundergate.studies.estimates.sums import Summing

EVERY = tuple(name for name, one in MEASURES.items() if one.every_night)


def some_nights(rng, count, sizes, first=0):
    nights = Outcomes.empty(count)
    nights["night"][:] = np.arange(first, first + count)
    nights["group_size"][:] = rng.choice(sizes, count)
    nights["caught"][:] = rng.integers(0, nights["group_size"] + 1)
    nights["arrived"][:] = nights["group_size"]
    nights["escaped_during"][:] = rng.integers(0, 3, count)
    nights["released"][:] = rng.random(count) < 0.7
    nights["release_s"][:] = rng.exponential(4000, count)
    nights["whole_group"][:] = nights["caught"] == nights["group_size"]
    nights["operator_min"][:] = rng.choice([0.0, 0.1, 7.3], count)
    return nights


GROUPS = {
    "one size": ([11],) * 4,
    "a size an arm": ([9], [11], [13], [15]),
    "sizes that vary": ([9, 10, 11], [11], [2, 3, 5, 7], [30, 31]),
    "sizes with no small common multiple": ([91, 97, 89], [83, 79], [73, 71], [67, 61]),
}


@pytest.fixture(params=GROUPS)
def played(request):
    rng = np.random.default_rng(13)
    return [some_nights(rng, 300, sizes) for sizes in GROUPS[request.param]]


def test_every_pair_is_what_it_is_by_itself(played):
    pairs = [*itertools.combinations(range(4), 2), (3, 0)]
    together = PairSums.of(played, pairs, EVERY)
    assert len(together) == len(pairs)
    for (a, b), found in zip(pairs, together, strict=True):
        assert found == PairTally.of(played[a], played[b], EVERY)
    assert together[-1] == PairTally.of(played[3], played[0], EVERY)


def test_pieces_of_any_length_add_up_to_the_same(played):
    pairs = tuple(itertools.combinations(range(4), 2))
    summing = Summing(pairs, EVERY)
    whole = summing(played)
    parts = summing.nothing(4)
    for start, end in itertools.pairwise((0, 1, 20, 21, 200, 300)):
        parts += summing([Outcomes.from_columns(cut(one, start, end)) for one in played])
    assert parts == whole
    assert list(parts.pairs) == list(whole.pairs)
    # and with tallies that were read from a store
    assert PairSums.of(played, pairs, EVERY).plus(tuple(whole.pairs)) == (whole + whole).pairs


def cut(nights, start, end):
    return {name: nights[name][start:end] for name in nights}


def test_sums_travel_to_another_process(played):
    sums = PairSums.of(played, [(0, 1), (1, 2)], EVERY)
    assert pickle.loads(pickle.dumps(sums)) == sums


def test_other_pairs_and_other_nights_are_refused(played):
    first = PairSums.of(played, [(0, 1)], ["caught"])
    with pytest.raises(ValueError, match="other pairs"):
        first.plus(PairSums.of(played, [(1, 0)], ["caught"]))
    played[1]["night"][0] = 77
    with pytest.raises(ValueError, match="same nights"):
        PairSums.of(played, [(0, 1)], ["caught"])
    assert first != PairSums.of(played, [(0, 2)], ["caught"])
