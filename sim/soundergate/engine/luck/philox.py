"""Philox4x32-10: every random number as a pure function of what it is for.

Source: Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11 (2011),
section 3.3 and the test vectors published with its Random123 library.

A draw is named by (seed, night, purpose, who, how-many-th). Changing a gate or a trigger changes
which draws are asked for, never what any of them says, so two setups meet the same luck.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from soundergate.engine.compiled.decorators import (
    called,
    compiled,
    compiled_as,
    inlined,
    inlined_as,
)

Names = NDArray[np.uint64]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LOW = np.uint64(0xFFFFFFFF)
_32 = np.uint64(32)
_12 = np.uint64(12)
_20 = np.uint64(20)
_M0 = np.uint64(0xD2511F53)
_M1 = np.uint64(0xCD9E8D57)
_W0 = np.uint64(0x9E3779B9)
_W1 = np.uint64(0xBB67AE85)
_ULP = 2.0**-52


@inlined_as("UniTuple(u8, 4)(u8, u8, u8, u8, u8, u8)")
def philox4x32(
    c0: np.uint64, c1: np.uint64, c2: np.uint64, c3: np.uint64, k0: np.uint64, k1: np.uint64
) -> tuple[np.uint64, np.uint64, np.uint64, np.uint64]:
    """Ten rounds on a counter of four words and a key of two; each word below 2**32 in a uint64.

    Returns
    -------
    tuple of four uint64, each below 2**32
    """
    for _ in range(10):
        p0 = _M0 * c0
        p1 = _M1 * c2
        c0 = (p1 >> _32) ^ c1 ^ k0
        c1 = p1 & _LOW
        c2 = (p0 >> _32) ^ c3 ^ k1
        c3 = p0 & _LOW
        k0 = (k0 + _W0) & _LOW
        k1 = (k1 + _W1) & _LOW
    return c0, c1, c2, c3


@inlined
def inline_pair(
    block: np.uint64, name: np.uint64, night: np.uint64, seed: np.uint64
) -> tuple[float, float]:
    """`uniform_pair` of a name, purpose << 16 | who, inlined into its caller."""
    w0, w1, w2, w3 = philox4x32(
        block & _LOW, name, night & _LOW, night >> _32, seed & _LOW, seed >> _32
    )
    # The word pair's upper 52 bits: all of the high word and the upper 20 of the low one.
    first = (w1 << _20) | (w0 >> _12)
    second = (w3 << _20) | (w2 >> _12)
    return (np.float64(first) + 0.5) * _ULP, (np.float64(second) + 0.5) * _ULP


@inlined
def name_of(purpose: int, who: int) -> np.uint64:
    """The word of the counter that says what a draw is for."""
    return (np.uint64(purpose) << np.uint64(16)) | np.uint64(who)


@compiled_as("UniTuple(f8, 2)(i8, i8, i8, i8, i8)")
def uniform_pair(seed: int, night: int, purpose: int, who: int, block: int) -> tuple[float, float]:
    """The two doubles of one block, each (k + 0.5) 2**-52 with 52 random bits, so never 0 or 1.

    Parameters
    ----------
    seed, night : int, 0 to 2**63 - 1
    purpose, who : int, 0 to 65535
    block : int, 0 to 2**32 - 1
    """
    name = name_of(purpose, who)
    return inline_pair(np.uint64(block), name, np.uint64(night), np.uint64(seed))


@called
def uniform_pairs(seed: int, night: int, names: Names, u: Floats) -> None:
    """Block 0 of many names (purpose << 16 | who) at once, as `uniform_pair`.

    Parameters
    ----------
    names : uint64[M]
    u : float64[2 M]
        Takes the first number of each, then the second of each; it may be longer.
    """
    uniform_pairs_of(seed, night, names, 0, names.shape[0], u)


@called
def uniform_pairs_of(seed: int, night: int, names: Names, begin: int, end: int, u: Floats) -> None:
    """The same for names ``begin`` to ``end - 1`` only."""
    first = u[begin:end]
    second = u[names.shape[0] + begin : names.shape[0] + end]
    those = names[begin:end]
    n, key = np.uint64(night), np.uint64(seed)
    for j in range(those.shape[0]):
        first[j], second[j] = inline_pair(np.uint64(0), those[j], n, key)


@called
def uniforms(seed: int, night: int, purpose: int, who: int, first: int, u: Floats) -> None:
    """Numbers ``first`` and on, as `uniform`, several blocks at a time.

    Parameters
    ----------
    first : int
        An even number.
    u : float64[n]
        Takes them; n is even.
    """
    name, n, key = name_of(purpose, who), np.uint64(night), np.uint64(seed)
    for j in range(u.shape[0] >> 1):
        u[2 * j], u[2 * j + 1] = inline_pair(np.uint64((first >> 1) + j), name, n, key)


@compiled_as("f8(i8, i8, i8, i8, i8)")
def uniform(seed: int, night: int, purpose: int, who: int, k: int) -> float:
    """The k-th double in (0, 1) for this purpose; blocks hold two each."""
    first, second = uniform_pair(seed, night, purpose, who, k >> 1)
    return second if k & 1 else first


@compiled
def uniforms_by_night(seed: int, night: Ints, purpose: int, u: Floats) -> None:
    """The first number for each of several whos on each of several nights, as `uniform`.

    Parameters
    ----------
    night : int64[C]
    u : float64[C, N]
        Takes them, who = 0 to N - 1.
    """
    key = np.uint64(seed)
    for c in range(u.shape[0]):
        for who in range(u.shape[1]):
            name = name_of(purpose, who)
            u[c, who], _ = inline_pair(np.uint64(0), name, np.uint64(night[c]), key)
