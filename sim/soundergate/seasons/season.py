"""`season`: campaigns of one or several setups, what they cost, and the population they are up to.

Setups meet the same luck campaign by campaign, so differences are taken campaign by campaign.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.money.break_even import CostedSetup, ValueBreakEven, break_even_value
from soundergate.seasons.money.price_surface import BreakEvenSurface, break_even_surface
from soundergate.seasons.population.outlook import Catch, Outlook, outlook
from soundergate.seasons.setups import SetupSeason, play_setup
from soundergate.seasons.unknowns import Moved, move_unknowns
from soundergate.studies.arms import Setups, Vary, check_arms, make_arms
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import mean_t
from soundergate.studies.estimates.stopping import Counter, Progress
from soundergate.studies.estimates.tally import Estimate
from soundergate.studies.options import checked
from soundergate.studies.players import check_engine, check_workers
from soundergate.studies.seeds import check_seed

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.schema import Scenario

DEFAULT_CAMPAIGNS = 10_000
MOST_CAMPAIGNS = 1_000_000
COMPARED = ("fraction_caught", "caught", "nights", "visits", "watched_hours")
"""Figures whose differences between setups are shown."""

SURFACE = ("wage", "trip")
"""Prices over which setups are set against each other: they differ most from place to place."""


@dataclass(frozen=True)
class Gain:
    """How much more of a figure the second setup has than the first, on common campaigns."""

    first: str
    second: str
    estimate: Estimate

    @property
    def settled(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.estimate.low > 0 or self.estimate.high < 0

    def to_json(self) -> dict[str, Any]:
        """{"first", "second", "measure", "estimate", "low", "high", "level"}."""
        names = {"first": self.first, "second": self.second, "measure": self.estimate.name}
        return names | self.estimate.to_json()


@dataclass(frozen=True)
class SeasonResult:
    """Setups side by side, and for each what moves with the least known of its assumptions."""

    setups: tuple[SetupSeason, ...]
    seed: int
    level: float
    campaigns_a_year: float
    unknowns: tuple[tuple[Moved, ...], ...] = field(repr=False)
    pairs: tuple[tuple[int, int], ...] = field(repr=False)
    """Numbers of the setups that are set against each other, like with like: see `pairs_of`."""
    a_year_by_default: bool = False
    """Whether nobody said how many campaigns a year there are."""

    @property
    def compared(self) -> tuple[tuple[SetupSeason, SetupSeason], ...]:
        """The setups that are set against each other."""
        return tuple((self.setups[i], self.setups[j]) for i, j in self.pairs)

    @property
    def campaigns(self) -> int:
        """Campaigns of each setup."""
        return self.setups[0].campaigns

    def __getitem__(self, name: str) -> SetupSeason:
        for setup in self.setups:
            if setup.name == name:
                return setup
        known = ", ".join(setup.name for setup in self.setups)
        raise StudyError("no such setup", key=name, hint=f"wanted one of {known}")

    @cached_property
    def gains(self) -> tuple[Gain, ...]:
        """How much more the second of each pair has of what differs."""
        return tuple(_gain(name, *pair, self.level) for pair in self.compared for name in COMPARED)

    @cached_property
    def break_even(self) -> tuple[ValueBreakEven, ...]:
        """Of each pair: what a pig must be worth; none without prices."""
        return tuple(
            break_even_value(costed(first), costed(other), self.level)
            for first, other in self.compared
            if first.any_price and other.any_price
        )

    @cached_property
    def surfaces(self) -> tuple[BreakEvenSurface, ...]:
        """Each pair over the wage and the price of a trip; `no_maps` says why one has none."""
        return tuple(
            break_even_surface(costed(first), costed(other), *SURFACE, level=self.level)
            for first, other in self.compared
            if not _hinders(first, other)
        )

    @property
    def no_maps(self) -> tuple[str, ...]:
        """A sentence for each pair that has prices and no surface: why not."""
        return tuple(
            f"No map of prices for {first.name} and {other.name}: {why}."
            for first, other in self.compared
            if (first.any_price or other.any_price) and (why := _hinders(first, other))
        )

    @cached_property
    def outlooks(self) -> tuple[Outlook | None, ...]:
        """What so many campaigns a year do to the pigs of the property, one a setup; None for one
        that never caught a pig."""
        return tuple(self._outlook(setup) for setup in self.setups)

    @property
    def shown_outlook(self) -> tuple[Outlook, str] | None:
        """The first outlook that there is, and the name of its setup."""
        both = zip(self.outlooks, self.setups, strict=True)
        return next(((outlook, setup.name) for outlook, setup in both if outlook), None)

    def _outlook(self, setup: SetupSeason) -> Outlook | None:
        caught = setup["caught"]
        if caught.estimate == 0:
            return None
        size = float(setup.course.campaigns.group_size.mean())
        high = min(caught.high, size) if np.isfinite(caught.high) else caught.estimate
        low = max(caught.low, 0.0) if np.isfinite(caught.low) else caught.estimate
        return outlook(
            setup.scenario.population,
            size,
            Catch(caught.estimate, low, high),
            self.campaigns_a_year,
            seed=self.seed,
        )

    @property
    def table(self) -> pd.DataFrame:
        """One row a setup and figure: estimate, low, high, level, unit."""
        import pandas as pd

        tables = [setup.table for setup in self.setups]
        for setup, table in zip(self.setups, tables, strict=True):
            table.insert(0, "setup", setup.name)
        return pd.concat(tables)

    def plot(self, ax: Any = None) -> Any:
        """Draw the share of the group caught night by night; returns the axes."""
        from soundergate.report.figures.season import caught_by_night

        return caught_by_night(self.setups, ax)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import season, table

        return table.html(*season.season_tables(self))

    def to_json(self) -> dict[str, Any]:
        """All figures, ready for JSON."""
        return {
            "campaigns": self.campaigns,
            "seed": self.seed,
            "campaigns_a_year": self.campaigns_a_year,
            "setups": [
                setup.to_json() | {"unknowns": [one.to_json() for one in moved]}
                for setup, moved in zip(self.setups, self.unknowns, strict=True)
            ],
            "gains": [gain.to_json() for gain in self.gains],
            "break_even": [one.to_json() for one in self.break_even],
            "surfaces": [one.to_json() for one in self.surfaces],
            "no_maps": list(self.no_maps),
            "population": [None if one is None else one.to_json() for one in self.outlooks],
        }


def costed(setup: SetupSeason) -> CostedSetup:
    """A setup as `money.break_even` wants it."""
    return CostedSetup(setup.name, setup.prices, setup.course.campaigns)


def _hinders(first: SetupSeason, other: SetupSeason) -> str:
    """Why two setups have no map of prices; empty if nothing hinders one."""
    for setup in (first, other):
        if not setup.any_price:
            return f"nothing is known of what {setup.name} costs"
    for key in SURFACE:
        ours, theirs = (getattr(setup.prices, key) for setup in (first, other))
        if ours is None and theirs is None:
            return f"costs.{key} is not given"
        if ours is None or theirs is None:
            return f"costs.{key} is not given in {(first if ours is None else other).name}"
        if ours != theirs:
            each = f"{ours:g} in {first.name} and {theirs:g} in {other.name}"
            return f"costs.{key} is {each}; a map moves one price in both, so give both the same"
        if ours == 0:
            return f"costs.{key} is 0, so there is no range around it"
    for setup in (first, other):
        if setup["caught"].estimate == 0:
            return f"{setup.name} caught no pig, so it has no cost a pig"
    return ""


def pairs_of(sets: Sequence[Mapping[str, Any]]) -> tuple[tuple[int, int], ...]:
    """Which setups to set against each other, given the values that were varied in each.

    Several files: each later one against the first, at the same values. One file: each combination
    of values against the first.
    """
    earlier = [next(i for i, one in enumerate(sets) if one == given) for given in sets]
    if len(set(earlier)) == len(sets):  # one file, or none alike
        return tuple((0, j) for j in range(1, len(sets)))
    return tuple((i, j) for j, i in enumerate(earlier) if i != j)


def _gain(name: str, first: SetupSeason, second: SetupSeason, level: float) -> Gain:
    question = QUESTIONS[name]
    one, other = (np.asarray(question.answer(s.course.campaigns), float) for s in (first, second))
    interval = mean_t(other - one, level, (-1.0, 1.0) if question.share else None)
    estimate = Estimate(
        name,
        float((other - one).mean()),
        interval.low,
        interval.high,
        level,
        question.unit,
        len(one),
    )
    return Gain(first.name, second.name, estimate)


def check_campaigns(campaigns: int | None) -> int:
    """How many to play. Raises StudyError unless None or a whole number that can be played."""
    if campaigns is None:
        return DEFAULT_CAMPAIGNS
    whole = isinstance(campaigns, int) and not isinstance(campaigns, bool)
    if not whole or not 2 <= campaigns <= MOST_CAMPAIGNS:
        raise StudyError(
            f"campaigns is {campaigns!r}; wanted a whole number from 2 to {MOST_CAMPAIGNS}"
        )
    return campaigns


@checked
def season(
    scenarios: Setups,
    vary: Vary | None = None,
    campaigns: int | None = None,
    seed: int | None = 1,
    workers: int | None = None,
    engine: str = "batch",
    *,
    campaigns_a_year: float | None = None,
    level: float = 0.95,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> SeasonResult:
    """Play campaigns of one or several setups.

    Parameters
    ----------
    scenarios : path, dict or Scenario, or several
        As for `load`.
    vary : dict, str or several, optional
        As for `compare`: {"campaign.set_nights": [3, 5, 10]} makes setups of it. With several
        files, those with the same values are set against each other.
    campaigns : int, optional
        Campaigns of each setup, 10,000 if not said.
    campaigns_a_year : float, optional
        For the population; one for every sounder of the property if not said.
    seed, workers, engine, level, executor, progress : as for `run`

    Returns
    -------
    SeasonResult

    Raises
    ------
    ScenarioError
        For bad input, also as StudyError.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.season("trap.toml", {"campaign.set_nights": [1, 2]}, campaigns=10)
    >>> len(found.setups), found.campaigns
    (2, 10)
    """
    check_engine(engine)
    check_workers(workers)
    arms = make_arms(scenarios, vary)
    check_arms([arm.name for arm in arms])
    _check_currencies([arm.scenario for arm in arms])
    count, number, level = check_campaigns(campaigns), check_seed(seed), check_level(level)
    a_year = _check_a_year(campaigns_a_year, arms[0].scenario)
    tell = Counter(progress, count * len(arms))
    given: Mapping[str, Any] = {
        "workers": workers, "engine": engine, "executor": executor, "advance": tell,
    }  # fmt: skip
    setups = tuple(
        play_setup(arm.name, arm.scenario, count, number, level, **given) for arm in arms
    )
    unknowns = tuple(move_unknowns(setup, workers=workers, engine=engine) for setup in setups)
    pairs = pairs_of([arm.set for arm in arms])
    return SeasonResult(setups, number, level, a_year, unknowns, pairs, campaigns_a_year is None)


def _check_currencies(scenarios: Sequence[Scenario]) -> None:
    """Prices in two currencies cannot be set against each other."""
    named = {s.costs.currency: None for s in scenarios if s.costs and s.costs.currency}
    if len(named) > 1:
        raise StudyError(
            f"is {' and '.join(map(repr, named))}; setups are compared in one currency",
            key="costs.currency",
            hint="give all prices in the same, or play one file at a time",
        )


def _check_a_year(given: float | None, scenario: Scenario) -> float:
    if given is None:
        return float(scenario.population.sounders)
    number = isinstance(given, int | float) and not isinstance(given, bool)
    if not number or not 0 <= given <= 10_000:
        raise StudyError(
            f"campaigns a year is {given!r}; wanted a number from 0 to 10000, such as 6"
        )
    return float(given)
