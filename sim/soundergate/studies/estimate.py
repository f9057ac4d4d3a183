"""Play a setup's night many times and say what it catches, and how sure that is."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from soundergate.engine.outcomes import Outcomes
from soundergate.engine.work.folding import ArmRefused
from soundergate.scenario.errors import ScenarioError
from soundergate.studies.arms import Arm
from soundergate.studies.cells import csv_text
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.measures import MEASURES, REQUIRED, measure
from soundergate.studies.estimates.stopping import Progress, check_nights, check_precision
from soundergate.studies.estimates.sums import Summing, Sums
from soundergate.studies.estimates.tally import Estimate, Tally
from soundergate.studies.options import checked
from soundergate.studies.players import (
    Decide,
    Player,
    RulePlayer,
    as_scenario,
    check_rule,
    plan_of,
    player,
)
from soundergate.studies.playing import play_arms
from soundergate.studies.seeds import check_seed
from soundergate.studies.store.identity import about_run, settings_of

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.store.store import Store

_LEVELS = (0.001, 0.999999999)
"""Shared among some ten thousand pairs of arms, one beyond them would be 0 or 1 to the last bit."""

__all__ = ["Estimate", "RunResult", "run", "run_player"]


@dataclass(frozen=True)
class RunResult:
    """What a run of nights says.

    ``interrupted``: stopped by hand after ``nights`` complete nights, which all count.
    ``precision`` is what was asked for and ``precision_reached`` whether it was, None if neither.
    ``outcomes`` holds the nights themselves, None if they were not kept; nights kept in a store
    (`studies.store.store`) stand in ``stored`` instead, in parts, while it is open.
    """

    nights: int
    seed: int
    group_size: int
    level: float
    tally: Tally = field(repr=False)
    outcomes: Outcomes | None = field(default=None, repr=False)
    scenario: Scenario | None = field(default=None, repr=False)
    interrupted: bool = False
    precision: dict[str, float] | None = None
    precision_reached: bool | None = None
    stored: Iterable[Outcomes] | None = field(default=None, repr=False)

    @cached_property
    def measures(self) -> dict[str, Estimate]:
        """Every measure by name, at the run's level."""
        return {name: self.tally.estimate(name, self.level) for name in MEASURES}

    def __getitem__(self, name: str) -> Estimate:
        return self.measures[measure(name).name]

    def interval(self, name: str, level: float = 0.95, method: str = "auto") -> Interval:
        """Interval of a measure at any level.

        method: "auto" (Wilson for yes/no, `intervals.mean_within` for means), "wilson",
        "clopper-pearson", "t", or "bootstrap", which needs the nights and is repeatable (its seed
        is the run's).
        """
        if method != "bootstrap":
            return self.tally.interval(name, level, method)
        asked = measure(name)
        values = asked.per_night(self._nights("a bootstrap interval"))
        bounds = asked.bounds(self.group_size)
        return intervals.bootstrap_mean(values, level, seed=self.seed, bounds=bounds)

    @property
    def table(self) -> pd.DataFrame:
        """One row a measure: estimate, low, high, level, unit, nights."""
        import pandas as pd

        rows = {e.name: (e.estimate, e.low, e.high, e.level, e.unit, e.nights) for e in self}
        columns = ["estimate", "low", "high", "level", "unit", "nights"]
        table = pd.DataFrame.from_dict(rows, orient="index", columns=columns)
        table.index.name = "measure"
        return table

    def __iter__(self) -> Iterator[Estimate]:
        return iter(self.measures.values())

    def plot(self, ax: Any = None) -> Any:
        """Draw how many animals a night catches; returns the axes."""
        from soundergate.report.figures.estimates import caught_distribution

        return caught_distribution(self, ax)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import nights, table

        return table.html(nights.measure_table(self))

    @property
    def night_parts(self) -> Iterable[Outcomes] | None:
        """The nights in parts, in order; None if they were not kept."""
        return self.stored if self.outcomes is None else [self.outcomes]

    def _nights(self, purpose: str) -> Outcomes:
        if self.outcomes is not None:
            return self.outcomes
        if self.stored is not None:
            return Outcomes.concatenate(self.stored)
        raise ValueError(f"{purpose} needs the nights: run with keep_outcomes=True")

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON: nights, seed, group_size, then one estimate a measure."""
        head: dict[str, Any] = {
            "nights": self.nights,
            "seed": self.seed,
            "group_size": self.group_size,
        }
        order = [*REQUIRED, *(name for name in MEASURES if name not in REQUIRED)]
        body = {name: self.measures[name].to_json() for name in order}
        tail: dict[str, Any] = {"interrupted": self.interrupted}
        if self.precision is not None:
            tail |= {"precision": self.precision, "precision_reached": self.precision_reached}
        return head | body | tail

    def to_summary_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """The table as CSV text, floats by repr, nan empty; written to ``path`` if given."""
        return summary_csv([({}, self)], path)


@checked
def run(
    scenario: Given,
    nights: int | None = None,
    precision: float | Mapping[str, float] | str | None = None,
    seed: int | None = 1,
    workers: int | None = None,
    engine: str = "batch",
    keep_outcomes: bool = True,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    executor: Executor | None = None,
    store: Store | None = None,
    rule: Decide | None = None,
) -> RunResult:
    """Estimate what a setup catches.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`.
    nights : number of nights, 10,000 if neither this nor ``precision`` is given; with
        ``precision``, the most to play
    precision : half-width of the interval to reach, for fraction_caught, or {measure: half-width},
        or a text such as "caught=0.1"; the rule is in :mod:`soundergate.studies.estimates.stopping`
    seed : whole number from 0; the same seed plays the same nights. None draws a fresh one
    workers : threads, one a core by default; the result does not depend on it
    engine : "batch" or "reference"
    keep_outcomes : keep one row a night in the result; without it memory stays flat
    progress : called with (nights done, nights planned so far)
    level : of the intervals
    executor : plays chunks of nights elsewhere (:mod:`soundergate.engine.work.executors`)
    store : takes every finished chunk, and gives those that it holds already; needs a seed
    rule : a function of a `Seen` that returns True to release and False to wait, in place of what
        the scenario says of its person's rule; needs ``engine="reference"``, and is asked here,
        so with neither ``executor`` nor ``store``

    Returns
    -------
    RunResult
        Shares from 0 to 1, counts in animals a night, times in the unit that each says.

    Raises
    ------
    StudyError
        For a wrong number of nights, precision, seed, level, workers or engine.
    ScenarioError
        For a scenario that cannot be read or built, or a ``rule`` that fails.

    Example
    -------
    >>> import soundergate
    >>> result = soundergate.run("trap.toml", nights=50, seed=3)
    >>> result.nights, 0 <= result["fraction_caught"].estimate <= 1
    (50, True)
    """
    settled = as_scenario(scenario)
    play: Player = player(settled, engine, workers, executor)
    if rule is not None:
        if executor is not None or store is not None:
            raise StudyError(
                "a rule in Python is asked here, and can neither be sent nor kept",
                key="rule", hint="leave out executor and store",
            )  # fmt: skip
        play = RulePlayer(plan_of(settled), check_rule(rule, settled, engine))
    if store is not None:
        seed = check_seed(seed)
        settings = settings_of(precision, nights, level, keep_outcomes)
        about = about_run([(Arm("", settled), play)], seed, settings)
        store.begin(about, check_nights(nights))
    try:
        return run_player(
            play,
            nights,
            precision,
            seed,
            keep_outcomes,
            progress,
            level=level,
            scenario=settled,
            store=store,
        )
    except ArmRefused as refused:  # whoever plays nights does not know what file they are of
        cause = refused.cause
        source = cause.file or settled.source
        raise ScenarioError(cause.problem, file=source, key=cause.key, hint=cause.hint) from None


def run_player(
    play: Player,
    nights: int | None = None,
    precision: float | Mapping[str, float] | str | None = None,
    seed: int | None = 1,
    keep_outcomes: bool = True,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    scenario: Scenario | None = None,
    store: Store | None = None,
) -> RunResult:
    """The same for anything that plays nights (:mod:`soundergate.studies.players`).

    A ``store`` must have begun this run.
    """
    nights, targets = check_nights(nights), check_precision(precision)
    settled_seed, level = check_seed(seed), check_level(level)

    def half_widths(sums: Sums) -> dict[str, float]:
        return {name: sums.tallies[0].interval(name, level).half_width for name in targets or ()}

    if store is not None:
        store.of([""])
    summing = Summing(keep=keep_outcomes)
    sums, ending = play_arms(
        [play], settled_seed, summing, half_widths, nights, targets, progress, store
    )
    (tally,) = sums.tallies
    return RunResult(
        nights=tally.nights,
        seed=settled_seed,
        group_size=tally.group_size,
        level=level,
        tally=tally,
        outcomes=sums.kept(0),
        scenario=scenario,
        interrupted=ending.interrupted,
        precision=targets,
        precision_reached=ending.reached,
        stored=store.nights("") if store is not None and keep_outcomes else None,
    )


def check_level(level: float) -> float:
    """Raises StudyError unless a number between 0 and 1, and of use: not all but one of them."""
    number = isinstance(level, int | float) and not isinstance(level, bool)
    if not number or not 0 < level < 1:
        raise StudyError(f"level is {level!r}; a confidence level is between 0 and 1, such as 0.95")
    if not _LEVELS[0] <= level <= _LEVELS[1]:
        low, high = _LEVELS
        raise StudyError(f"level is {level!r}; no range of use has less than {low} or more than "
                         f"{high}, such as 0.95")  # fmt: skip
    return float(level)


def summary_csv(
    results: Sequence[tuple[Mapping[str, str], RunResult]],
    path: str | os.PathLike[str] | None = None,
) -> str:
    """CSV text of results: the leading cells given for each, then one row a measure."""
    fields = ("measure", "estimate", "low", "high", "level", "unit", "nights")
    rows = (
        [*lead.values(), e.name, e.estimate, e.low, e.high, e.level, e.unit, e.nights]
        for lead, result in results
        for e in result
    )
    return csv_text([*results[0][0], *fields], rows, path)
