"""What campaigns cost: hours of people and money by part, a campaign, a pig, a whole group.

Money is linear in prices. A part of the cost is an amount (hours, trips, heaps, months) times its
price; amounts come from the campaigns, prices from the scenario's `Costs`. What is not given is
not counted, and is named together with the key that would count it. Hours are known without a
wage. The campaign is the unit: a cost per pig is a ratio of means over campaigns (`ratios`), so
campaigns that caught nothing count with what they cost.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.outcomes import Campaigns, Floats
from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    pass

MONTH_NIGHTS = 30.4375
"""Nights of a month: a twelfth of 365.25."""

SETUP_TRIPS = 2
"""Trips of a campaign besides its visits: one to set up, one to take away."""

_HOUR = 3600.0


@dataclass(frozen=True)
class Part:
    """One part of the cost: how much of it a campaign takes, and which keys of `Costs` it needs.

    ``count`` gives its number a campaign, shape (C,); times ``time`` (s each, a key) it is hours.
    ``price`` is the key that says what one costs. ``fixed``: the same in every campaign.
    """

    name: str
    price: str
    unit: str
    count: Callable[[Campaigns], Floats]
    time: str = ""
    fixed: bool = False

    @property
    def takes_time(self) -> bool:
        """Whether its amount is hours of people."""
        return self.unit == "h"


def _once(c: Campaigns) -> Floats:
    return np.ones(len(c))


PARTS: tuple[Part, ...] = (
    Part("setup labour", "wage", "h", _once, "setup_time", fixed=True),
    Part("visit labour", "wage", "h", lambda c: c.visits.astype(float), "visit_time"),
    Part("removal labour", "wage", "h", lambda c: c.captures.astype(float), "removal_time"),
    Part("watching", "watch_wage", "h", lambda c: c.watched_min / 60),
    # a removal is part of the check that finds the catch, and needs no trip of its own
    Part("travel", "trip", "trips", lambda c: c.visits.astype(float) + SETUP_TRIPS),
    Part("bait", "bait", "heaps", lambda c: c.heaps.astype(float)),
    Part("equipment", "equipment", "campaigns", _once, fixed=True),
    Part("data plan", "data_plan", "months", lambda c: c.nights / MONTH_NIGHTS),
    Part("alarm", "alarm", "campaigns", lambda c: c.alarm.astype(float), fixed=True),
    Part("alarm plan", "alarm_plan", "months", lambda c: c.alarm * c.nights / MONTH_NIGHTS),
)
"""Every part, in the order in which they are shown."""

BOUGHT = ("equipment", "alarm")
"""Prices of a purchase, of which a campaign bears a share."""

PRICES = (
    *("wage", "trip", "watch_wage", "bait", "equipment", "equipment_campaigns", "data_plan"),
    *("alarm", "alarm_plan", "damage_per_pig"),
)
"""Keys of `Costs` that money is linear in (in the reciprocal of ``equipment_campaigns``)."""


_IF_USED = ("watching", "alarm", "alarm plan")
"""Parts that are none where nobody uses them, priced or not."""


def prices_of(costs: Costs) -> dict[str, Any]:
    """The prices that are given, by key of `PRICES`."""
    return {key: value for key in PRICES if (value := getattr(costs, key)) is not None}


def price_of(part: Part, prices: Mapping[str, Any]) -> Any | None:
    """What one unit of a part costs; None if not given. Prices may be numbers or arrays.

    Raises StudyError for a purchase whose life is not given.
    """
    if part.price == "watch_wage":
        return prices.get("watch_wage", prices.get("wage"))
    price = prices.get(part.price)
    if part.price not in BOUGHT or price is None:
        return price
    if "equipment_campaigns" not in prices:
        raise StudyError(
            f"is not given, but costs.{part.price} = {price:g} is; a purchase counts as a share a "
            "campaign",
            key="costs.equipment_campaigns",
            hint=f"state over how many campaigns the {part.price} is used, or leave "
            f"costs.{part.price} out",
        )
    return price / prices["equipment_campaigns"]


def amounts(costs: Costs, campaigns: Campaigns) -> dict[str, Floats]:
    """How much of each part every campaign took, name -> shape (C,), in the part's unit.

    Whether it has a price or not. Labour whose time is not given is absent.
    """
    found = {}
    for part in PARTS:
        each = getattr(costs, part.time) if part.time else _HOUR
        if each is not None:
            found[part.name] = part.count(campaigns) * (each / _HOUR)
    return found


@dataclass(frozen=True)
class NotCounted:
    """A part that took place and is not in the money, and the keys that would count it."""

    part: str
    keys: tuple[str, ...]
    hours_known: bool
    """Whether its hours are counted; False too for parts that take no hours."""

    @property
    def what(self) -> str:
        """ "hours of setup labour": of labour the hours are left out, its trips are travel."""
        return f"hours of {self.part}" if self.part.endswith(" labour") else self.part

    @property
    def words(self) -> str:
        """ "visit labour (costs.visit_time, costs.wage)"."""
        return f"{self.part} ({', '.join(self.keys)})"


@dataclass(frozen=True)
class CampaignCosts:
    """What each of C campaigns cost; arrays of shape (C,), by name of part, only those known.

    ``money`` in the currency of the scenario, ``hours`` of people (h), ``prevented`` damage a year
    by the animals caught, None if ``costs.damage_per_pig`` is not given.
    """

    money: dict[str, Floats]
    hours: dict[str, Floats]
    prevented: Floats | None
    not_counted: tuple[NotCounted, ...]

    @property
    def total(self) -> Floats | None:
        """Money of all parts; None if no part has a price."""
        return np.sum(list(self.money.values()), axis=0) if self.money else None

    @property
    def total_hours(self) -> Floats | None:
        """Hours of all parts; None if none is known."""
        return np.sum(list(self.hours.values()), axis=0) if self.hours else None

    @property
    def net(self) -> Floats | None:
        """Prevented damage of the first year less cost; None if either is not known."""
        total = self.total
        return None if total is None or self.prevented is None else self.prevented - total


def campaign_costs(costs: Costs, campaigns: Campaigns) -> CampaignCosts:
    """Money and hours of every campaign, by part. Watching is a part only if anybody watched, an
    alarm only where there is one, and a data plan if anybody watched or if it has a price.

    Raises StudyError for a purchase without its life in campaigns.
    """
    prices, known = prices_of(costs), amounts(costs, campaigns)
    for part in PARTS:
        if part.name in _IF_USED and not part.count(campaigns).any():
            del known[part.name]
    money: dict[str, Floats] = {}
    for part in PARTS:
        if part.name in known and (price := price_of(part, prices)) is not None:
            money[part.name] = price * known[part.name]
    hours = {
        part.name: known[part.name] for part in PARTS if part.takes_time and part.name in known
    }
    damage = costs.damage_per_pig
    return CampaignCosts(
        money=money,
        hours=hours,
        prevented=None if damage is None else damage * campaigns.caught.astype(float),
        not_counted=tuple(
            NotCounted(part.name, _missing(part, costs), part.name in hours)
            for part in PARTS
            if part.name not in money and _took_place(part, campaigns)
        ),
    )


def _took_place(part: Part, campaigns: Campaigns) -> bool:
    if part.name == "data plan":  # which nobody needs who does not look at the trap from afar
        return bool(campaigns.watched_min.any())
    return bool(part.count(campaigns).any())


def _missing(part: Part, costs: Costs) -> tuple[str, ...]:
    keys = [part.time, part.price, *(["equipment_campaigns"] if part.price in BOUGHT else [])]
    return tuple(f"costs.{key}" for key in keys if key and getattr(costs, key) is None)
