"""What a comparison over plausible worlds says: who is ahead, by how much, what to measure."""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.files import write_text
from soundergate.study import information, intervals
from soundergate.study.errors import StudyError
from soundergate.study.inputs import Input
from soundergate.study.intervals import Interval
from soundergate.study.measures import measure as measure_of

if TYPE_CHECKING:
    import pandas as pd

_TAILS = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True)
class RobustDifference:
    """Arm ``a`` less arm ``b`` in one measure, over plausible worlds.

    ``share``: of worlds in which a has more of the measure (over the world's nights) than b, with
    the Wilson interval ``low`` to ``high`` over worlds; ``equal``: of worlds in which both have the
    same. ``clear_more`` and ``clear_less``: of worlds in which its nights settle that a has more,
    or less (paired t at ``level``, each world by itself). ``mean`` is the mean difference with its
    t interval; ``quantiles`` its 5, 25, 50, 75 and 95 % points over worlds, which the few nights
    of each world widen: ``noise_share`` of the variance is theirs.
    """

    a: str
    b: str
    measure: str
    share: float
    low: float
    high: float
    equal: float
    clear_more: float
    clear_less: float
    mean: float
    mean_low: float
    mean_high: float
    quantiles: tuple[float, ...]
    noise_share: float
    level: float
    worlds: int
    unit: str

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for nan."""
        values = {name: getattr(self, name) for name in self.__dataclass_fields__}
        told = {k: None if _is_nan(v) else v for k, v in values.items()}
        return told | {"quantiles": dict(zip(_QUANTILE_NAMES, self.quantiles, strict=True))}


_QUANTILE_NAMES = tuple(f"q{100 * tail:02.0f}" for tail in _TAILS)


@dataclass(frozen=True)
class Worth:
    """What an unknown does to a choice between arms.

    ``evppi``: how much more a night would bring if it were known before choosing, in ``unit``;
    ``chance``: what an unknown that tells nothing stays below in 95 of 100. ``correlation``: rank
    correlation of the unknown with the difference of two arms (Spearman 1904); nan for more arms.
    ``low`` to ``high`` is the plausible range, in ``range_unit``.
    """

    unknown: str
    evppi: float
    chance: float
    correlation: float
    low: Any
    high: Any
    unit: str
    range_unit: str

    @property
    def shown(self) -> bool:
        """Whether it is worth more than chance would make it seem."""
        return self.evppi > self.chance

    def to_json(self) -> dict[str, Any]:
        """Its fields, and ``shown``; None for nan."""
        values = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return {k: None if _is_nan(v) else v for k, v in values.items()} | {"shown": self.shown}


@dataclass(frozen=True)
class RobustComparison:
    """Arms played in plausible worlds.

    ``places`` float[W, U] is where in its range each unknown lies in each world, 0 to 1;
    ``means[measure]`` float[W, K] the mean of each arm over the world's nights, ``noise[measure]``
    float[W, K, K] the covariance of those means that so few nights leave. ``failed`` names the
    worlds in which an arm could not be built. ``asked`` is how many worlds were wanted.
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

    @property
    def worlds(self) -> int:
        """Worlds that were played with every arm."""
        return len(self.places)

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
        low, high, _ = intervals.wilson(ahead, len(d), self.level)
        quantile = intervals.t_quantile(self.nights, self.level)
        with np.errstate(invalid="ignore", divide="ignore"):
            score = np.where(noise > 0, d / np.sqrt(noise), 0.0)
        mean_low, mean_high, _ = intervals.mean_t(d, self.level)
        spread = float(np.var(d, ddof=1))
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
            tuple(float(q) for q in np.quantile(d, _TAILS)),
            min(float(np.mean(noise)) / spread, 1.0) if spread > 0 else math.nan,
            self.level,
            len(d),
            measure_of(name).unit,
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
        """Interval of the share of worlds in which a has more than b, at any level."""
        d, _ = self.gap(a, b, measure)
        return intervals.wilson(int(np.sum(d > 0)), len(d), level)

    def best(self, measure: str = "", arms: Sequence[str] | None = None) -> str:
        """The arm with the best mean over the worlds (least for what is better small)."""
        names = list(arms or self.arms)
        return names[information.best(self._gains(names, measure))]

    def worth(self, measure: str = "", arms: Sequence[str] | None = None) -> list[Worth]:
        """What knowing each unknown is worth to the choice between ``arms`` (all if not given).

        The most worth first.
        """
        names, name = list(arms or self.arms), self._measure(measure)
        gains = self._gains(names, name)
        chance = information.by_chance(gains, self.seed)
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
                    measure_of(name).unit,
                    f"times {unknown.entry.of}" if unknown.entry.of else unknown.entry.unit,
                )
            )
        return sorted(found, key=lambda w: -w.evppi)

    def worth_of_all(self, measure: str = "", arms: Sequence[str] | None = None) -> float:
        """What knowing every unknown at once is worth (EVPI): no single one is worth more."""
        names, name = list(arms or self.arms), self._measure(measure)
        gains = self._gains(names, name)
        best = names[information.best(gains)]
        noise = np.column_stack([self.gap(arm, best, name)[1] for arm in names])
        return information.perfect(gains, noise)

    @property
    def table(self) -> pd.DataFrame:
        """One row a pair and measure."""
        import pandas as pd

        return pd.DataFrame([_row(d) for d in self.differences])

    def worth_table(self, measure: str = "", arms: Sequence[str] | None = None) -> pd.DataFrame:
        """One row an unknown, the most worth first."""
        import pandas as pd

        return pd.DataFrame([w.to_json() for w in self.worth(measure, arms)])

    @property
    def sentences(self) -> list[str]:
        """What it says in words, in the main measure."""
        from soundergate.study import words

        main = [d for d in self.differences if d.measure == self.measures[0]]
        told = [words.robust_sentence(d) for d in main]
        return [*told, words.worth_sentence(self.best(), self.worth(), self.worth_of_all())]

    def plot(self, measure: str = "", ax: Any = None) -> Any:
        """Draw the differences over the worlds; returns the axes."""
        from soundergate.report.robust_figures import worlds

        return worlds(self, measure, ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())

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
            "differences": [d.to_json() for d in self.differences],
            "worth": {
                "measure": self.measures[0],
                "best": self.best(),
                "all": self.worth_of_all(),
                "each": [w.to_json() for w in self.worth()],
            },
            "failed": {str(world): why for world, why in self.failed.items()},
        }

    def to_differences_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a pair and measure as CSV text; written to ``path`` if given."""
        return _csv([_row(d) for d in self.differences], path)

    def to_worlds_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a world as CSV text: the mean of the main measure by arm, then the unknowns.

        Unknowns stand with four figures, in the register's units; of several numbers that move
        together stands the place in their range, 0 to 1.
        """
        means = self.means[self.measures[0]]
        rows = [
            {"world": world}
            | {arm: float(mean) for arm, mean in zip(self.arms, means[row], strict=True)}
            | {
                one.id: _drawn(one, u)
                for one, u in zip(self.unknowns, self.places[row], strict=True)
            }
            for row, world in enumerate(self.played)
        ]
        return _csv(rows, path)

    @property
    def played(self) -> list[int]:
        """Numbers of the worlds played; the first is 0."""
        last = self.worlds + len(self.failed)
        return [world for world in range(last) if world not in self.failed]

    def to_unknowns_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row an unknown as CSV text: its worth to the choice between all arms."""
        return _csv([w.to_json() for w in self.worth()], path)

    def _gains(self, names: Sequence[str], measure: str) -> np.ndarray:
        name = self._measure(measure)
        columns = [self._number(arm) for arm in names]
        gains = self.means[name][:, columns]
        return -gains if measure_of(name).less_is_better else gains

    def _number(self, arm: str) -> int:
        if arm not in self.arms:
            raise StudyError(f"no arm is named {arm!r}; the arms are {', '.join(self.arms)}")
        return self.arms.index(arm)

    def _measure(self, name: str) -> str:
        found = name or self.measures[0]
        if found not in self.means:
            raise StudyError(f"{found} was not compared; compared are {', '.join(self.means)}")
        return found


def _drawn(one: Input, u: float) -> str:
    value = one.at(float(u))
    return f"{u if isinstance(value, list) else value:.4g}"


def _rank_correlation(u: np.ndarray, gap: np.ndarray) -> float:
    from scipy.stats import rankdata

    if np.all(gap == gap[0]):
        return math.nan
    return float(np.corrcoef(rankdata(u), rankdata(gap))[0, 1])


def _row(d: RobustDifference) -> dict[str, Any]:
    flat = d.to_json()
    quantiles = flat.pop("quantiles")
    tail = {name: flat.pop(name) for name in ("noise_share", "level", "worlds", "unit")}
    return flat | quantiles | tail


def _csv(rows: Sequence[dict[str, Any]], path: str | os.PathLike[str] | None) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]) if rows else [], lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({k: repr(v) if isinstance(v, float) else v for k, v in row.items()})
    if path is not None:
        write_text(path, out.getvalue())
    return out.getvalue()


def _is_nan(value: object) -> bool:
    return isinstance(value, float) and math.isnan(value)
