"""Two setups on the same nights: exact sums of the difference of each measure, night by night."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import Interval, finite
from soundergate.studies.estimates.measures import MEASURES, Column, Measure, measure
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.tally import Tally

COMPARED = ("fraction_caught", "caught", "escaped", "whole_group")
"""The measures that are compared unless others are asked for."""


FEW_APART = 50
"""Nights in effect on which two setups must differ for the t interval of a mean difference to be
trusted. Six intervals that are to hold together at 0.95 then do so at 0.91 or more, however skewed
the differences; below, as seldom as never (tests/studies/test_few_nights.py measures both)."""


@dataclass(frozen=True)
class Difference:
    """Measure of arm ``a`` less measure of arm ``b``, on common nights.

    ``level`` is that of all differences of this measure together, ``each_level`` that of this one
    alone. ``gain`` = (Var a + Var b) / Var(a - b): how many times more unpaired nights would have
    been needed for the same width; inf if the arms never differ in spread, nan if neither varies.
    ``apart``: nights in effect on which the two differ, (sum |d|)^2 / sum d^2 (Kish 1965, Survey
    Sampling, of weights; from memory), which counts a few nights of huge differences as few; nan if
    that is not known.
    """

    a: str
    b: str
    measure: str
    estimate: float
    low: float
    high: float
    level: float
    each_level: float
    gain: float
    nights: int
    unit: str
    apart: float = math.nan

    @property
    def few(self) -> bool:
        """Whether a mean difference rests on too few nights on which the setups differ at all.

        Two that never differ do not: their interval is exact. Nor do shares of nights, whose
        interval is made for few.
        """
        return 0 < self.apart < FEW_APART and not measure(self.measure).yes_no

    @property
    def half_width(self) -> float:
        """Half the width of the interval."""
        return (self.high - self.low) / 2

    @property
    def settled(self) -> bool:
        """Whether the interval leaves out zero, and enough nights stand behind it."""
        return (self.low > 0 or self.high < 0) and not self.few

    def to_json(self) -> dict[str, object]:
        """a, b, measure, estimate, low, high, level, then the rest; None for nan and infinity."""
        names = ("a", "b", "measure", "estimate", "low", "high", "level")
        more = ("each_level", "gain", "nights", "apart", "few")
        values = {name: getattr(self, name) for name in (*names, *more)}
        return {name: finite(value) for name, value in values.items()}


@dataclass(frozen=True)
class PairTally:
    """Sums over common nights of first minus second.

    ``moments`` by measure; ``both`` and the two ``only`` counts of nights by yes/no measure;
    ``apart`` the sum of absolute differences, exact, by measure.
    """

    nights: int = 0
    moments: dict[str, Moments] = field(default_factory=dict)
    agreement: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    apart: dict[str, Fraction] = field(default_factory=dict)

    @classmethod
    def of(cls, first: Outcomes, second: Outcomes, names: Iterable[str] = COMPARED) -> PairTally:
        """The tally of some nights; raises ValueError if they are not the same nights."""
        if not np.array_equal(first["night"], second["night"]):
            raise ValueError("the two setups were not played on the same nights")
        moments, agreement, apart = {}, {}, {}
        for asked in check_measures(names):
            columns = asked.column(first), asked.column(second)
            values, divisor = _difference(*columns)
            moments[asked.name] = Moments.of(values, divisor)
            apart[asked.name] = Moments.of(np.abs(values), divisor).total
            if asked.yes_no:
                agreement[asked.name] = _agreement(*columns)
        return cls(len(first), moments, agreement, apart)

    def __add__(self, other: PairTally) -> PairTally:
        """Both sets of nights together, as a new tally."""
        if not self.nights or not other.nights:
            return self if self.nights else other
        return PairTally(
            self.nights + other.nights,
            {name: self.moments[name] + other.moments[name] for name in self.moments},
            {
                name: tuple(map(sum, zip(cells, other.agreement[name], strict=True)))  # type: ignore[misc]
                for name, cells in self.agreement.items()
            },
            {name: self.apart[name] + other.apart[name] for name in self.apart},
        )

    def interval(self, name: str, level: float, groups: tuple[int, int]) -> Interval:
        """Newcombe's paired interval for yes/no, else t on the per-night differences.

        ``groups`` are the sizes of the two sounders, which bound a difference.
        """
        if name in self.agreement:
            both, only_a, only_b = self.agreement[name]
            neither = self.nights - both - only_a - only_b
            return intervals.paired_proportions(both, only_a, only_b, neither, level)
        sums, asked = self.moments[name], measure(name)
        first, second = asked.bounds(groups[0]), asked.bounds(groups[1])
        bounds = (first[0] - second[1], first[1] - second[0])
        return intervals.mean_t_from(sums.n, sums.mean, sums.variance, level, bounds)

    def difference(
        self, name: str, names: tuple[str, str], tallies: tuple[Tally, Tally], level: float, of: int
    ) -> Difference:
        """The difference of a measure, one of ``of`` that are to hold together at ``level``."""
        each = intervals.bonferroni(level, of)
        low, high, _ = self.interval(name, each, (tallies[0].group_size, tallies[1].group_size))
        spread = sum(tally.moments[name].variance for tally in tallies)
        sums = self.moments[name]
        return Difference(
            *names,
            name,
            sums.mean,
            low,
            high,
            level,
            each,
            _ratio(spread, sums.variance),
            sums.n,
            measure(name).unit,
            self.nights_apart(name),
        )

    def nights_apart(self, name: str) -> float:
        """Nights in effect on which the two differ (see `Difference`); nan if not known."""
        if name not in self.apart:
            return math.nan
        squares = self.moments[name].squares
        return float(self.apart[name] ** 2 / squares) if squares else 0.0


def check_measures(names: Iterable[str | Measure]) -> list[Measure]:
    """The measures by name, one that is given as it is. Raises StudyError if one is unknown or
    cannot be paired."""
    asked = []
    for name in names:
        if isinstance(name, Measure):
            asked.append(name)
            continue
        if name not in MEASURES or not MEASURES[name].every_night:
            known = ", ".join(m.name for m in MEASURES.values() if m.every_night)
            raise StudyError(f"measure to compare is {name!r}; it must be one of {known}")
        asked.append(MEASURES[name])
    if not asked:
        raise StudyError("no measure to compare")
    return asked


def _difference(first: Column, second: Column) -> Column:
    (x, over_x), (y, over_y) = first, second
    if x.dtype.kind == "b":
        x, y = x.astype(np.int64), y.astype(np.int64)
    if np.array_equal(over_x, over_y):
        return x - y, over_x
    return x * over_y - y * over_x, over_x * over_y


def _agreement(first: Column, second: Column) -> tuple[int, int, int]:
    x, y = first[0].astype(bool), second[0].astype(bool)
    counts = (np.count_nonzero(nights) for nights in (x & y, x & ~y, ~x & y))
    both, only_a, only_b = (int(count) for count in counts)
    return both, only_a, only_b


def _ratio(spread: float, of_difference: float) -> float:
    if of_difference > 0:
        return spread / of_difference
    return math.inf if spread > 0 else math.nan
