"""What is kept of the nights played so far: exact sums of every measure, and nothing else.

A tally takes nights in pieces of any size and order and ends the same, so a result depends on the
nights alone and not on how many workers played them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Self

import numpy as np

from soundergate.engine.codes import FATES
from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import Interval, finite
from soundergate.studies.estimates.measures import MEASURES, measure
from soundergate.studies.estimates.moments import Moments


@dataclass(frozen=True)
class Estimate:
    """One measure of a run with its confidence interval; ``low`` and ``high`` nan if there is none.

    ``nights`` is the number of nights that had an answer.
    """

    name: str
    estimate: float
    low: float
    high: float
    level: float
    unit: str
    nights: int

    @property
    def half_width(self) -> float:
        """Half the width of the interval."""
        return (self.high - self.low) / 2

    def to_json(self) -> dict[str, float | None]:
        """{"estimate", "low", "high", "level"}, with None for nan."""
        values = {"estimate": self.estimate, "low": self.low, "high": self.high}
        return {name: finite(value) for name, value in values.items()} | {"level": self.level}


@dataclass(frozen=True)
class Tally:
    """Sums over nights for every measure; ``==`` if they hold exactly the same.

    ``fates``: share of the group by fate, 0 to 1 a night. ``catches[k]`` is the number of nights
    that caught k animals, ``wholes[k]`` of those on which the k were the whole group.
    """

    nights: int = 0
    smallest_group: int = 0
    largest_group: int = 0
    moments: dict[str, Moments] = field(
        default_factory=lambda: {name: Moments() for name in MEASURES}
    )
    fates: dict[str, Moments] = field(default_factory=lambda: {name: Moments() for name in FATES})
    catches: tuple[int, ...] = ()
    wholes: tuple[int, ...] = ()

    @classmethod
    def of(cls, outcomes: Outcomes) -> Self:
        """The tally of some nights."""
        if len(outcomes) == 0:
            return cls()
        sizes = outcomes["group_size"]
        moments = {name: Moments.of(*asked.column(outcomes)) for name, asked in MEASURES.items()}
        divisor = np.maximum(sizes, 1)
        fates = {name: Moments.of(outcomes[name], divisor) for name in FATES}
        caught, whole = outcomes["caught"], outcomes["whole_group"]
        return cls(
            len(outcomes),
            int(sizes.min()),
            int(sizes.max()),
            moments,
            fates,
            _nights_by_number(caught, int(caught.max())),
            _nights_by_number(caught[whole], int(caught.max())),
        )

    def __add__(self, other: Tally) -> Tally:
        """Both together, as a new tally: neither is changed, so a stop by hand cannot tear one."""
        if not self.nights or not other.nights:
            return self if self.nights else other
        return Tally(
            self.nights + other.nights,
            min(self.smallest_group, other.smallest_group),
            max(self.largest_group, other.largest_group),
            {name: self.moments[name] + other.moments[name] for name in MEASURES},
            {name: self.fates[name] + other.fates[name] for name in FATES},
            _added(self.catches, other.catches),
            _added(self.wholes, other.wholes),
        )

    @property
    def group_size(self) -> int:
        """Animals in the sounder; the largest if it varies from night to night."""
        return self.largest_group

    def interval(self, name: str, level: float = 0.95, method: str = "auto") -> Interval:
        """Confidence interval of a measure at any level.

        method "auto": Wilson for yes/no, `intervals.mean_within` for means; or "wilson",
        "clopper-pearson", "t" (plain t limits, cut off at what the measure can be).
        """
        asked, sums = measure(name), self.moments[name]
        if method == "auto":
            method = "wilson" if asked.yes_no else "within"
        if method in ("within", "t"):
            bounds = asked.bounds(self.largest_group)
            make = intervals.mean_within if method == "within" else intervals.mean_t_from
            return make(sums.n, sums.mean, sums.variance, level, bounds)
        if method not in ("wilson", "clopper-pearson"):
            raise ValueError(
                f"method is {method!r}; it must be one of auto, t, wilson, clopper-pearson"
            )
        if not asked.yes_no:
            raise ValueError(f"{name} is a mean over nights, not a share of nights: use t")
        share = intervals.wilson if method == "wilson" else intervals.clopper_pearson
        return share(int(sums.total), sums.n, level)

    def estimate(self, name: str, level: float = 0.95) -> Estimate:
        """The measure with its default interval."""
        low, high, _ = self.interval(name, level)
        sums = self.moments[name]
        return Estimate(name, sums.mean, low, high, level, measure(name).unit, sums.n)


def _nights_by_number(numbers: np.ndarray, most: int) -> tuple[int, ...]:
    return tuple(np.bincount(numbers, minlength=most + 1).tolist())


def _added(first: tuple[int, ...], second: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(a + b for a, b in zip_longest(first, second, fillvalue=0))
