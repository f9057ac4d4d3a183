"""Philox4x32-10 against its published vectors and against a plain-integer one written here.

NumPy's own Philox generator is the 4x64 member of the family, so it cannot be the oracle.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from soundergate.engine.luck.philox import philox4x32, uniform, uniform_pair

WORD = 2**32 - 1

# Known answers published with the Random123 library of Salmon et al. (SC11, 2011), file
# kat_vectors, rows "philox4x32 10": counter, key, output.
PUBLISHED = [
    (
        (0, 0, 0, 0),
        (0, 0),
        (0x6627E8D5, 0xE169C58D, 0xBC57AC4C, 0x9B00DBD8),
    ),
    (
        (WORD, WORD, WORD, WORD),
        (WORD, WORD),
        (0x408F276D, 0x41C83B0E, 0xA20BC7C6, 0x6D5451FD),
    ),
    (
        (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344),
        (0xA4093822, 0x299F31D0),
        (0xD16CFE09, 0x94FDCCEB, 0x5001E420, 0x24126EA1),
    ),
]


def plain_philox(counter: tuple[int, ...], key: tuple[int, ...], rounds: int = 10) -> list[int]:
    """Salmon et al. (2011), section 3.3, in whole numbers without bound."""
    x, k = list(counter), list(key)
    for _ in range(rounds):
        left, right = 0xD2511F53 * x[0], 0xCD9E8D57 * x[2]
        x = [
            (right // 2**32) ^ x[1] ^ k[0],
            right % 2**32,
            (left // 2**32) ^ x[3] ^ k[1],
            left % 2**32,
        ]
        k = [(k[0] + 0x9E3779B9) % 2**32, (k[1] + 0xBB67AE85) % 2**32]
    return x


def compiled_philox(counter: tuple[int, ...], key: tuple[int, ...]) -> list[int]:
    return [int(word) for word in philox4x32(*(np.uint64(word) for word in (*counter, *key)))]


@pytest.mark.parametrize(("counter", "key", "answer"), PUBLISHED)
def test_published_vectors(counter, key, answer) -> None:
    assert compiled_philox(counter, key) == list(answer)
    assert plain_philox(counter, key) == list(answer)


words = st.integers(0, WORD)


@given(st.tuples(words, words, words, words), st.tuples(words, words))
def test_equals_the_plain_one(counter, key) -> None:
    assert compiled_philox(counter, key) == plain_philox(counter, key)


def test_nine_rounds_would_be_noticed() -> None:
    counter, key, answer = PUBLISHED[2]
    assert plain_philox(counter, key, rounds=9) != list(answer)


@given(
    st.integers(0, 2**63 - 1), st.integers(0, 2**63 - 1),
    st.integers(0, 65535), st.integers(0, 65535), st.integers(0, WORD),
)  # fmt: skip
def test_a_block_is_named_by_seed_night_purpose_animal_and_number(
    seed, night, purpose, who, block
) -> None:
    w = plain_philox(
        (block, purpose * 2**16 + who, night % 2**32, night // 2**32),
        (seed % 2**32, seed // 2**32),
    )
    expected = [
        ((high * 2**20 + low // 2**12) + 0.5) / 2**52 for low, high in ((w[0], w[1]), (w[2], w[3]))
    ]
    assert list(uniform_pair(seed, night, purpose, who, block)) == expected
    assert [uniform(seed, night, purpose, who, 2 * block + j) for j in (0, 1)] == expected
    assert min(expected) > 0.0
    assert max(expected) < 1.0


def test_the_ends_of_the_range_are_not_reached() -> None:
    # The least and the greatest 52-bit number, as `uniform_pair` scales them.
    assert (0 + 0.5) * 2.0**-52 > 0.0
    assert (2**52 - 1 + 0.5) * 2.0**-52 < 1.0


def test_a_draw_depends_on_nothing_but_its_name() -> None:
    names = [(7, 3, 9, 2, k) for k in range(50)]
    forwards = [uniform(*name) for name in names]
    backwards = [uniform(*name) for name in reversed(names)]
    assert forwards == backwards[::-1]
    assert len(set(forwards)) == 50


@pytest.mark.parametrize("place", range(5))
def test_every_part_of_the_name_matters(place: int) -> None:
    name = [7, 3, 9, 2, 4]
    other = list(name)
    other[place] += 1
    assert uniform(*name) != uniform(*other)


@pytest.mark.parametrize("place", range(5), ids=["seed", "night", "purpose", "who", "k"])
def test_uniform_along_every_part_of_the_name(place: int) -> None:
    """Kolmogorov-Smirnov on 20,000 draws and the correlation of neighbours; a right generator
    fails either with probability 1e-4 (fixed seed, so always the same answer)."""
    name = [20260101, 5, 11, 3, 0]
    draws = np.empty(20_000)
    for j in range(len(draws)):
        name[place] = j
        draws[j] = uniform(*name)
    assert stats.kstest(draws, "uniform").pvalue > 1e-4
    assert stats.pearsonr(draws[:-1], draws[1:]).pvalue > 1e-4
