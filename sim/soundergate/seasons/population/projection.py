"""The pigs of a property over years: expected, played with whole pigs, and what campaigns hold.

Each pig there at a count leaves a random number of pigs at the next, itself included if it lives:
a branching process (Harris 1963, The Theory of Branching Processes). That number has mean lambda
and variance c lambda, negative binomial, or Poisson at c = 1. c is `VARIANCE_RATIO` unless
stated: a litter of 5.4 (Chinn et al. 2022) of which 44 % live six weeks (Chinn et al. 2021)
gives about 1.4 where each piglet dies by itself, and 2.7 where litters live or die whole; 2 lies
between, an assumption. Years differ only by this; good and bad years for all are not played.

Arrivals are a fixed mean number a year, `immigration` times the pigs there at the start: what the
neighbours send does not shrink with what is left. Timing as in `removal_share`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from soundergate.seasons.population.removal_share import AFTER, Array, Timing, check_timing, within
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.seeds import check_seed

if TYPE_CHECKING:
    import pandas as pd


Ints = NDArray[np.int64]
VARIANCE_RATIO = 2.0
QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
MOST_PIGS, MOST_YEARS, MOST_RUNS = 1e9, 100, 1_000_000


@dataclass(frozen=True)
class Dynamics:
    """What the pigs of a property do by themselves.

    ``pigs`` there at the first count; ``growth_factor`` lambda a year, > 0; ``immigration``
    arrivals a year as a share of ``pigs``; ``variance_ratio`` c >= 1. StudyError for anything else.
    """

    pigs: int
    growth_factor: float
    immigration: float = 0.0
    timing: Timing = AFTER
    variance_ratio: float = VARIANCE_RATIO

    def __post_init__(self) -> None:
        check_timing(self.timing)
        if self.pigs != int(self.pigs):
            raise StudyError("pigs come whole", key="pigs", value=self.pigs)
        within("pigs", self.pigs, 0, MOST_PIGS)
        within("growth_factor", self.growth_factor, 0, 21, above=True)
        within("immigration", self.immigration, 0, 10)
        within("variance_ratio", self.variance_ratio, 1, 1000)

    @property
    def arrivals(self) -> float:
        """Mean number of pigs that arrive in a year."""
        return self.immigration * self.pigs

    def next(self, there: float, removal: Removal) -> float:
        """Pigs expected at the next count after ``there`` at this one."""
        grown = self.growth_factor * there
        if self.timing == AFTER:
            return removal.left(grown) + self.arrivals
        return removal.left(grown + self.arrivals)


@dataclass(frozen=True)
class Removal:
    """What is removed each year: a ``share`` of the pigs there, or a number of ``pigs``; not both.

    ``together``: how many go at once, 1 for pigs one by one, the size of a sounder for whole ones
    (the last one of a property may be smaller). More than are there never go. A number that is no
    multiple of ``together`` varies between the two next to it, with that mean.
    """

    share: float | None = None
    pigs: float | None = None
    together: int = 1

    def __post_init__(self) -> None:
        if (self.share is None) == (self.pigs is None):
            raise StudyError("removal is either a share or a number of pigs a year; give one")
        within("share", self.share or 0.0, 0, 1)
        within("pigs", self.pigs or 0.0, 0, MOST_PIGS)
        within("together", self.together, 1, MOST_PIGS)
        if self.together != int(self.together):
            raise StudyError("pigs come whole", key="together", value=self.together)

    @classmethod
    def of_campaigns(cls, campaigns: float, caught: float, together: int = 1) -> Removal:
        """So many campaigns a year, each with so many pigs caught."""
        within("campaigns", campaigns, 0, 10_000)
        within("caught", caught, 0, 10_000)
        return cls(pigs=campaigns * caught, together=together)

    def left(self, there: float) -> float:
        """Of ``there`` pigs, those left on average (exact for a share)."""
        if self.share is not None:
            return there * (1 - self.share)
        return max(there - (self.pigs or 0.0), 0.0)

    def play(self, rng: np.random.Generator, there: Ints) -> Ints:
        """Pigs removed of ``there``, int64 of any shape."""
        if self.share is not None:
            whole, rest = np.divmod(there, self.together)
            last = rest * (rng.random(there.shape) < self.share)
            return np.asarray(self.together * rng.binomial(whole, self.share) + last, np.int64)
        lots = (self.pigs or 0.0) / self.together
        removed = math.floor(lots) + (rng.random(there.shape) < lots - math.floor(lots))
        return np.asarray(np.minimum(self.together * removed, there), np.int64)


NONE = Removal(share=0.0)
"""No removal."""


def expected(dynamics: Dynamics, removal: Removal = NONE, years: int = 10) -> Array:
    """Pigs expected at each count, float[years + 1], the first of them ``dynamics.pigs``.

    The exact mean of what `project` plays where a share is removed. A number of pigs a year is
    subtracted from the mean, which is at most the mean of what chance leaves (Jensen), less near
    none.
    StudyError where growth without limit runs away.
    """
    _whole("years", years, 1, MOST_YEARS)
    there = [float(dynamics.pigs)]
    for year in range(1, years + 1):
        there.append(dynamics.next(there[-1], removal))
        if there[-1] > MOST_PIGS:
            raise StudyError(
                f"growth without limit gives more than {MOST_PIGS:.0e} pigs by year {year}",
                key="years",
                value=years,
                hint=f"ask for {max(year - 1, 1)} years at most, less growth or narrower ranges",
            )
    return np.array(there)


def years_below_the_most(dynamics: Dynamics, longest: int) -> int:
    """Years, 1 to ``longest``, in which numbers grow to no more than can be played."""
    there = float(dynamics.pigs)
    for year in range(longest):
        there = dynamics.next(there, NONE)
        if there > MOST_PIGS:
            return max(year, 1)
    return longest


def years_until(dynamics: Dynamics, removal: Removal, share: float, longest: int = 50) -> float:
    """Years until at most ``share`` of the first pigs are expected; inf beyond ``longest``."""
    within("share", share, 0, 1)
    there, aim = float(dynamics.pigs), share * dynamics.pigs
    for year in range(_whole("longest", longest, 1, 1000) + 1):
        if there <= aim * (1 + 1e-12):
            return float(year)
        there = min(dynamics.next(there, removal), MOST_PIGS)
    return math.inf


@dataclass(frozen=True)
class Ranges:
    """What growth (lambda - 1) and immigration a year may be: (low, high), evenly likely."""

    growth: tuple[float, float]
    immigration: tuple[float, float]

    def __post_init__(self) -> None:
        for name, least in (("growth", -1), ("immigration", 0)):
            low, high = getattr(self, name)
            within(name, low, least, 20, above=name == "growth")
            within(name, high, low, 20)


@dataclass(frozen=True)
class Projection:
    """Runs of the same pigs over years, with whole pigs.

    ``counts`` int64[runs, years + 1] at each count; ``cleared`` bool[runs, years]: none left when
    that year's removal was over, whether or not others arrived before the count. ``ranges`` says
    that growth and immigration were drawn anew for each run.
    """

    dynamics: Dynamics
    removal: Removal
    seed: int
    counts: Ints = field(repr=False)
    cleared: NDArray[np.bool_] = field(repr=False)
    ranges: Ranges | None = None
    level: float = 0.95

    @property
    def runs(self) -> int:
        """How many runs."""
        return len(self.counts)

    @property
    def years(self) -> int:
        """How many years."""
        return self.cleared.shape[1]

    @cached_property
    def expected(self) -> Array:
        """`expected` of the same, at the growth and immigration of ``dynamics``."""
        return expected(self.dynamics, self.removal, self.years)

    @cached_property
    def quantiles(self) -> Array:
        """Pigs at each count, float[len(QUANTILES), years + 1]."""
        return np.asarray(np.quantile(self.counts, QUANTILES, axis=0), float)

    def elimination(self, year: int | None = None, level: float | None = None) -> Interval:
        """Wilson interval of the chance that a removal up to ``year`` (the last) left none."""
        last = self._year(year)
        gone = int(np.sum(np.any(self.cleared[:, :last], axis=1)))
        return intervals.wilson(gone, self.runs, level or self.level)

    interval = elimination

    def share_eliminated(self, year: int | None = None) -> float:
        """Share of runs in which a removal up to ``year`` (the last) left none."""
        return float(np.mean(np.any(self.cleared[:, : self._year(year)], axis=1)))

    @property
    def table(self) -> pd.DataFrame:
        """One row a count, the first at year 0."""
        import pandas as pd

        return pd.DataFrame([self._row(year) for year in range(self.years + 1)])

    def plot(self, ax: Any = None) -> Any:
        """Draw median and bands over the years; returns the axes."""
        from soundergate.report.figures.population import projections

        return projections({"": self}, ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON."""
        rows = [self._row(year) for year in range(self.years + 1)]
        return {
            "dynamics": vars(self.dynamics),
            "removal": vars(self.removal),
            "ranges": None if self.ranges is None else vars(self.ranges),
            "runs": self.runs,
            "seed": self.seed,
            "level": self.level,
            "years": rows,
        }

    def _row(self, year: int) -> dict[str, float]:
        pigs = self.counts[:, year]
        named = zip(QUANTILES, self.quantiles[:, year], strict=True)
        gone = self.elimination(year)
        at_own = {} if self.ranges else {"expected": float(self.expected[year])}
        return {
            "year": year,
            **at_own,
            "mean": float(np.mean(pigs)),
            **{f"q{100 * q:02.0f}": float(value) for q, value in named},
            "eliminated": self.share_eliminated(year),
            "eliminated_low": gone.low,
            "eliminated_high": gone.high,
            "none_at_count": float(np.mean(pigs == 0)),
        }

    def _year(self, year: int | None) -> int:
        return self.years if year is None else _whole("year", year, 0, self.years)


def project(
    dynamics: Dynamics,
    removal: Removal = NONE,
    years: int = 10,
    *,
    runs: int = 2000,
    seed: int | None = 0,
    ranges: Ranges | None = None,
    level: float = 0.95,
) -> Projection:
    """Play ``runs`` times ``years`` with whole pigs.

    With ``ranges`` each run has a growth and an immigration of its own, drawn evenly and apart from
    each other. Raises StudyError for bad numbers, or where growth without limit runs away.
    """
    chosen = check_seed(seed)
    rng = np.random.default_rng(chosen)
    _whole("runs", runs, 1, MOST_RUNS)
    fastest = (
        dynamics if ranges is None else at_rates(dynamics, ranges.growth[1], ranges.immigration[1])
    )
    expected(fastest, removal, years)  # refuses what runs away
    factor, arrivals = np.full(runs, dynamics.growth_factor), np.full(runs, dynamics.arrivals)
    if ranges is not None:
        factor = 1 + rng.uniform(*ranges.growth, runs)
        arrivals = dynamics.pigs * rng.uniform(*ranges.immigration, runs)
    counts = np.empty((runs, years + 1), np.int64)
    counts[:, 0] = dynamics.pigs
    cleared = np.zeros((runs, years), bool)
    for year in range(years):
        there = _descendants(rng, counts[:, year], factor, dynamics.variance_ratio)
        arrived = rng.poisson(arrivals)
        late = dynamics.timing == AFTER
        there = there if late else there + arrived
        there = there - removal.play(rng, there)
        cleared[:, year] = there == 0
        counts[:, year + 1] = there + arrived if late else there
    return Projection(dynamics, removal, chosen, counts, cleared, ranges, level)


def _whole(key: str, value: int, low: int, high: int) -> int:
    if isinstance(value, bool) or value != int(value):
        raise StudyError("wanted a whole number", key=key, value=value)
    return int(within(key, value, low, high))


def at_rates(dynamics: Dynamics, growth: float, immigration: float) -> Dynamics:
    """The same pigs with other rates."""
    return replace(dynamics, growth_factor=1 + growth, immigration=immigration)


def _descendants(rng: np.random.Generator, parents: Ints, factor: Array, ratio: float) -> Ints:
    """Pigs a year later: the sum of that many equal negative binomials is one of them."""
    mean = factor * parents
    if ratio > 1:
        mean = rng.gamma(mean / (ratio - 1), ratio - 1)  # a Poisson mean that is gamma itself
    return np.asarray(rng.poisson(mean), np.int64)
