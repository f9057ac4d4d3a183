"""What a pig must be worth for the dearer of two setups to pay.

Campaigns of the two setups with the same number met the same luck, so differences are taken
campaign by campaign. Money is linear in prices: any other prices need the means and covariances of
what the campaigns took, not the campaigns again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.outcomes import Campaigns, Floats
from soundergate.seasons.money.costs import PRICES, campaign_costs
from soundergate.seasons.money.ratios import Ratio, ratio_of_means
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import Interval, finite, mean_t, t_quantile

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class CostedSetup:
    """One of the two setups compared: its name, what things cost, what its campaigns took."""

    label: str
    costs: Costs
    campaigns: Campaigns

    @property
    def pigs(self) -> Floats:
        """Pigs caught, shape (C,)."""
        return self.campaigns.caught.astype(float)

    @property
    def cost(self) -> Floats:
        """Money a campaign, shape (C,). Raises StudyError if no part of it is known."""
        total = campaign_costs(self.costs, self.campaigns).total
        if total is None:
            raise nothing_known(self.label)
        return total


def nothing_known(label: str) -> StudyError:
    hint = f"give one at least of {', '.join(PRICES[:5])}"
    return StudyError(f"no part of the cost of {label} is known", key="costs", hint=hint)


class Answer:
    """What both answers have in common."""

    def _repr_html_(self: Any) -> str:
        return str(self.table.to_html())

    def to_json(self: Any) -> dict[str, Any]:
        """A dict ready for JSON: the fields and the sentence; None for what is not finite."""
        shown = [one.name for one in fields(self) if one.repr]
        return {name: _plain(getattr(self, name)) for name in shown} | {"sentence": self.sentence}


def _plain(value: Any) -> Any:
    if isinstance(value, Ratio):
        return value.to_json()
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return finite(value)


@dataclass(frozen=True, eq=False)
class ValueBreakEven(Answer):
    """The value of a pig removed from which the setup that catches more pays.

    ``better`` catches more on average, ``other`` less; or they catch the same in every campaign,
    and ``better`` costs less. ``extra_cost`` and ``extra_pigs``: better less other a campaign, with
    t intervals over common campaigns. ``value``: their ratio with Fieller's set, in money a pig.
    ``kind``: "pays above" (a value), "always pays" (catches more, costs less), "equal catch" (in
    every campaign), "unclear catch" (the campaigns do not settle which catches more), "no
    interval". ``damages``: the damage a pig that the files state, without repeats.
    """

    better: str
    other: str
    currency: str
    campaigns: int
    extra_cost: float
    extra_cost_interval: Interval
    extra_pigs: float
    extra_pigs_interval: Interval
    value: Ratio
    kind: str
    damages: tuple[float, ...]
    covariance: np.ndarray = field(repr=False)
    """Of the means of extra cost and extra pigs, shape (2, 2)."""

    @property
    def sentence(self) -> str:
        """What it says, and where the damage that the files state lies."""
        return _VALUE_WORDS[self.kind](self) + _at_stated_damage(self)

    @property
    def told(self) -> str:
        """The sentence for those who also read of other worlds than that of the middle values."""
        return f"With every unknown at its middle value, {self.sentence}"

    def gain(self, value: Any) -> tuple[Floats, Floats, Floats]:
        """Gain of better over other a campaign: mean, low, high, at a value of a pig (or array).

        The band reaches 0 at the ends of Fieller's set.
        """
        v, s = np.asarray(value, dtype=float), self.covariance
        mean = v * self.extra_pigs - self.extra_cost
        variance = np.maximum(s[0, 0] - 2 * v * s[0, 1] + v * v * s[1, 1], 0.0)
        half = t_quantile(self.campaigns, self.value.level) * np.sqrt(variance)
        return mean, mean - half, mean + half

    @property
    def table(self) -> pd.DataFrame:
        """Extra cost, extra pigs and value: estimate, low, high."""
        import pandas as pd

        rows = {
            "extra_cost": [self.extra_cost, *self.extra_cost_interval[:2]],
            "extra_pigs": [self.extra_pigs, *self.extra_pigs_interval[:2]],
            "value": [self.value.estimate, self.value.low, self.value.high],
        }
        return pd.DataFrame.from_dict(rows, orient="index", columns=["estimate", "low", "high"])

    def plot(self, ax: Any = None) -> Any:
        """Draw the gain over the value of a pig; returns the axes."""
        from soundergate.report.figures.costs import value_line

        return value_line(self, ax)


def break_even_value(a: CostedSetup, b: CostedSetup, level: float = 0.95) -> ValueBreakEven:
    """v* = (cost of better - cost of other) / (pigs of better - pigs of other).

    Raises StudyError if the setups have different numbers of campaigns, fewer than two,
    different currencies, or no known cost.
    """
    check_pair(a, b)
    better, other = sorted((a, b), key=lambda one: (-one.pigs.mean(), one.cost.mean()))
    cost, pigs = better.cost - other.cost, better.pigs - other.pigs
    value = ratio_of_means(cost, pigs, level, divisor="the difference in pigs")
    return ValueBreakEven(
        better=better.label,
        other=other.label,
        currency=a.costs.currency,
        campaigns=len(cost),
        extra_cost=float(cost.mean()),
        extra_cost_interval=_ends(cost, level),
        extra_pigs=float(pigs.mean()),
        extra_pigs_interval=mean_t(pigs, level),
        value=value,
        kind=_kind(cost, pigs, value, level),
        damages=tuple(
            dict.fromkeys(
                one.costs.damage_per_pig for one in (a, b) if one.costs.damage_per_pig is not None
            )
        ),
        covariance=np.cov(cost, pigs) / len(cost),
    )


def _kind(cost: Floats, pigs: Floats, value: Ratio, level: float) -> str:
    if not pigs.any():
        return "equal catch"
    if value.pieces and not value.bounded:
        return "unclear catch"
    if _ends(cost, level).high < 0:
        return "always pays"
    return "pays above" if value.pieces else "no interval"


def _ends(cost: Floats, level: float) -> Interval:
    """t interval; what is the same in every campaign is known: equipment, for one."""
    if np.ptp(cost) > 0:
        return mean_t(cost, level)
    return Interval(float(cost[0]), float(cost[0]), level)


def _pays_above(r: ValueBreakEven) -> str:
    low, at, high = (
        in_money(max(end, 0.0), r.currency) for end in (r.value.low, r.value.estimate, r.value.high)
    )
    if r.value.low <= 0:
        return (
            f"{r.better} catches more than {r.other}, and the campaigns do not settle which costs "
            f"more: it pays where removing a pig is worth {high} or more, and perhaps for less."
        )
    return (
        f"{r.better} catches more and costs more than {r.other}: it pays where removing a pig is "
        f"worth more than {at} (interval {low} to {high})."
    )


def _unclear(r: ValueBreakEven) -> str:
    low, high, _ = r.extra_cost_interval
    dearer = r.better if low > 0 else r.other if high < 0 else ""
    cost = f"; {dearer} costs more" if dearer else ", or which costs more"
    words = f"whether {r.better} or {r.other} catches more pigs{cost}"
    return f"{r.campaigns} campaigns do not settle {words}: no value of a pig can be named."


def _equal(r: ValueBreakEven) -> str:
    same = f"{r.better} and {r.other} catch the same in every campaign"
    low, high, _ = r.extra_cost_interval
    less, least, most = (in_money(-end, r.currency) for end in (r.extra_cost, high, low))
    if not r.extra_cost and low == high:
        return f"{same} and cost the same."
    if high < 0:
        ends = "" if low == high else f" (interval {least} to {most})"
        return f"{same}, and {r.better} costs less: {less} less a campaign{ends}."
    return f"{same}; {r.campaigns} campaigns do not settle which costs less."


def _at_stated_damage(r: ValueBreakEven) -> str:
    """Whether it pays at the damage of a pig that the files state; nothing where none is."""
    if not r.damages or r.kind in ("always pays", "equal catch"):
        return ""
    stated = " and ".join(in_money(one, r.currency) for one in r.damages)
    if len(r.damages) > 1:
        return f" The files state different damages a pig, {stated}: neither is held against it."
    mean, low, high = (float(one) for one in r.gain(r.damages[0]))
    doubt = "" if low > 0 or high < 0 else ", but the campaigns do not settle it"
    if r.kind == "unclear catch":
        ahead = r.better if mean > 0 else r.other
        return f" At the stated damage of {stated} a pig {ahead} is ahead{doubt}."
    side = "above" if mean > 0 else "below" if mean < 0 else "at"
    pays = {"above": "pays", "below": "does not pay", "at": "breaks even"}[side]
    where = f"is {side} the break-even"
    return f" The stated damage of {stated} a pig {where}: {r.better} {pays}{doubt}."


_VALUE_WORDS: dict[str, Callable[[ValueBreakEven], str]] = {
    "pays above": _pays_above,
    "always pays": lambda r: (
        f"{r.better} catches more and costs less than {r.other}: it pays more than the other, "
        "whatever a pig is worth."
    ),
    "equal catch": _equal,
    "unclear catch": _unclear,
    "no interval": lambda r: (
        f"{r.better} was ahead of {r.other} by the same in every campaign: it pays where removing "
        f"a pig is worth more than {in_money(r.value.estimate, r.currency)}; no interval."
    ),
}


def in_money(value: float, currency: str) -> str:
    """An amount as text, "1,250 EUR"; "(money)" where no currency is named."""
    digits = 0 if abs(value) >= 100 else 2
    return f"{value:,.{digits}f} {currency or '(money)'}"


def caught_of(setup: CostedSetup) -> float:
    if not setup.pigs.any():
        raise StudyError(
            f"{setup.label} caught no pig in {len(setup.pigs)} campaigns: it has no cost per pig"
        )
    return float(setup.pigs.mean())


def check_pair(a: CostedSetup, b: CostedSetup) -> None:
    numbers = len(a.campaigns), len(b.campaigns)
    if numbers[0] != numbers[1] or numbers[0] < 2:
        raise StudyError(
            f"{a.label} has {numbers[0]} campaigns and {b.label} {numbers[1]}; a comparison needs "
            "the same campaigns of both, two at least"
        )
    if a.label == b.label:
        raise StudyError(f"both setups are called {a.label!r}; give them different names")
    if a.costs.currency != b.costs.currency:
        both = f"{a.costs.currency!r} and {b.costs.currency!r}"
        raise StudyError(f"is {both}; money is compared in one currency", key="costs.currency")
