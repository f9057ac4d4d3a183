"""What campaigns over plausible worlds say of setups: catch, cost of a pig, break-even, order."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from soundergate.scenario.schema import Scenario
from soundergate.seasons.worlds.order import BreakEvenOverWorlds, Order, break_even, order
from soundergate.studies.cells import csv_text
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.boxes import Box, find_box
from soundergate.studies.worlds.further import Further
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.order import NINE_TENTHS, Quantile, quantile
from soundergate.studies.worlds.robust_result import drawn
from soundergate.studies.worlds.verdicts import DEPENDS, Verdict, rare, verdict

NOISY = ("fraction_caught", "caught", "cost_per_campaign")
"""Figures of which it is kept how much the few campaigns of a world leave open."""

CATCH, COST = "fraction_caught", "cost_per_pig"
"""What setups are set against each other in; COST where both have prices."""


class WorldMeans(NamedTuple):
    """Means over the campaigns of a world (or of W worlds, along a first axis), by figure float[K].

    ``noise`` float[3 K, 3 K]: the covariance that so few campaigns leave in the means of `NOISY`,
    figure by figure.
    """

    means: dict[str, np.ndarray]
    noise: np.ndarray

    def joined(self, other: WorldMeans, share: float) -> WorldMeans:
        """With other campaigns of the same world, which are a ``share`` of all."""
        means = {n: share * other.means[n] + (1 - share) * old for n, old in self.means.items()}
        return WorldMeans(means, share**2 * other.noise + (1 - share) ** 2 * self.noise)

    @classmethod
    def together(cls, worlds: Sequence[WorldMeans]) -> WorldMeans:
        """Of W worlds."""
        names = worlds[0].means if worlds else {}
        means = {name: np.array([world.means[name] for world in worlds]) for name in names}
        return cls(means, np.array([world.noise for world in worlds]))


@dataclass(frozen=True)
class SeasonWorlds:
    """Setups whose campaigns were played in W plausible worlds.

    ``worlds`` int[W] are the numbers of those played, from 1; ``places`` float[W, U] where in its
    range each unknown lies there; ``failed`` says why a setup cannot be built in the others.
    ``campaigns`` of each setup in each world at first, and ``played_in`` int[W] in all: more in
    those `longer`; ``further`` says how much that took.
    """

    arms: tuple[str, ...]
    scenarios: tuple[Scenario, ...] = field(repr=False)
    pairs: tuple[tuple[int, int], ...]
    unknowns: tuple[Input, ...] = field(repr=False)
    worlds: np.ndarray = field(repr=False)
    places: np.ndarray = field(repr=False)
    means: WorldMeans = field(repr=False)
    campaigns: int
    seed: int
    level: float
    negligible: float
    asked: int
    failed: dict[int, str]
    played_in: np.ndarray = field(repr=False)
    further: Further

    @property
    def longer(self) -> list[int]:
        """Numbers of the worlds that were played longer than `campaigns`."""
        return self.worlds[self.played_in > self.campaigns].tolist()

    @property
    def interrupted(self) -> bool:
        """Whether it was stopped by hand before all worlds were tried."""
        return len(self.worlds) + len(self.failed) < self.asked

    @property
    def compared(self) -> list[tuple[str, str]]:
        """The setups that are set against each other."""
        return [(self.arms[i], self.arms[j]) for i, j in self.pairs]

    @property
    def currency(self) -> str:
        """Of all prices; "" where none is named."""
        named = (one.costs.currency for one in self.scenarios if one.costs is not None)
        return next((currency for currency in named if currency), "")

    @property
    def figures(self) -> list[str]:
        """What there is of every setup, those of money last; nan where nothing is known of it."""
        return [*self.means.means, COST]

    def figure(self, arm: str, name: str) -> np.ndarray:
        """float[W]: a figure of a setup in each world, the mean over its campaigns.

        Of "cost_per_pig" the ratio of means, infinite where none was caught. Raises StudyError.
        """
        column = self._number(arm)
        if name == COST:
            return over(self.figure(arm, "cost_per_campaign"), self.figure(arm, "caught"))
        if name not in self.means.means:
            hint = f"wanted one of {', '.join(self.figures)}"
            raise StudyError("no such figure of a campaign", key=name, hint=hint)
        return np.asarray(self.means.means[name][:, column])

    def known(self, arm: str, name: str) -> bool:
        """Whether a figure is there: one of money is not where no price is stated."""
        return not bool(np.isnan(self.figure(arm, name)).any())

    def quantiles(self, arm: str, name: str) -> tuple[Quantile, ...]:
        """Low end, middle and high end of nine tenths of the worlds, each with its interval."""
        values = self.figure(arm, name)
        return tuple(quantile(values, share, self.level) for share in NINE_TENTHS)

    def measures_of(self, a: str, b: str) -> list[str]:
        """What two setups are set against each other in."""
        priced = self.known(a, COST) and self.known(b, COST)
        return [CATCH, COST] if priced else [CATCH]

    def gains(self, a: str, b: str, measure: str = CATCH) -> tuple[np.ndarray, np.ndarray]:
        """How much better a is than b in each world, float[W], and the variance that its few
        campaigns leave in that.

        Of the catch the difference of the shares; of the cost of a pig what the cheaper one saves,
        as a share of what a pig costs in the dearer one.
        """
        if measure == CATCH:
            gain = self.figure(a, CATCH) - self.figure(b, CATCH)
            return gain, np.maximum(self._noise(a, b, {CATCH: np.ones(2)}), rare(self.played_in))
        ours, theirs = self.figure(a, COST), self.figure(b, COST)
        less, most = np.minimum(ours, theirs), np.maximum(ours, theirs)
        both = np.isfinite(most)
        kept = np.divide(
            less, most, out=np.where(np.isfinite(less), 0.0, 1.0), where=both & (most > 0)
        )
        kept[both & (most == 0)] = 1.0
        gain = np.where(ours <= theirs, 1.0, -1.0) * (1.0 - kept)
        # of the logarithm of a ratio of means, to first order
        weights = {
            "cost_per_campaign": self._inverse(a, b, "cost_per_campaign"),
            "caught": -self._inverse(a, b, "caught"),
        }
        noise = kept**2 * np.where(both, self._noise(a, b, weights), 0.0)
        return gain, np.maximum(noise, rare(self.played_in))

    def _inverse(self, a: str, b: str, name: str) -> np.ndarray:
        """float[W, 2]: 1 over a figure of two setups; 0 where that is 0."""
        values = np.column_stack([self.figure(one, name) for one in (a, b)])
        return np.divide(1.0, values, out=np.zeros_like(values), where=values != 0)

    def _noise(self, a: str, b: str, weights: dict[str, np.ndarray]) -> np.ndarray:
        """float[W]: variance of a less b of a weighted sum of figures."""
        setups = len(self.arms)
        whole = np.zeros((len(self.worlds), len(NOISY) * setups))
        for name, weight in weights.items():
            first = NOISY.index(name) * setups
            for sign, arm, column in ((1.0, a, 0), (-1.0, b, 1)):
                whole[:, first + self._number(arm)] = sign * weight[..., column]
        used = np.nan_to_num(self.means.noise)  # of money that is not known nothing is used
        return np.maximum(np.einsum("wi,wij,wj->w", whole, used, whole), 0.0)

    def verdict(self, a: str, b: str, measure: str = CATCH) -> Verdict:
        """No matter, ahead or depends; of costs the cheaper one is ahead."""
        gain, noise = self.gains(a, b, measure)
        pairs = max(len(self.pairs), 1)
        return verdict(a, b, measure, gain, noise, self.negligible, self.level, pairs)

    @cached_property
    def verdicts(self) -> list[Verdict]:
        """Every pair in everything that it is set against each other in."""
        return [self.verdict(a, b, m) for a, b in self.compared for m in self.measures_of(a, b)]

    def order(self, a: str, b: str, measure: str = CATCH) -> Order:
        """Which of two is better on average, and in how many worlds that holds."""
        return order(a, b, measure, self.gains(a, b, measure)[0], self.level)

    @cached_property
    def rules(self) -> dict[tuple[str, str, str], Box | None]:
        """On what it depends which is ahead, of each pair and measure of which it does."""
        return {
            (v.a, v.b, v.measure): find_box(
                self.unknowns, self.places, self.gains(v.a, v.b, v.measure)[0] > 0, self.level
            )
            for v in self.verdicts
            if v.verdict == DEPENDS
        }

    @cached_property
    def break_even(self) -> list[BreakEvenOverWorlds]:
        """Of each pair with prices: what a pig must be worth for the one that catches more."""
        return [
            break_even(
                {one: self.figure(one, "caught") for one in pair},
                {one: self.figure(one, "cost_per_campaign") for one in pair},
                self._damage(*pair),
                self.level,
            )
            for pair in self.compared
            if COST in self.measures_of(*pair)
        ]

    def _damage(self, *pair: str) -> float | None:
        """The damage a pig that the files of two setups state, where they state the same."""
        costs = [self.scenarios[self._number(one)].costs for one in pair]
        stated = {one.damage_per_pig for one in costs if one is not None}
        return stated.pop() if len(stated) == 1 else None

    def _number(self, arm: str) -> int:
        if arm not in self.arms:
            raise StudyError(f"no setup is named {arm!r}; they are {', '.join(self.arms)}")
        return self.arms.index(arm)

    def to_json(self) -> dict[str, Any]:
        """The recipe of the worlds, every figure, verdicts, order, break-even."""
        names = ("low", "middle", "high")
        return {
            "worlds": len(self.worlds),
            "asked": self.asked,
            "campaigns_each": self.campaigns,
            "played_longer": self.longer,
            "further_campaigns": self.further.to_json(),
            "seed": self.seed,
            "level": self.level,
            "negligible": self.negligible,
            "unknowns": [one.id for one in self.unknowns],
            "setups": [
                {"name": arm}
                | {
                    name: dict(
                        zip(names, (q.to_json() for q in self.quantiles(arm, name)), strict=True)
                    )
                    for name in self.figures
                    if self.known(arm, name)
                }
                for arm in self.arms
            ],
            "verdicts": [self._told(v) for v in self.verdicts],
            "break_even": [one.to_json() for one in self.break_even],
            "failed": {str(world): why for world, why in self.failed.items()},
        }

    def _told(self, v: Verdict) -> dict[str, Any]:
        box = self.rules.get((v.a, v.b, v.measure))
        held = self.order(v.a, v.b, v.measure).to_json()
        depends = None if box is None else box.to_json()
        return v.to_json() | {"order": held, "depends_on": depends}

    def to_worlds_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a world as CSV text: every figure of every setup, then every unknown, under the
        names of `RobustComparison.to_worlds_csv`; written to ``path`` if given."""
        rows = [
            {"world": int(world)} | self._figures_of(row) | drawn(self.unknowns, self.places[row])
            for row, world in enumerate(self.worlds)
        ]
        return csv_text([*rows[0]], [row.values() for row in rows], path)

    def _figures_of(self, row: int) -> dict[str, Any]:
        lead = {arm: f"{arm}: " if len(self.arms) > 1 else "" for arm in self.arms}
        return {
            f"{lead[arm]}{name}": float(self.figure(arm, name)[row])
            for arm in self.arms
            for name in self.figures
            if self.known(arm, name)
        }


def over(cost: np.ndarray, got: np.ndarray) -> np.ndarray:
    """Cost over catch; infinite where nothing was caught."""
    none = np.where(np.isnan(cost), math.nan, math.inf)
    return np.divide(cost, got, out=none, where=got > 0)
