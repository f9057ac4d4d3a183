"""What a campaign goes by: how long it lasts, who goes there when, and what animals learn."""

from __future__ import annotations

from typing import NamedTuple

from soundergate.scenario.schema import Scenario


class Rules(NamedTuple):
    """Plain numbers of a scenario's `[campaign]` and `[training]`."""

    pre_bait_nights: int
    set_nights: int
    """Nights that the trap is set at most."""
    give_up: int
    """Set nights in a row without anybody new, after which it is taken away."""
    escaped_wary: float
    """Share of those that were inside at the release and got away that enter no more."""
    onlooker_wary: float
    """The same of those that saw it from outside."""
    move_away: float
    """Chance that the group stops visiting after a failed closure."""
    quiet_nights: int
    """Nights without visits of pigs after a failed closure."""
    bait_every: int
    """Nights from one visit with bait to the next, where nobody comes daily anyway."""
    daily: bool
    """Whether somebody goes to a set trap every morning, or only after a gate has shut."""
    alarm: bool
    """Whether an alarm tells that a gate has shut."""


def rules_of(scenario: Scenario) -> Rules:
    """The rules that a scenario states."""
    given = scenario.campaign
    return Rules(
        pre_bait_nights=scenario.training.nights,
        set_nights=given.set_nights,
        give_up=given.give_up,
        escaped_wary=given.escaped_wary,
        onlooker_wary=given.onlooker_wary,
        move_away=given.move_away,
        quiet_nights=given.quiet_nights,
        bait_every=given.bait_every,
        daily=given.checks == "daily",
        alarm=given.alarm,
    )
