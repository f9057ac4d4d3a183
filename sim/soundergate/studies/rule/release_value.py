"""What a night is worth to one who releases, and what rules are worth on common nights."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.studies.estimates.intervals import Interval, bonferroni, finite, mean_t
from soundergate.studies.estimates.measures import Measure

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes

TAUGHT_COSTS = 1.0
"""Pigs lost by one that got away and saw the gate close, unless stated: it has to be won anew."""

SCORE = "score"
"""Name of what rules are judged by, as a measure."""


@dataclass(frozen=True)
class Objective:
    """What a rule is sought for.

    ``wanted`` is "fraction_caught" or "whole_group". A pig that is free and has met the closing
    gate takes away what ``taught_costs`` pigs are worth: that part of its group, so that a group
    of which all got away and have learned costs ``taught_costs`` groups.
    """

    wanted: str
    taught_costs: float = TAUGHT_COSTS

    def of(self, outcomes: Outcomes) -> np.ndarray:
        """float[nights] in [-taught_costs, 1]: the share caught, or 1 for the whole group; less
        what the taught cost."""
        taught = self.taught_costs * outcomes["educated"] / outcomes["group_size"]
        if self.wanted == "fraction_caught":
            return np.asarray(outcomes["caught"] / outcomes["group_size"] - taught, float)
        return np.asarray(outcomes["whole_group"] - taught, float)

    @property
    def measure(self) -> Measure:
        """The same as a measure of setups, to be looked at over plausible worlds."""
        return Measure(
            SCORE, "of the group", "score", lambda outcomes: (self.of(outcomes), 1),
            share_of_group=True, lowest=-self.taught_costs,
        )  # fmt: skip

    def mean(self, values: np.ndarray, level: float) -> Value:
        """The mean of what nights are worth, with its interval."""
        bounds = (-self.taught_costs, 1.0)
        return Value(float(values.mean()), mean_t(values, level, bounds))


@dataclass(frozen=True)
class Value:
    """A mean over nights and its interval; nan to nan where it has none."""

    estimate: float
    interval: Interval

    @property
    def settled(self) -> bool:
        """Whether the interval holds no 0."""
        return self.interval.low > 0 or self.interval.high < 0

    def to_json(self) -> dict[str, Any]:
        """{"estimate", "low", "high", "level"}, with None for nan."""
        low, high, level = self.interval
        numbers = {"estimate": self.estimate, "low": low, "high": high}
        return {name: finite(value) for name, value in numbers.items()} | {"level": level}


@dataclass(frozen=True)
class Values:
    """What each rule is worth on nights common to all, and by how much the first is ahead.

    The intervals of ``ahead``, by the name of the other, hold together at their level.
    """

    each: dict[str, Value]
    ahead: dict[str, Value]

    def to_json(self) -> dict[str, Any]:
        """Each rule's, and the differences, the first less the other."""
        first = next(iter(self.each))
        return {
            "each": {name: value.to_json() for name, value in self.each.items()},
            "differences": [
                {"a": first, "b": name, **value.to_json()} for name, value in self.ahead.items()
            ],
        }


def values_of(nights: Mapping[str, Outcomes], objective: Objective, level: float) -> Values:
    """What rules are worth by the outcomes of the same nights; the first against each other one."""
    worth = {name: objective.of(outcomes) for name, outcomes in nights.items()}
    first, *others = worth
    each = {name: objective.mean(values, level) for name, values in worth.items()}
    together = bonferroni(level, len(others)) if others else level
    span = 1.0 + objective.taught_costs
    ahead = {}
    for name in others:
        gap = worth[first] - worth[name]
        low, high, _ = mean_t(gap, together, (-span, span))
        ahead[name] = Value(float(gap.mean()), Interval(low, high, level))
    return Values(each, ahead)
