"""A scenario from a text or a table, and the plan of its nights."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from soundergate.engine.plan import NightPlan
from soundergate.scenario.loading import from_table, loads
from soundergate.scenario.schema import Scenario

REPLACED = ("trigger", "opening")
"""Tables whose keys depend on one another's kind: a change replaces them whole."""


def _merged(base: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    """``base`` with the tables of ``change`` laid over it, key by key."""
    whole = copy.deepcopy(dict(base))
    for key, value in change.items():
        old = whole.get(key)
        both = isinstance(value, Mapping) and isinstance(old, dict) and key not in REPLACED
        if both and not {"dist", "fixed"} & {*old, *value}:  # a quantity that varies is one value
            whole[key] = _merged(old, value)
        else:
            whole[key] = copy.deepcopy(value)
    return whole


def scenario_of(given: Scenario | Mapping[str, Any] | str, **change: Any) -> Scenario:
    """``scenario_of(text or table or Scenario, entry={...}, ...)``, with tables laid over it."""
    if isinstance(given, Scenario) and not change:
        return given
    if isinstance(given, Scenario):
        given = given.raw
    if isinstance(given, str):
        given = loads(given).raw
    return from_table(_merged(given, change))


def plan_of(given: Scenario | Mapping[str, Any] | str, **change: Any) -> NightPlan:
    """The same, solved and laid out as the plan that the engines read."""
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    scenario = scenario_of(given, **change)
    return build(scenario, solve(scenario))
