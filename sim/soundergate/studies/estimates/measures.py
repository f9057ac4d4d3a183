"""The measures: what a night is asked, as one number a night.

A yes/no measure is a share of nights; the others are means over nights. A whole-number measure is
a numerator and a divisor, so that its sums stay exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates.intervals import Bounds
from soundergate.studies.estimates.moments import Moments

Column = tuple[np.ndarray, np.ndarray | int]
"""values (n,) and what to divide them by, one number or one a night."""


@dataclass(frozen=True)
class Measure:
    """One question to a night.

    ``column(outcomes)`` gives values and divisor for the nights that count; ``yes_no`` says that
    they are 0 or 1. ``bounds(largest_group)`` limits the mean; nothing that is asked is below
    ``lowest``.
    ``every_night`` is False when some nights have no answer (no release time without a release);
    such measures cannot be paired. ``less_is_better`` says which way to choose by it.
    """

    name: str
    unit: str
    words: str
    column: Callable[[Outcomes], Column]
    yes_no: bool = False
    share_of_group: bool = False
    bounded: bool = True
    every_night: bool = True
    less_is_better: bool = False
    lowest: float = 0.0

    @property
    def a_share(self) -> bool:
        """Whether it lies between ``lowest`` and 1, whatever the group."""
        return self.yes_no or self.share_of_group

    def per_night(self, outcomes: Outcomes) -> np.ndarray:
        """Its value on each night that counts, float[n]."""
        values, divisor = self.column(outcomes)
        return np.asarray(values, dtype=np.float64) / divisor

    def mean(self, outcomes: Outcomes) -> float:
        """Its mean over the nights that count, correctly rounded; nan for none."""
        return Moments.of(*self.column(outcomes)).mean

    def bounds(self, largest_group: int) -> Bounds:
        """Limits of one night's value, given the largest group of any night; inf for none."""
        if not self.bounded:
            return (self.lowest, math.inf)
        return (self.lowest, 1.0 if self.a_share else float(largest_group))


def _count(*names: str) -> Callable[[Outcomes], Column]:
    return lambda outcomes: (sum(outcomes[name] for name in names), 1)  # type: ignore[return-value]


def _bad(name: str, words: str, column: str) -> Measure:
    """A count of animals of which the fewer the better."""
    return Measure(name, "pigs a night", words, _count(column), less_is_better=True)


def _share_of_arrived(outcomes: Outcomes) -> Column:
    came = outcomes["arrived"] > 0
    return outcomes["caught"][came], outcomes["arrived"][came]


def _release_time(outcomes: Outcomes) -> Column:
    return outcomes["release_s"][outcomes["released"]], 1


def _operator(outcomes: Outcomes) -> Column:
    minutes = outcomes["operator_min"]
    return np.where(np.isnan(minutes), 0.0, minutes), 1


MEASURES: dict[str, Measure] = {
    measure.name: measure
    for measure in (
        Measure(
            "fraction_caught",
            "of the group",
            "share of the group caught",
            lambda o: (o["caught"], np.maximum(o["group_size"], 1)),
            share_of_group=True,
        ),
        Measure("caught", "pigs a night", "caught", _count("caught")),
        Measure(
            "escaped",
            "pigs a night",
            "escaped after the release",
            _count("escaped_during", "escaped_after"),
            less_is_better=True,
        ),
        Measure(
            "whole_group",
            "of nights",
            "whole group caught",
            lambda o: (o["whole_group"], 1),
            yes_no=True,
        ),
        Measure("released", "of nights", "gate closed", lambda o: (o["released"], 1), yes_no=True),
        Measure(
            "failed_release",
            "of nights",
            "latch pulled, no gate closed",
            lambda o: (o.failed_release, 1),
            yes_no=True,
            less_is_better=True,
        ),
        Measure(
            "fraction_of_arrived",
            "of those that came",
            "share caught of the animals that came, on nights when any came",
            _share_of_arrived,
            share_of_group=True,
            every_night=False,
        ),
        _bad("left_before", "in and out before the release", "escaped_before"),
        _bad("never_entered", "never inside", "never_entered"),
        _bad("educated", "got away and saw the gate close", "educated"),
        _bad("struck", "struck by the gate", "struck"),
        Measure(
            "release_s",
            "s after the set",
            "time of release, on nights with one",
            _release_time,
            bounded=False,
            every_night=False,
        ),
        Measure(
            "operator_min",
            "min a night",
            "minutes at the link",
            _operator,
            bounded=False,
            less_is_better=True,
        ),
    )
}

REQUIRED = (
    "fraction_caught",
    "caught",
    "escaped",
    "whole_group",
    "released",
    "failed_release",
)
"""The measures that every result carries first, in this order."""


def measure(name: str) -> Measure:
    """Look a measure up. Raises ValueError with the known names."""
    if name not in MEASURES:
        known = ", ".join(MEASURES)
        raise ValueError(f"measure is {name!r}; it must be one of {known}")
    return MEASURES[name]
