"""Nights into years: the campaign, what it costs, and the population it is up against.

These tables change no night; `soundergate.seasons` reads them. Times SI; money is plain numbers
in the user's currency, and no cost has a default: what is not given is not counted.
"""

from __future__ import annotations

from typing import Annotated

from soundergate.scenario.field_types import Share
from soundergate.scenario.fields import Choice, Flag, Number, Quantity, Text, Whole
from soundergate.scenario.register import from_register
from soundergate.scenario.toml_table import Table

AFTER_CLOSURE = "after closure"
CHECKS = ("daily", AFTER_CLOSURE)
"""When somebody goes to a set trap: every morning, or only once a gate is known to have shut."""

Money = Annotated[float, Number(at_least=0, at_most=1e9, what="an amount of money")]
Hours = Annotated[float, Quantity("time", at_least="0 s")]


class Campaign(Table):
    """Set nights one after the other until the group is caught, gone or given up."""

    set_nights: Annotated[int, Whole(at_least=1, at_most=365)] = from_register(
        "campaign.set_nights"
    )
    give_up: Annotated[int, Whole(at_least=1, at_most=365)] = from_register("campaign.give_up")
    escaped_wary: Share = from_register("campaign.escaped_wary")
    onlooker_wary: Share = from_register("campaign.onlooker_wary")
    move_away: Share = from_register("campaign.move_away")
    quiet_nights: Annotated[int, Whole(at_least=0, at_most=365)] = from_register(
        "campaign.quiet_nights"
    )
    bait_every: Annotated[int, Whole(at_least=1, at_most=60)] = from_register("campaign.bait_every")
    checks: Annotated[str, Choice(CHECKS)] = from_register("campaign.checks")
    alarm: Annotated[bool, Flag()] = from_register("campaign.alarm")


class Costs(Table):
    """What things cost; any part may be left out."""

    currency: Annotated[str, Text(longest=12)] = from_register("costs.currency")
    wage: Money | None = None
    trip: Money | None = None
    setup_time: Hours | None = None
    visit_time: Hours | None = None
    removal_time: Hours | None = None
    watch_wage: Money | None = None
    bait: Money | None = None
    equipment: Money | None = None
    equipment_campaigns: Annotated[int | None, Whole(at_least=1, at_most=10000)] = None
    data_plan: Money | None = None
    alarm: Money | None = None
    alarm_plan: Money | None = None
    damage_per_pig: Money | None = None


class Population(Table):
    """The pigs of a property."""

    sounders: Annotated[int, Whole(at_least=1, at_most=10000)] = from_register(
        "population.sounders"
    )
    growth: Annotated[float, Number(above=-1, at_most=20)] = from_register("population.growth")
    immigration: Annotated[float, Number(at_least=0, at_most=10)] = from_register(
        "population.immigration"
    )
