"""Compare setups on the same nights.

Night k of a seed is the same night in every arm: the same animals with the same luck. So arms are
compared by their differences night by night, which vary far less than the arms do. The intervals
of one measure hold together over all pairs of arms (Bonferroni), so that picking the largest of
many differences does not fool anybody.
"""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from soundergate.studies import sentences as words
from soundergate.studies.arms import Arm, Setups, Vary, check_arms, make_arms
from soundergate.studies.cells import csv_text
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import RunResult, check_level, summary_csv
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.paired import COMPARED, Difference, PairTally, check_measures
from soundergate.studies.estimates.stopping import (
    Ending,
    Progress,
    Targets,
    check_nights,
    check_precision,
)
from soundergate.studies.estimates.sums import NumberedPair, Summing, Sums
from soundergate.studies.options import checked
from soundergate.studies.players import Player, player
from soundergate.studies.playing import play_arms
from soundergate.studies.seeds import check_seed
from soundergate.studies.store.identity import about_run, settings_of

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.work.chunks import Executor
    from soundergate.studies.store.store import Store

Pair = tuple[str, str]


@dataclass(frozen=True)
class ArmResult:
    """One arm: its name, the values in which it differs from its base, and its run."""

    name: str
    set: dict[str, Any]
    result: RunResult

    def to_json(self) -> dict[str, Any]:
        """name, set, then what the run says."""
        return {"name": self.name, "set": self.set} | self.result.to_json()


@dataclass(frozen=True)
class Comparison:
    """Arms played on the same nights, and their differences.

    ``differences`` hold a minus b for every pair of arms (earlier minus later), or every arm minus
    the one it was asked to be compared against. ``circumstances`` says of an arm what of it nobody
    decides; setups are compared with those that meet the same.
    """

    arms: list[ArmResult]
    differences: list[Difference]
    nights: int
    seed: int
    level: float
    interrupted: bool = False
    precision: dict[str, float] | None = None
    precision_reached: bool | None = None
    pairs: dict[Pair, PairTally] = field(default_factory=dict, repr=False)
    circumstances: dict[str, str] = field(default_factory=dict, repr=False)

    @property
    def choices(self) -> dict[str, list[str]]:
        """Names of the arms between which one can choose, by the circumstance that they meet."""
        found: dict[str, list[str]] = {}
        for arm in self.arms:
            found.setdefault(self.circumstances.get(arm.name, ""), []).append(arm.name)
        return found

    def __getitem__(self, name: str) -> RunResult:
        for arm in self.arms:
            if arm.name == name:
                return arm.result
        raise KeyError(f"no arm is named {name!r}; the arms are {[a.name for a in self.arms]}")

    def difference(self, a: str, b: str, measure: str = "fraction_caught") -> Difference:
        """The difference of one pair, either way round.

        Raises KeyError if the pair or measure was not compared.
        """
        if (found := self._by_names.get((a, b, measure))) is not None:
            return found
        if (found := self._by_names.get((b, a, measure))) is not None:
            return _turned(found)
        raise KeyError(f"no difference of {measure} between {a!r} and {b!r}")

    def interval(self, a: str, b: str, measure: str = "fraction_caught") -> Interval:
        """Interval of a difference, one of all of its measure that hold together at ``level``."""
        found = self.difference(a, b, measure)
        return Interval(found.low, found.high, found.level)

    @cached_property
    def _by_names(self) -> dict[tuple[str, str, str], Difference]:
        return {(d.a, d.b, d.measure): d for d in self.differences}

    @cached_property
    def sentences(self) -> list[str]:
        """What the differences say, in words, the settled ones first."""
        return words.sentences(self.differences)

    @property
    def table(self) -> pd.DataFrame:
        """One row a difference."""
        import pandas as pd

        columns = [*_DIFFERENCE_FIELDS]
        rows = [[getattr(d, name) for name in columns] for d in self.differences]
        return pd.DataFrame(rows, columns=columns)

    @property
    def arm_table(self) -> pd.DataFrame:
        """One row an arm and measure."""
        import pandas as pd

        tables = {arm.name: arm.result.table for arm in self.arms}
        return pd.concat(tables, names=["arm"])

    def plot(self, measure: str = "fraction_caught", ax: Any = None) -> Any:
        """Draw the differences of one measure with their intervals; returns the axes."""
        from soundergate.report.figures.estimates import forest

        return forest(self.differences, measure, ax)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import nights, table

        return table.html(nights.arm_table(self), *nights.difference_tables(self))

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON: nights, seed, arms, differences (a minus b), what they say."""
        return {
            "nights": self.nights,
            "seed": self.seed,
            "level": self.level,
            "arms": [arm.to_json() for arm in self.arms],
            "differences": [difference.to_json() for difference in self.differences],
            "sentences": self.sentences,
            "interrupted": self.interrupted,
            "precision": self.precision,
            "precision_reached": self.precision_reached,
        }

    def to_summary_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row an arm and measure as CSV text; written to ``path`` if given."""
        return summary_csv([({"arm": a.name}, a.result) for a in self.arms], path)

    def to_differences_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """One row a difference as CSV text, floats by repr, nan empty; written if ``path``."""
        rows = ([getattr(d, name) for name in _DIFFERENCE_FIELDS] for d in self.differences)
        return csv_text(_DIFFERENCE_FIELDS, rows, path)


_DIFFERENCE_FIELDS = (
    "a",
    "b",
    "measure",
    "estimate",
    "low",
    "high",
    "level",
    "each_level",
    "unit",
    "gain",
    "nights",
    "apart",
    "few",
)


@checked
def compare(
    scenarios: Setups,
    vary: Vary | None = None,
    nights: int | None = None,
    precision: float | Mapping[str, float] | str | None = None,
    seed: int | None = 1,
    workers: int | None = None,
    engine: str = "batch",
    keep_outcomes: bool = False,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    measures: Iterable[str] = COMPARED,
    against: str | None = None,
    names: Sequence[str] | None = None,
    executor: Executor | None = None,
    store: Store | None = None,
) -> Comparison:
    """Play setups on common nights and compare them.

    Parameters
    ----------
    scenarios : path, dict or Scenario, or several, as for `load`; or arms
    vary : {"opening.width": ["4 ft", "8 ft"]}, or texts such as "opening.width=4 ft,8 ft"; every
        combination is an arm
    nights, seed, workers, engine, progress, executor, store : as in
        :func:`soundergate.studies.estimate.run`
    precision : half-width to reach for the difference of every pair, as there
    keep_outcomes : keep one row a night of each arm in the result
    level : of all intervals of a measure together
    measures : what to compare
    against : name of the arm that all others are compared with; None compares every pair
    names : names of the arms in order, in place of those made from files and choices

    Returns
    -------
    Comparison
        Each arm's run, and differences of each measure in its own unit, a minus b.

    Raises
    ------
    StudyError
        For fewer than two arms, names that repeat, or anything else that cannot be run.
    ScenarioError
        For a scenario that cannot be read or built.

    Example
    -------
    >>> import soundergate
    >>> both = soundergate.compare("trap.toml", {"opening.width": ["4 ft", "8 ft"]}, nights=50)
    >>> [arm.set for arm in both.arms]
    [{'opening.width': '4 ft'}, {'opening.width': '8 ft'}]
    """
    arms = make_arms(scenarios, vary, names)
    if len(arms) < 2:
        raise StudyError("a comparison needs two arms or more: several setups, or one and --vary")
    players = [(arm, player(arm.scenario, engine, workers, executor)) for arm in arms]
    measures = list(measures)
    if store is not None:
        seed = check_seed(seed)
        settings = settings_of(precision, nights, level, keep_outcomes, measures, against)
        store.begin(about_run(players, seed, settings), check_nights(nights))
    return compare_players(
        players,
        nights,
        precision,
        seed,
        keep_outcomes,
        progress,
        level=level,
        measures=measures,
        against=against,
        store=store,
    )


def compare_players(
    arms: Sequence[tuple[Arm, Player]],
    nights: int | None = None,
    precision: float | Mapping[str, float] | str | None = None,
    seed: int | None = 1,
    keep_outcomes: bool = False,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    measures: Iterable[str] = COMPARED,
    against: str | None = None,
    pairs: Sequence[Pair] | None = None,
    store: Store | None = None,
) -> Comparison:
    """The same for anything that plays nights (:mod:`soundergate.studies.players`).

    One arm alone is allowed here, and has no differences. ``pairs`` of names, if given, stand in
    place of those that ``against`` calls for. A ``store`` must have begun this comparison.
    """
    names = [arm.name for arm, _ in arms]
    check_arms(names, against)
    compared = [asked.name for asked in check_measures(measures)]
    targets = check_precision(precision)
    _check_targets(targets, compared)
    settled_seed, level = check_seed(seed), check_level(level)
    paired = list(_pairs(names, against) if pairs is None else pairs)
    numbered = tuple((names.index(a), names.index(b)) for a, b in paired)
    if store is not None:
        store.of(names, paired)

    def differences(sums: Sums) -> list[Difference]:
        return _differences(sums, numbered, names, compared, level)

    sums, ending = play_arms(
        [play for _, play in arms],
        settled_seed,
        Summing(numbered, tuple(compared), keep_outcomes),
        lambda sums: _half_widths(differences(sums)),
        check_nights(nights),
        targets,
        progress,
        store,
    )
    stored = store if keep_outcomes else None
    return Comparison(
        [
            _arm_result(arm, sums, n, settled_seed, level, ending, stored)
            for n, (arm, _) in enumerate(arms)
        ],
        differences(sums),
        sums.count,
        settled_seed,
        level,
        ending.interrupted,
        targets,
        ending.reached,
        dict(zip(paired, sums.pairs, strict=True)),
    )


def _differences(
    sums: Sums,
    pairs: Sequence[NumberedPair],
    names: Sequence[str],
    measures: Sequence[str],
    level: float,
) -> list[Difference]:
    return [
        tally.difference(
            name, (names[a], names[b]), (sums.tallies[a], sums.tallies[b]), level, len(pairs)
        )
        for name in measures
        for (a, b), tally in zip(pairs, sums.pairs, strict=True)
    ]


def _half_widths(differences: Iterable[Difference]) -> dict[str, float]:
    """The widest difference of each measure; nan if one has no interval."""
    widths: dict[str, float] = {}
    for d in differences:
        so_far = widths.get(d.measure, 0.0)
        widths[d.measure] = math.nan if math.isnan(d.half_width) else max(so_far, d.half_width)
    return widths


def _arm_result(
    arm: Arm, sums: Sums, number: int, seed: int, level: float, ending: Ending, store: Store | None
) -> ArmResult:
    tally = sums.tallies[number]
    result = RunResult(
        nights=tally.nights,
        seed=seed,
        group_size=tally.group_size,
        level=level,
        tally=tally,
        outcomes=sums.kept(number),
        scenario=arm.scenario,
        interrupted=ending.interrupted,
        stored=None if store is None else store.nights(arm.name),
    )
    return ArmResult(arm.name, arm.set, result)


def _pairs(names: Sequence[str], against: str | None) -> list[Pair]:
    if against is None:
        return list(itertools.combinations(names, 2))
    return [(name, against) for name in names if name != against]


def _check_targets(targets: Targets | None, compared: Sequence[str]) -> None:
    missing = [name for name in targets or () if name not in compared]
    if missing:
        raise StudyError(
            f"precision names {missing[0]}, which is not compared; compared are "
            f"{', '.join(compared)}"
        )


def _turned(d: Difference) -> Difference:
    return replace(d, a=d.b, b=d.a, estimate=-d.estimate, low=-d.high, high=-d.low)
