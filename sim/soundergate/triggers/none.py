"""No trigger: the engines read no numbers of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.none import NoTrigger


def row(none: NoTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """The numbers that the engines read: none."""
    return {}


def durations(none: NoTrigger) -> dict[str, Duration]:
    """The times that the engines draw: none."""
    return {}
