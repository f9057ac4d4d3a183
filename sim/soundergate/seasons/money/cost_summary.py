"""What campaigns of a setup cost on average: figures a campaign, a pig and a whole group.

The campaign is the unit: a cost per pig is a ratio of means over campaigns (`ratios`), so campaigns
that caught nothing count with what they cost.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.outcomes import Campaigns, Floats
from soundergate.seasons.money.costs import PARTS, CampaignCosts, NotCounted, campaign_costs
from soundergate.seasons.money.ratios import ratio_of_means
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import finite, mean_t, wilson

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class CostFigure:
    """One figure with its interval, in ``unit``.

    nan where there is none; an infinite ``high`` is a limit that does not exist. ``why`` says so,
    and says where a figure has no luck in it and so no width.
    """

    name: str
    estimate: float
    low: float
    high: float
    level: float
    unit: str
    why: str = ""

    def to_json(self) -> dict[str, Any]:
        """{"estimate", "low", "high", "level", "unit", "why"}; None for what is not finite."""
        fields = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "name"}
        return {name: finite(value) for name, value in fields.items()}


@dataclass(frozen=True)
class CostSummary:
    """What campaigns of one setup cost.

    ``figures`` by name: cost_per_campaign, hours_per_campaign, pigs_per_campaign,
    groups_per_campaign (share of campaigns with the whole group caught), cost_per_pig,
    cost_per_group (per whole group caught), hours_per_pig, hours_per_group, prevented_per_campaign
    and net_per_campaign (damage of the first year), cost_per_prevented. ``by_part``: "money: PART"
    and "hours: PART", means a campaign with their intervals. ``campaigns`` is how many were
    simulated.
    """

    label: str
    currency: str
    campaigns: int
    level: float
    figures: dict[str, CostFigure]
    by_part: dict[str, CostFigure]
    not_counted: tuple[NotCounted, ...]

    @property
    def money(self) -> dict[str, float]:
        """Mean money a campaign, by part."""
        return self._parts("money")

    @property
    def hours(self) -> dict[str, float]:
        """Mean hours a campaign, by part."""
        return self._parts("hours")

    def _parts(self, what: str) -> dict[str, float]:
        split = {tuple(name.split(": ")): one.estimate for name, one in self.by_part.items()}
        return {part: mean for (kind, part), mean in split.items() if kind == what}

    def __getitem__(self, name: str) -> CostFigure:
        if name not in self.figures:
            raise KeyError(f"no figure is named {name!r}; there are {', '.join(self.figures)}")
        return self.figures[name]

    @property
    def table(self) -> pd.DataFrame:
        """One row a figure: estimate, low, high, level, unit, why."""
        import pandas as pd

        columns = ["estimate", "low", "high", "level", "unit", "why"]
        rows = {f.name: [getattr(f, key) for key in columns] for f in self.figures.values()}
        table = pd.DataFrame.from_dict(rows, orient="index", columns=columns)
        table.index.name = "figure"
        return table

    @property
    def parts_table(self) -> pd.DataFrame:
        """One row a part: hours and money a campaign, money a pig, and what would count it."""
        import pandas as pd

        missing = {one.part: ", ".join(one.keys) for one in self.not_counted}
        pigs = self["pigs_per_campaign"].estimate
        rows = {
            part.name: [
                self.hours.get(part.name, math.nan),
                money := self.money.get(part.name, math.nan),
                money / pigs if pigs else math.nan,
                missing.get(part.name, ""),
            ]
            for part in PARTS
            if part.name in self.money or part.name in self.hours or part.name in missing
        }
        columns = ["hours_per_campaign", "money_per_campaign", "money_per_pig", "would_count"]
        table = pd.DataFrame.from_dict(rows, orient="index", columns=columns)
        table.index.name = "part"
        return table

    def plot(self, ax: Any = None) -> Any:
        """Draw the parts of the cost per pig; returns the axes."""
        from soundergate.report.figures.costs import cost_parts

        return cost_parts([self], ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html() + self.parts_table.to_html())

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON: label, currency, campaigns, every figure, parts, not_counted."""
        return {
            "label": self.label,
            "currency": self.currency,
            "campaigns": self.campaigns,
            "level": self.level,
            **{name: figure.to_json() for name, figure in self.figures.items()},
            "money": dict(self.money),
            "hours": dict(self.hours),
            "not_counted": [
                {"part": one.part, "keys": list(one.keys), "hours_known": one.hours_known}
                for one in self.not_counted
            ],
        }


def cost_summary(
    costs: Costs, campaigns: Campaigns, label: str = "", level: float = 0.95
) -> CostSummary:
    """What campaigns cost on average, with intervals over campaigns.

    Means have Student's t interval, the share of whole groups Wilson's, ratios of means Fieller's
    (`ratios.ratio_of_means`). Raises StudyError without campaigns, or for equipment without life.
    """
    if len(campaigns) == 0:
        raise StudyError("there are no campaigns to cost; simulate at least one, better hundreds")
    spent = campaign_costs(costs, campaigns)
    figures = _figures(spent, campaigns, costs.currency or "money", level)
    return CostSummary(
        label=label,
        currency=costs.currency,
        campaigns=len(campaigns),
        level=level,
        figures={figure.name: figure for figure in figures},
        by_part={figure.name: figure for figure in _by_part(spent, costs.currency, level)},
        not_counted=spent.not_counted,
    )


@dataclass(frozen=True)
class _Known:
    """One number a campaign and its unit; why it is not known, or what it means that all are 0."""

    values: Floats | None
    unit: str
    unknown: str = ""
    none: str = ""
    least: float = -math.inf
    exact: bool = False
    """Whether chance has no part in it."""


def _figures(
    spent: CampaignCosts, campaigns: Campaigns, money: str, level: float
) -> list[CostFigure]:
    no_cost, no_damage = "no part of the cost is known", "costs.damage_per_pig is not given"
    cost = _Known(spent.total, money, no_cost, least=0.0, exact=_fixed(spent.money))
    hours = _Known(spent.total_hours, "h", "no time is given", "", 0.0, _fixed(spent.hours))
    prevented = _Known(spent.prevented, f"{money} a year", no_damage, "no damage is prevented")
    net = _Known(
        spent.net, f"{money}, first year", no_damage if prevented.values is None else no_cost
    )
    pigs = _Known(campaigns.caught.astype(float), "pig", none="no pig was caught")
    whole = campaigns.whole_group.astype(float)
    groups = _Known(whole, "whole group", none="no whole group was caught")
    caught = mean_t(campaigns.caught, level, (0.0, float(campaigns.group_size.max())))
    share = wilson(int(whole.sum()), len(whole), level)
    return [
        _mean("cost_per_campaign", cost, level),
        _mean("hours_per_campaign", hours, level),
        CostFigure("pigs_per_campaign", float(campaigns.caught.mean()), *caught, "pigs"),
        CostFigure("groups_per_campaign", float(whole.mean()), *share, "whole groups"),
        _ratio("cost_per_pig", cost, pigs, level),
        _ratio("cost_per_group", cost, groups, level),
        _ratio("hours_per_pig", hours, pigs, level),
        _ratio("hours_per_group", hours, groups, level),
        _mean("prevented_per_campaign", prevented, level),
        _mean("net_per_campaign", net, level),
        replace(
            _ratio("cost_per_prevented", cost, prevented, level), unit=f"{money} per {money} a year"
        ),
    ]


def _by_part(spent: CampaignCosts, currency: str, level: float) -> list[CostFigure]:
    fixed = {part.name: part.fixed for part in PARTS}
    return [
        _mean(f"{what}: {name}", _Known(values, unit, least=0.0, exact=fixed[name]), level)
        for what, parts, unit in (
            ("money", spent.money, currency or "money"), ("hours", spent.hours, "h"),
        )
        for name, values in parts.items()
    ]  # fmt: skip


def _fixed(parts: Mapping[str, Floats]) -> bool:
    return all(part.fixed for part in PARTS if part.name in parts)


def _mean(name: str, x: _Known, level: float) -> CostFigure:
    if x.values is None:
        return CostFigure(name, math.nan, math.nan, math.nan, level, x.unit, x.unknown)
    mean = float(np.mean(x.values))
    if x.exact:
        return CostFigure(name, mean, mean, mean, level, x.unit, "the same in every campaign")
    low, high, _ = mean_t(x.values, level)
    alike = "all campaigns gave the same" if len(x.values) > 1 else "there is one campaign"
    why = f"{alike}: no known spread" if math.isnan(low) else ""
    return CostFigure(name, mean, float(np.maximum(low, x.least)), high, level, x.unit, why)


def _ratio(name: str, x: _Known, y: _Known, level: float) -> CostFigure:
    unit = f"{x.unit} a {y.unit}"
    if x.values is None or y.values is None or not y.values.any():
        unknown = x.unknown if x.values is None else ""
        why = unknown or (y.unknown if y.values is None else y.none)
        return CostFigure(name, math.nan, math.nan, math.nan, level, unit, why)
    r = ratio_of_means(x.values, y.values, level, at_least=0.0, divisor="the mean catch")
    return CostFigure(name, r.estimate, r.low, r.high, level, unit, r.why)
