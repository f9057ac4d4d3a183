"""What a comparison over plausible worlds says: who is ahead, by how much, what to measure."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.studies.cells import csv_text
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.measures import Measure
from soundergate.studies.estimates.measures import measure as measure_of
from soundergate.studies.worlds import information
from soundergate.studies.worlds.boxes import Box, find_box
from soundergate.studies.worlds.further import MOST_NIGHTS, Further
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.movers import Mover, movers
from soundergate.studies.worlds.negligible import NEGLIGIBLE
from soundergate.studies.worlds.order import NINE_TENTHS, Quantile, quantile
from soundergate.studies.worlds.robust_rows import TAILS, ArmOverWorlds, RobustDifference, Worth
from soundergate.studies.worlds.verdicts import DEPENDS, Verdict, rare, verdict

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.outcomes import Outcomes


MOST_SOUGHT = 100
"""Pairs of which each is searched for what it depends on; of more, only those with the best arm."""


@dataclass(frozen=True)
class RobustComparison:
    """Arms played in plausible worlds.

    ``places`` float[W, U] is where in its range each unknown lies in each world, 0 to 1;
    ``means[measure]`` float[W, K] the mean of each arm over the world's nights, ``noise[measure]``
    float[W, K, K] the covariance of those means that so few nights leave. ``failed`` names the
    worlds in which an arm could not be built. ``asked`` is how many worlds were wanted.
    ``nights_kept`` holds the nights by arm and number of the world (from 1), if they were kept.
    ``played_in`` int[W] are the nights of each world: `longer` ones were played on, as they left
    open whether two arms are more than a ``negligible`` difference apart; ``further`` says how much
    that took. ``kinds`` are the measures by name.
    ``circumstances`` says of an arm what of it nobody decides: choices are between arms that meet
    the same. ``others`` float[W, K]: means of the measures that were not compared, to be written
    down.
    """

    arms: list[str]
    unknowns: list[Input]
    places: np.ndarray = field(repr=False)
    means: dict[str, np.ndarray] = field(repr=False)
    noise: dict[str, np.ndarray] = field(repr=False)
    pairs: list[tuple[str, str]]
    nights: int
    seed: int
    level: float
    asked: int
    failed: dict[int, str] = field(default_factory=dict)
    nights_kept: dict[str, dict[int, Outcomes]] | None = field(default=None, repr=False)
    negligible: float = NEGLIGIBLE
    played_in: np.ndarray | None = field(default=None, repr=False)
    further: Further = field(default_factory=lambda: Further(MOST_NIGHTS))
    kinds: dict[str, Measure] = field(default_factory=dict, repr=False)
    circumstances: dict[str, str] = field(default_factory=dict, repr=False)
    others: dict[str, np.ndarray] = field(default_factory=dict, repr=False)

    @property
    def choices(self) -> dict[str, list[str]]:
        """The arms between which one can choose, by the circumstance that they meet."""
        found: dict[str, list[str]] = {}
        for arm in self.arms:
            found.setdefault(self.circumstances.get(arm, ""), []).append(arm)
        return found

    def kind(self, measure: str = "") -> Measure:
        """A measure that was compared (the main one if not given)."""
        name = self._measure(measure)
        return self.kinds.get(name) or measure_of(name)

    @property
    def worlds(self) -> int:
        """Worlds that were played with every arm."""
        return len(self.places)

    @property
    def interrupted(self) -> bool:
        """Whether it was stopped by hand before all worlds were tried."""
        return self.worlds + len(self.failed) < self.asked

    @property
    def measures(self) -> list[str]:
        """What was compared; the first is the main one."""
        return list(self.means)

    @cached_property
    def differences(self) -> list[RobustDifference]:
        """Every pair in every measure."""
        return [self.difference(a, b, name) for name in self.measures for a, b in self.pairs]

    def difference(self, a: str, b: str, measure: str = "") -> RobustDifference:
        """Any two arms in a measure (the main one if not given)."""
        name = self._measure(measure)
        d, noise = self.gap(a, b, name)
        ahead, behind = int(np.sum(d > 0)), int(np.sum(d < 0))
        each = intervals.bonferroni(self.level, max(len(self.pairs), 1))
        low, high, _ = intervals.wilson(ahead, len(d), each)
        quantile = intervals.t_quantile(self.nights, self.level)
        with np.errstate(invalid="ignore", divide="ignore"):
            score = np.where(noise > 0, d / np.sqrt(noise), 0.0)
        bounds = self._bounds_of_gap(name)
        mean_low, mean_high, _ = intervals.mean_t(d, each, bounds)
        return RobustDifference(
            a,
            b,
            name,
            ahead / len(d),
            low,
            high,
            1 - (ahead + behind) / len(d),
            float(np.mean(score > quantile)),
            float(np.mean(score < -quantile)),
            float(np.mean(d)),
            mean_low,
            mean_high,
            tuple(float(q) for q in np.quantile(d, TAILS)),
            _noise_share(d, noise),
            self.level,
            each,
            len(d),
            self.kind(name).unit,
        )

    @cached_property
    def arm_spreads(self) -> list[ArmOverWorlds]:
        """Every arm in every measure."""
        return [self.arm_spread(arm, name) for name in self.measures for arm in self.arms]

    def arm_spread(self, arm: str, measure: str = "") -> ArmOverWorlds:
        """One arm in a measure (the main one if not given)."""
        name, number = self._measure(measure), self._number(arm)
        values, noise = self.means[name][:, number], self.noise[name][:, number, number]
        each = intervals.bonferroni(self.level, len(self.arms))
        asked = self.kind(name)
        bounds = asked.bounds(1) if asked.a_share else (0.0, math.inf)
        mean, variance = float(np.mean(values)), float(np.var(values, ddof=1))
        mean_low, mean_high, _ = intervals.mean_within(len(values), mean, variance, each, bounds)
        return ArmOverWorlds(
            arm,
            name,
            mean,
            mean_low,
            mean_high,
            tuple(float(q) for q in np.quantile(values, TAILS)),
            _noise_share(values, noise),
            self.level,
            each,
            len(values),
            asked.unit,
        )

    def gap(self, a: str, b: str, measure: str = "") -> tuple[np.ndarray, np.ndarray]:
        """a less b in each world, float[W], and the variance that its few nights leave in it."""
        name = self._measure(measure)
        i, j = self._number(a), self._number(b)
        noise = self.noise[name]
        return (
            self.means[name][:, i] - self.means[name][:, j],
            noise[:, i, i] + noise[:, j, j] - 2 * noise[:, i, j],
        )

    def interval(self, a: str, b: str, measure: str = "", level: float = 0.95) -> Interval:
        """Interval of the share of worlds in which a has more than b, one of those of all pairs
        that hold together at any level."""
        d, _ = self.gap(a, b, measure)
        each = intervals.bonferroni(level, max(len(self.pairs), 1))
        low, high, _ = intervals.wilson(int(np.sum(d > 0)), len(d), each)
        return Interval(low, high, level)

    def best(self, measure: str = "", arms: Sequence[str] | None = None) -> str:
        """The arm with the best mean over the worlds (least for what is better small).

        Raises StudyError for arms that do not meet the same circumstance: nobody can choose
        between those. `choices` holds those between which one can.
        """
        names = self._one_choice(arms)
        return names[information.best(self._gains(names, measure))]

    def regret(self, measure: str = "", arms: Sequence[str] | None = None) -> dict[str, float]:
        """What one gives up on average by taking an arm, beside knowing everything beforehand.

        E[max gain] - E[gain of the arm], in the measure's unit; of the best arm that is the worth
        of knowing every unknown. Raises StudyError as `best` does.
        """
        names = self._one_choice(arms)
        means = self._gains(names, measure).mean(axis=0)
        most = self.worth_of_all(measure, names) + float(means.max())
        return {name: most - float(mean) for name, mean in zip(names, means, strict=True)}

    def worth(self, measure: str = "", arms: Sequence[str] | None = None) -> list[Worth]:
        """What knowing each unknown is worth to the choice between ``arms``.

        Of every choice in turn if none are given; of one choice the most worth first. Raises
        StudyError as `best` does.
        """
        if arms is not None:
            return self._worth(self._one_choice(arms), measure)
        choices = [names for names in self.choices.values() if len(names) > 1]
        return [one for names in choices or [self.arms] for one in self._worth(names, measure)]

    def _worth(self, names: list[str], measure: str) -> list[Worth]:
        name = self._measure(measure)
        gains = self._gains(names, name)
        chance = information.by_chance(self.places, gains, self.seed)
        pair = gains[:, 0] - gains[:, 1] if len(names) == 2 else None
        found = []
        for column, unknown in enumerate(self.unknowns):
            u = self.places[:, column]
            found.append(
                Worth(
                    unknown.id,
                    information.partial(u, gains),
                    chance,
                    math.nan if pair is None else _rank_correlation(u, pair),
                    unknown.entry.low,
                    unknown.entry.high,
                    self.kind(name).unit,
                    unknown.range_unit,
                    self.circumstances.get(names[0], ""),
                )
            )
        return sorted(found, key=lambda w: -w.evppi)

    def worth_of_all(self, measure: str = "", arms: Sequence[str] | None = None) -> float:
        """What knowing every unknown at once is worth (EVPI): no single one is worth more.

        Raises StudyError as `best` does.
        """
        names, name = self._one_choice(arms), self._measure(measure)
        gains = self._gains(names, name)
        best = names[information.best(gains)]
        noise = np.column_stack([self.gap(arm, best, name)[1] for arm in names])
        return information.perfect(gains, noise)

    @property
    def table(self) -> pd.DataFrame:
        """One row a pair and measure; of one arm alone, one row a measure."""
        import pandas as pd

        return pd.DataFrame([_row(d) for d in self.differences or self.arm_spreads])

    @property
    def sentences(self) -> list[str]:
        """What it says in words, in the main measure."""
        return [*self.pair_sentences, *self.choice_sentences]

    @property
    def pair_sentences(self) -> list[str]:
        """Of each pair the verdict, or of what is no share by how much; none of one arm."""
        from soundergate.studies.worlds import sentences as words

        main = [d for d in self.differences if d.measure == self.measures[0]]
        return self.verdict_sentences or [words.robust_sentence(d) for d in main]

    @property
    def choice_sentences(self) -> list[str]:
        """Of each circumstance which arm is best, and what is worth knowing; of one arm alone how
        it lies."""
        from soundergate.studies.worlds import sentences as words

        if len(self.arms) == 1:
            return [words.spread_sentence(self.arm_spread(self.arms[0]))]
        return [
            words.worth_sentence(
                self.best("", names), self.worth("", names), self.worth_of_all("", names), met
            )
            for met, names in self.choices.items()
            if len(names) > 1
        ]

    @property
    def verdict_sentences(self) -> list[str]:
        """No matter, ahead, or depends and on what: each pair in the main measure, if a share."""
        from soundergate.studies.worlds import sentences as words

        lines = []
        for v in self.verdicts:
            if v.measure != self.measures[0]:
                continue
            line = words.verdict_sentence(v)
            if (v.a, v.b) in self._rules:
                line += f" {words.box_sentence(v.a, self._rules[v.a, v.b])}"
            elif v.verdict == DEPENDS and v.worlds >= v.fewest_worlds:
                line += f" {words.NOT_SOUGHT}"
            lines.append(line)
        return lines

    def plot(self, measure: str = "", ax: Any = None) -> Any:
        """Draw the differences over the worlds, or one arm alone; returns the axes."""
        from soundergate.report.figures.robust import arm_spreads, worlds

        return (worlds if self.pairs else arm_spreads)(self, measure, ax)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import table, worlds

        return table.html(*worlds.world_tables(self))

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON: worlds, differences, and the worth of each unknown."""
        return {
            "worlds": self.worlds,
            "worlds_asked": self.asked,
            "nights_each": self.nights,
            "seed": self.seed,
            "level": self.level,
            "unknowns": [one.id for one in self.unknowns],
            "sentences": self.sentences,
            "arms": [one.to_json() for one in self.arm_spreads],
            "negligible": self.negligible,
            "played_longer": self.longer,
            "further_nights": self.further.to_json(),
            "verdicts": [self._told(v) for v in self.verdicts],
            "differences": [d.to_json() for d in self.differences],
            "choices": [
                {
                    "circumstance": met,
                    "best": self.best("", names),
                    "worth_of_all": self.worth_of_all("", names),
                    "regret": self.regret("", names),
                }
                for met, names in self.choices.items()
            ],
            "worth": None
            if len(self.arms) == 1  # nothing to choose
            else {
                "measure": self.measures[0],
                "best": self.best() if len(self.choices) == 1 else None,
                "all": self.worth_of_all() if len(self.choices) == 1 else None,
                "each": [w.to_json() for w in self.worth()],
            },
            "failed": {str(world): why for world, why in self.failed.items()},
        }

    def to_differences_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a pair and measure as CSV text; written to ``path`` if given."""
        return _csv([_row(d) for d in self.differences], path)

    def to_arms_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row an arm and measure as CSV text; written to ``path`` if given."""
        return _csv([_row(one) for one in self.arm_spreads], path)

    def to_choices_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row an arm as CSV text, in the main measure: the circumstance that it meets, its mean
        over the worlds, whether it is the best choice there, and what one gives up by it."""
        rows = []
        for met, names in self.choices.items():
            best, regret = self.best("", names), self.regret("", names)
            for name in names:
                spread = self.arm_spread(name)
                row: dict[str, Any] = {"circumstance": met, "arm": name, "measure": spread.measure}
                row |= {"mean": spread.mean, "best": name == best, "regret": regret[name]}
                rows.append(row | {"unit": spread.unit})
        return _csv(rows, path)

    def to_worlds_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a world as CSV text: every measure of every arm, then every unknown.

        A measure stands under "ARM: measure" ("measure" where there is one arm), as its mean over
        the world's nights with ten figures. An unknown stands under its id as its value with six
        figures (of several numbers that move together, the last), and under "ID place (unit; scale;
        low to high)" as the share of plausible values below it: the scale is the distribution that
        the register states, and nine in ten plausible values lie between low and high.
        """
        rows = [
            {"world": world} | self._means_of(row) | drawn(self.unknowns, self.places[row])
            for row, world in enumerate(self.played)
        ]
        return _csv(rows, path)

    def _told(self, v: Verdict) -> dict[str, Any]:
        sought = v.measure == self.measures[0] and (v.a, v.b) in self._rules
        box = self._rules[v.a, v.b] if sought else None
        told = {"depends_on": None if box is None else box.to_json(), "rule_sought": sought}
        return v.to_json() | told

    def _means_of(self, row: int) -> dict[str, float]:
        lead = {arm: f"{arm}: " if len(self.arms) > 1 else "" for arm in self.arms}
        every = self.means | self.others
        return {
            f"{lead[arm]}{name}": float(f"{means[row, number]:.10g}")
            for number, arm in enumerate(self.arms)
            for name, means in every.items()
        }

    @property
    def played(self) -> list[int]:
        """Numbers of the worlds played; the first is 1."""
        last = self.worlds + len(self.failed)
        return [world for world in range(1, last + 1) if world not in self.failed]

    @property
    def longer(self) -> list[int]:
        """Numbers of the worlds that were played longer than `nights`."""
        had = [self.nights] * self.worlds if self.played_in is None else self.played_in
        return [world for world, n in zip(self.played, had, strict=True) if n > self.nights]

    def quantiles(self, arm: str, measure: str = "") -> tuple[Quantile, ...]:
        """Low end, middle and high end of one arm over the worlds, each with its interval."""
        name = self._measure(measure)
        values = self.means[name][:, self._number(arm)]
        return tuple(quantile(values, share, self.level) for share in NINE_TENTHS)

    @cached_property
    def verdicts(self) -> list[Verdict]:
        """No matter, ahead or depends: every pair in every measure that is a share."""
        return [
            self.verdict(a, b, name)
            for name in self.measures
            if self.kind(name).a_share
            for a, b in self.pairs
        ]

    def verdict(self, a: str, b: str, measure: str = "") -> Verdict:
        """Of any two arms in a measure that is a share (the main one if not given)."""
        name = self._measure(measure)
        pairs = max(len(self.pairs), 1)
        floor = rare(np.array(self.nights) if self.played_in is None else self.played_in)
        noise = np.maximum(self.gap(a, b, name)[1], floor)
        gains = self._advantage(a, b, name)
        return verdict(
            a, b, name, gains, noise, self.negligible, self.level, pairs, self._bounds_of_gap(name)
        )

    def depends_on(self, a: str, b: str, measure: str = "") -> Box | None:
        """The worlds in which a is ahead of b at all, as a rule of at most two unknowns."""
        gains = self._advantage(a, b, self._measure(measure))
        return find_box(self.unknowns, self.places, gains > 0, self.level)

    @cached_property
    def sought(self) -> list[tuple[str, str]]:
        """The pairs of which it is sought on what they depend, in the main measure.

        Those of which it depends and worlds are enough to show more; of more than `MOST_SOUGHT`
        such pairs those alone that have the best arm of their circumstance. `depends_on` tells it
        of any pair.
        """
        main = [v for v in self.verdicts if v.measure == self.measures[0]]
        pairs = [(v.a, v.b) for v in main if v.verdict == DEPENDS and v.worlds >= v.fewest_worlds]
        if len(pairs) <= MOST_SOUGHT:
            return pairs
        best = {self.best("", names) for names in self.choices.values()}
        return [pair for pair in pairs if best & {*pair}]

    @cached_property
    def _rules(self) -> dict[tuple[str, str], Box | None]:
        """On what it depends, of each pair of which that is sought: sought once."""
        return {pair: self.depends_on(*pair) for pair in self.sought}

    def _advantage(self, a: str, b: str, name: str) -> np.ndarray:
        """float[W]: how much better a does than b in each world."""
        return self.gap(a, b, name)[0] * (-1 if self.kind(name).less_is_better else 1)

    def movers(self, arm: str, measure: str = "", less: str = "") -> list[Mover]:
        """The unknowns by how much each moves an arm's measure (less another's), most first."""
        name = self._measure(measure)
        answers = self.means[name][:, self._number(arm)]
        if less:
            answers = answers - self.means[name][:, self._number(less)]
        return movers(self.unknowns, self.places, answers, self.seed)

    def to_unknowns_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row an unknown as CSV text: its worth to the choice between all arms."""
        return _csv([w.to_json() for w in self.worth()], path)

    def _gains(self, names: Sequence[str], measure: str) -> np.ndarray:
        name = self._measure(measure)
        columns = [self._number(arm) for arm in names]
        gains = self.means[name][:, columns]
        return -gains if self.kind(name).less_is_better else gains

    def _bounds_of_gap(self, name: str) -> tuple[float, float] | None:
        """What a difference of two arms in a share cannot leave."""
        asked = self.kind(name)
        low, high = asked.bounds(1)
        return (low - high, high - low) if asked.a_share else None

    def _one_choice(self, arms: Sequence[str] | None) -> list[str]:
        """The arms, all if not given. Raises StudyError if nobody can choose between them."""
        names = list(self.arms if arms is None else arms)
        if not names:
            raise StudyError("there is no arm to choose")
        met = dict.fromkeys(self.circumstances.get(name, "") for name in names)
        if len(met) > 1:
            raise StudyError(
                "one chooses between arms that meet the same circumstance, and these meet "
                f"{len(met)}: {'; '.join(met)}",
                key="arms",
            )
        return names

    def _number(self, arm: str) -> int:
        if arm not in self.arms:
            raise StudyError(f"no arm is named {arm!r}; the arms are {', '.join(self.arms)}")
        return self.arms.index(arm)

    def _measure(self, name: str) -> str:
        found = name or self.measures[0]
        if found not in self.means:
            raise StudyError(f"{found} was not compared; compared are {', '.join(self.means)}")
        return found


def drawn(unknowns: Sequence[Input], places: np.ndarray) -> dict[str, Any]:
    """Cells of a row of worlds.csv: each unknown's value and its place, 0 to 1, in one world."""
    told: dict[str, Any] = {}
    for one, u in zip(unknowns, places, strict=True):
        told[one.id] = f"{_last(one.at(float(u))):.6g}"
        told[_place_of(one)] = f"{u:.6f}"
    return told


def _place_of(one: Input) -> str:
    """Head of the column that says where in its range an unknown lies: id, unit, scale, range."""
    low, high = (f"{_last(end):.6g}" for end in (one.entry.low, one.entry.high))
    none = f", none in {100 * one.entry.none:g} %" if one.entry.none else ""
    unit = f"{one.range_unit}; " if one.range_unit else ""
    return f"{one.id} place ({unit}{one.entry.distribution}{none}; {low} to {high})"


def _last(value: Any) -> Any:
    """A number, or the last of several that move together."""
    return value[-1] if isinstance(value, list) else value


def _rank_correlation(u: np.ndarray, gap: np.ndarray) -> float:
    from scipy.stats import rankdata

    if np.all(gap == gap[0]):
        return math.nan
    return float(np.corrcoef(rankdata(u), rankdata(gap))[0, 1])


def _noise_share(values: np.ndarray, noise: np.ndarray) -> float:
    spread = float(np.var(values, ddof=1))
    return min(float(np.mean(noise)) / spread, 1.0) if spread > 0 else math.nan


def _row(d: RobustDifference | ArmOverWorlds) -> dict[str, Any]:
    flat = d.to_json()
    quantiles = flat.pop("quantiles")
    last = ("noise_share", "level", "each_level", "worlds", "unit")
    tail = {name: flat.pop(name) for name in last}
    return flat | quantiles | tail


def _csv(rows: Sequence[dict[str, Any]], path: str | os.PathLike[str] | None) -> str:
    return csv_text([*rows[0]] if rows else [], [row.values() for row in rows], path)
