"""Of two setups over plausible worlds: whether their order holds, and what a pig must be worth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from soundergate.studies.estimates.intervals import finite, wilson
from soundergate.studies.worlds.order import NINE_TENTHS, Quantile, quantile


@dataclass(frozen=True)
class Order:
    """``better`` is ahead of ``other`` on average over worlds, and in a share ``holds`` of them.

    A world in which both are the same counts as half. ``low`` to ``high``: Wilson's interval, over
    worlds.
    """

    better: str
    other: str
    measure: str
    holds: float
    low: float
    high: float
    level: float
    worlds: int

    def to_json(self) -> dict[str, Any]:
        """Its fields."""
        return {name: finite(getattr(self, name)) for name in self.__dataclass_fields__}


def order(a: str, b: str, measure: str, gains: np.ndarray, level: float = 0.95) -> Order:
    """From gains float[W] of a over b, one a world, a positive one better for a."""
    if np.mean(gains) < 0:
        a, b, gains = b, a, -gains
    held = float(np.sum(gains > 0) + 0.5 * np.sum(gains == 0))
    low, high, _ = wilson(round(held), len(gains), level)
    return Order(a, b, measure, held / len(gains), low, high, level, len(gains))


@dataclass(frozen=True)
class BreakEvenOverWorlds:
    """The value of a pig removed from which on the setup that catches more pays, over worlds.

    ``better`` catches more pigs on average over worlds. Where it does not there is no such value,
    and it is infinite; where it catches more and costs no more it is 0. ``low``, ``middle`` and
    ``high`` are the middle world and the ends of nine tenths of them, with intervals.
    Shares of worlds: ``always`` in which it pays at any value, ``never`` at none, ``up_to`` only up
    to some value, since there it catches less and costs less.
    ``damage``: what the files state a pig does, and ``pays`` the share of worlds in which it pays
    at that; None where they state nothing, or not the same.
    """

    better: str
    other: str
    low: Quantile
    middle: Quantile
    high: Quantile
    never: float
    always: float
    up_to: float
    damage: float | None
    pays: float | None
    worlds: int

    @property
    def from_value(self) -> float:
        """Share of worlds in which it pays from some value of a pig on: the others."""
        rest = 1.0 - self.always - self.never - self.up_to
        return rest if rest * self.worlds > 0.5 else 0.0

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for what is not finite."""
        told = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return {
            name: value.to_json() if isinstance(value, Quantile) else finite(value)
            for name, value in told.items()
        }


def break_even(
    pigs: Mapping[str, np.ndarray],
    cost: Mapping[str, np.ndarray],
    damage: float | None = None,
    level: float = 0.95,
) -> BreakEvenOverWorlds:
    """From what two setups catch and cost a campaign in each world, by their names float[W]."""
    a, b = pigs
    better, other = (a, b) if np.mean(pigs[a]) >= np.mean(pigs[b]) else (b, a)
    more, dearer = pigs[better] - pigs[other], cost[better] - cost[other]
    value = np.full(len(more), math.inf)
    np.divide(dearer, more, out=value, where=more > 0)
    value = np.where((more >= 0) & (dearer <= 0), 0.0, value)
    low, middle, high = (quantile(value, share, level) for share in NINE_TENTHS)
    up_to = (more < 0) & (dearer < 0)
    pays = None if damage is None else float(np.mean(damage * more - dearer > 0))
    return BreakEvenOverWorlds(
        better, other, low, middle, high,
        float(np.mean(np.isinf(value) & ~up_to)), float(np.mean(value == 0.0)),
        float(np.mean(up_to)), damage, pays, len(value),
    )  # fmt: skip
