"""What campaigns do to the pigs of a property: how many hold their number, and what is left after.

Figures of growth disagree, so each is asked: the scenario's own and every reading of those that are
published (`published`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from soundergate.scenario.register import entry
from soundergate.seasons.population.projection import (
    NONE,
    VARIANCE_RATIO,
    Dynamics,
    Projection,
    Ranges,
    Removal,
    at_rates,
    expected,
    project,
    years_below_the_most,
    years_until,
)
from soundergate.seasons.population.published import (
    WHY_THEY_DIFFER,
    Reading,
    ends,
    own_reading,
    readings,
)
from soundergate.seasons.population.removal_share import AFTER, Timing, stopping_shares, within
from soundergate.studies.errors import StudyError
from soundergate.studies.seeds import check_seed

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.scenario.planning import Population


OVER_RANGES = ", over the ranges"
"""Ends the name of a projection in which growth and immigration are anywhere in their ranges."""


@dataclass(frozen=True)
class Catch:
    """Pigs caught a campaign: mean, and an interval or range for it."""

    mean: float
    low: float
    high: float

    def __post_init__(self) -> None:
        within("caught", self.mean, 0, 10_000, above=True)
        within("caught_low", self.low, 0, self.mean)
        within("caught_high", self.high, self.mean, 10_000)


@dataclass(frozen=True)
class Outlook:
    """What ``campaigns`` a year with ``catch`` pigs each do to the pigs of a property.

    ``wished``: share of the first pigs to come down to. ``projections`` by name: without removal
    and with it, at the file's own growth and immigration and over ``ranges`` of both.
    """

    dynamics: Dynamics
    catch: Catch
    campaigns: float
    wished: float
    ranges: Ranges
    projections: dict[str, Projection] = field(repr=False)

    @property
    def share(self) -> float:
        """Share to remove a year to stop growth, of the pigs there then; nan if none does."""
        return self.readings[0].share[0]

    @cached_property
    def readings(self) -> list[Reading]:
        """The scenario's own growth, then every reading of the published figures."""
        d = self.dynamics
        own = own_reading(d.growth_factor, d.immigration, d.timing)
        return [own, *readings(d.immigration, d.timing)]

    @property
    def table(self) -> pd.DataFrame:
        """One row a figure of growth: pigs and campaigns a year that hold the level.

        ``campaigns_low`` and ``_high`` span growth and catch together. ``years`` to the wished
        share with the campaigns planned, ``_best`` and ``_worst`` likewise; inf for never. A catch
        that stays the same is assumed, though few pigs are harder to find.
        """
        import pandas as pd

        return pd.DataFrame(self._needs())

    @property
    def published(self) -> pd.DataFrame:
        """One row a reading of a figure: what is printed, what follows, what to beware of."""
        import pandas as pd

        return pd.DataFrame([one.row() for one in self.readings])

    @property
    def over_ranges(self) -> pd.DataFrame:
        """One row a corner of the ranges and the scenario's own: share, campaigns, pigs left."""
        import pandas as pd

        return pd.DataFrame(self._corners())

    def plot(self, ax: Any = None, what: str = "share") -> Any:
        """Draw the "share" that stops growth, or the "projection"; returns the axes."""
        from soundergate.report.figures import population as population_figure

        if what not in ("share", "projection"):
            raise StudyError("no such picture", key="what", value=what, hint="share or projection")
        if what == "share":
            return population_figure.stopping_curves(self, ax)
        return population_figure.projections(self.projections, ax)

    def _repr_html_(self) -> str:
        reasons = "".join(f"<li>{one}</li>" for one in WHY_THEY_DIFFER)
        tables = (self.table.to_html(), self.published.to_html(), self.over_ranges.to_html())
        return f"{tables[0]}{tables[1]}<p>Why figures may differ:</p><ul>{reasons}</ul>{tables[2]}"

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON; None for nan, "never" for inf."""
        data = {
            "share_to_stop_growth": self.share,
            "timing": self.dynamics.timing,
            "catch": vars(self.catch),
            "campaigns": self.campaigns,
            "wished_share": self.wished,
            "needs": self._needs(),
            "published": [one.row() for one in self.readings],
            "why_figures_differ": list(WHY_THEY_DIFFER),
            "over_ranges": self._corners(),
            "projections": {name: one.to_json() for name, one in self.projections.items()},
        }
        return dict(_plain(data))

    def _needs(self) -> list[dict[str, Any]]:
        return [self._need(one) for one in self.readings if one.for_plans]

    def _need(self, one: Reading) -> dict[str, Any]:
        low, high = one.growth_factor
        pigs = [self._held(factor) for factor in (low, (low + high) / 2, high)]
        caught = self.catch
        row: dict[str, Any] = {"figure": one.figure.name, "read_as": one.read_as}
        row |= ends("growth_factor", one.growth_factor) | ends("share", one.share)
        return row | {
            "pigs_a_year": pigs[1],
            "campaigns": pigs[1] / caught.mean,
            "campaigns_low": pigs[0] / caught.high,
            "campaigns_high": pigs[2] / caught.low if caught.low else math.inf,
            "years": self._years((low + high) / 2, caught.mean),
            "years_best": self._years(low, caught.high),
            "years_worst": self._years(high, caught.low),
        }

    def _held(self, factor: float) -> float:
        """Pigs to remove a year after births to hold the level; nan if they exceed those there."""
        d = self.dynamics
        if math.isnan(factor) or math.isnan(stopping_shares(factor, d.immigration, d.timing)):
            return math.nan
        return max(d.pigs * (factor - 1 + d.immigration), 0.0)

    def _years(self, factor: float, caught: float) -> float:
        if math.isnan(factor):
            return math.nan
        removal = Removal.of_campaigns(self.campaigns, caught)
        return years_until(replace(self.dynamics, growth_factor=factor), removal, self.wished)

    def _corners(self) -> list[dict[str, float]]:
        d, planned = self.dynamics, self.projections["with removal"]
        growths = sorted({*self.ranges.growth, d.growth_factor - 1})
        rows = []
        for growth in growths:
            for i in sorted({*self.ranges.immigration, d.immigration}):
                here = at_rates(d, growth, i)
                held = replace(self, dynamics=here)._held(1 + growth)
                rows.append(
                    {
                        "growth": growth,
                        "immigration": i,
                        "share": float(stopping_shares(1 + growth, i, d.timing)),
                        "pigs_a_year": held,
                        "campaigns": held / self.catch.mean,
                        "pigs_left": float(expected(here, planned.removal, planned.years)[-1]),
                    }
                )
        return rows


def outlook(
    population: Population,
    group_size: float,
    catch: Catch,
    campaigns: float,
    *,
    wished: float = 0.5,
    years: int = 10,
    runs: int = 2000,
    seed: int | None = 0,
    timing: Timing = AFTER,
    variance_ratio: float = VARIANCE_RATIO,
    whole_sounders: bool = False,
    ranges: Ranges | None = None,
) -> Outlook:
    """The pigs of a scenario's ``population`` under a plan of ``campaigns`` a year.

    There are sounders times ``group_size`` (mean) of them. ``ranges`` are the register's unless
    given, stretched to the scenario's own values. Of ``years`` only so many are played as the
    fastest growth leaves numbers that can be. With ``whole_sounders`` as many as a campaign
    catches on average, rounded, go together. Raises StudyError for numbers that cannot be.
    """
    within("group_size", group_size, 1, 1000)
    pigs = round(population.sounders * group_size)
    factor, i = 1 + population.growth, population.immigration
    start = Dynamics(pigs, factor, i, timing, variance_ratio)
    spans = ranges or Ranges(_span("growth", population.growth), _span("immigration", i))
    together = max(round(catch.mean), 1) if whole_sounders else 1
    removal = Removal.of_campaigns(campaigns, catch.mean, together)
    chosen = check_seed(seed)
    fastest = at_rates(start, spans.growth[1], spans.immigration[1])
    years = years_below_the_most(fastest, years)

    def play(removal: Removal, over: Ranges | None = None) -> Projection:
        return project(start, removal, years, runs=runs, seed=chosen, ranges=over)

    plays = {
        "without removal": play(NONE),
        "with removal": play(removal),
        f"without removal{OVER_RANGES}": play(NONE, spans),
        f"with removal{OVER_RANGES}": play(removal, spans),
    }
    return Outlook(start, catch, campaigns, within("wished", wished, 0, 1), spans, plays)


def _span(name: str, own: float) -> tuple[float, float]:
    known = entry(f"population.{name}")
    return min(known.low, own), max(known.high, own)


def _plain(value: Any) -> Any:
    """Without the numbers that JSON has no word for."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, float) and not math.isfinite(value):
        return "never" if value > 0 else None
    return value
