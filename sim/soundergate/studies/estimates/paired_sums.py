"""The differences of many pairs of setups at once: exact sums that grow by one array sum a measure.

A hundred setups make 4,950 pairs. One `PairTally` a pair, each with fractions of its own, would
take longer to make and to add than the nights to play. Here the pairs of a measure stand side by
side: whole numbers over one divisor common to all, added as arrays. A `PairTally` is made of a
pair only when somebody asks for it, and equals the one that the nights give by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import overload

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates.measures import Column, Measure
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.paired import PairTally, check_measures

NumberedPair = tuple[int, int]

_EXACT = 2**53
"""Sums of whole numbers below this are exact in doubles, in whatever order they are added."""


@dataclass(frozen=True)
class _Whole:
    """One measure of every pair: sums of whole numbers over a common ``divisor``.

    ``totals``, ``squares`` and ``apart`` (absolute differences) object[P], Python's whole numbers,
    which never overflow; ``low`` and ``high`` float[P], already divided; ``agreement`` int64[P, 3]
    of a yes/no measure (nights on which both, only the first, only the second), else None.
    """

    divisor: int
    totals: np.ndarray
    squares: np.ndarray
    apart: np.ndarray
    low: np.ndarray
    high: np.ndarray
    agreement: np.ndarray | None

    def __add__(self, other: _Whole) -> _Whole:
        divisor = math.lcm(self.divisor, other.divisor)
        mine, its = divisor // self.divisor, divisor // other.divisor
        agreement = None
        if self.agreement is not None and other.agreement is not None:
            agreement = self.agreement + other.agreement
        return _Whole(
            divisor,
            self.totals * mine + other.totals * its,
            self.squares * mine**2 + other.squares * its**2,
            self.apart * mine + other.apart * its,
            np.minimum(self.low, other.low),
            np.maximum(self.high, other.high),
            agreement,
        )

    def moments(self, nights: int, pair: int) -> Moments:
        return Moments(
            nights,
            Fraction(self.totals[pair], self.divisor),
            Fraction(self.squares[pair], self.divisor**2),
            float(self.low[pair]),
            float(self.high[pair]),
        )


@dataclass(frozen=True, eq=False)
class PairSums(Sequence[PairTally]):
    """A `PairTally` for each of some pairs, as a sequence that makes them when asked.

    ``whole`` by measure what is a whole number over a divisor; ``other`` a tally a pair of each
    measure that is not.
    """

    pairs: tuple[NumberedPair, ...]
    measures: tuple[str, ...]
    nights: int
    whole: dict[str, _Whole]
    other: dict[str, tuple[PairTally, ...]]

    @classmethod
    def of(
        cls,
        played: Sequence[Outcomes],
        pairs: Sequence[NumberedPair],
        measures: Sequence[str],
    ) -> PairSums:
        """The sums of some nights of all setups.

        Raises ValueError if they are not the same nights.
        """
        asked = check_measures(measures)
        first = played[0]["night"]
        for number in {arm for pair in pairs for arm in pair}:
            if not np.array_equal(first, played[number]["night"]):
                raise ValueError("the two setups were not played on the same nights")
        whole: dict[str, _Whole] = {}
        other: dict[str, tuple[PairTally, ...]] = {}
        for one in asked:
            columns = [one.column(outcomes) for outcomes in played]
            scaled = _over_one_divisor(columns)
            if scaled is None:
                other[one.name] = tuple(
                    PairTally.of(played[a], played[b], [one.name]) for a, b in pairs
                )
            else:
                whole[one.name] = _sums(one, *scaled, pairs)
        return cls(tuple(pairs), tuple(one.name for one in asked), len(first), whole, other)

    def plus(self, later: Sequence[PairTally]) -> Sequence[PairTally]:
        """Both sets of nights together."""
        if not isinstance(later, PairSums) or later.whole.keys() != self.whole.keys():
            return tuple(a + b for a, b in zip(self, later, strict=True))
        if later.pairs != self.pairs:
            raise ValueError("the sums are of other pairs")
        return PairSums(
            self.pairs,
            self.measures,
            self.nights + later.nights,
            {name: self.whole[name] + later.whole[name] for name in self.whole},
            {
                name: tuple(a + b for a, b in zip(mine, later.other[name], strict=True))
                for name, mine in self.other.items()
            },
        )

    def __len__(self) -> int:
        return len(self.pairs)

    @overload
    def __getitem__(self, place: int) -> PairTally: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[PairTally, ...]: ...
    def __getitem__(self, place: int | slice) -> PairTally | tuple[PairTally, ...]:
        if isinstance(place, slice):
            return tuple(self[n] for n in range(*place.indices(len(self))))
        number = range(len(self))[place]
        moments: dict[str, Moments] = {}
        agreement: dict[str, tuple[int, int, int]] = {}
        apart: dict[str, Fraction] = {}
        for name in self.measures:
            if name in self.other:
                tally = self.other[name][number]
                moments[name], apart[name] = tally.moments[name], tally.apart[name]
                agreement |= tally.agreement
                continue
            sums = self.whole[name]
            apart[name] = Fraction(sums.apart[number], sums.divisor)
            moments[name] = sums.moments(self.nights, number)
            if sums.agreement is not None:
                both, only_a, only_b = (int(count) for count in sums.agreement[number])
                agreement[name] = (both, only_a, only_b)
        return PairTally(self.nights, moments, agreement, apart)

    def __iter__(self) -> Iterator[PairTally]:
        return (self[number] for number in range(len(self)))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence) or len(other) != len(self):
            return NotImplemented if not isinstance(other, Sequence) else False
        return all(a == b for a, b in zip(self, other, strict=True))

    def __hash__(self) -> int:
        return hash((self.pairs, self.nights))


def added(first: Sequence[PairTally], later: Sequence[PairTally]) -> Sequence[PairTally]:
    """The sums of earlier and of later nights together, pair by pair."""
    if isinstance(first, PairSums):
        return first.plus(later)
    if not any(tally.nights for tally in first):
        return later
    return tuple(a + b for a, b in zip(first, later, strict=True))


def _over_one_divisor(columns: Sequence[Column]) -> tuple[np.ndarray, int] | None:
    """float64[K, n] of whole numbers and what to divide them by; None where that is not exact."""
    if any(values.dtype.kind not in "biu" for values, _ in columns):
        return None
    divisors = {int(one) for _, over in columns for one in np.unique(over)}
    divisor = math.lcm(*divisors) if divisors else 1
    nights = len(columns[0][0])
    scaled = np.empty((len(columns), nights))
    for row, (values, over) in zip(scaled, columns, strict=True):
        row[:] = values * (divisor // np.asarray(over))
    largest = 2 * float(np.abs(scaled).max(initial=0.0))
    return (scaled, divisor) if largest * largest * max(nights, 1) < _EXACT else None


def _sums(
    asked: Measure, scaled: np.ndarray, divisor: int, pairs: Sequence[NumberedPair]
) -> _Whole:
    """Every pair with the same first setup in one go."""
    count = len(pairs)
    numbers = np.array(pairs, dtype=np.intp).reshape(count, 2)
    totals, squares, apart, low, high = (np.empty(count) for _ in range(5))
    both = np.empty(count) if asked.yes_no else None
    for a in np.unique(numbers[:, 0]):
        (rows,) = np.nonzero(numbers[:, 0] == a)
        others = scaled[numbers[rows, 1]]
        gaps = scaled[a] - others
        totals[rows] = gaps.sum(axis=1)
        squares[rows] = np.einsum("ij,ij->i", gaps, gaps)
        apart[rows] = np.abs(gaps).sum(axis=1)
        low[rows], high[rows] = gaps.min(axis=1, initial=np.inf), gaps.max(axis=1, initial=-np.inf)
        if both is not None:
            both[rows] = others @ scaled[a]
    agreement = None
    if both is not None:
        yes = scaled.sum(axis=1)
        cells = (both, yes[numbers[:, 0]] - both, yes[numbers[:, 1]] - both)
        agreement = np.column_stack(cells).astype(np.int64)
    return _Whole(
        divisor,
        _whole_numbers(totals),
        _whole_numbers(squares),
        _whole_numbers(apart),
        low / divisor,
        high / divisor,
        agreement,
    )


def _whole_numbers(values: np.ndarray) -> np.ndarray:
    return values.astype(np.int64).astype(object)
