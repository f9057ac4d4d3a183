"""For tests anywhere: a scenario from a text or a table, and the plan of its nights."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from hypothesis import settings

from soundergate.engine.plan import NightPlan
from soundergate.scenario.loading import from_table, loads
from soundergate.scenario.schema import Scenario

# A compiled function compiles on its first call, which no deadline of an example can allow for.
settings.register_profile("soundergate", deadline=None)
settings.load_profile("soundergate")

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


def _scenario(given: Scenario | Mapping[str, Any] | str, **change: Any) -> Scenario:
    if isinstance(given, Scenario):
        given = given.raw
    if isinstance(given, str):
        given = loads(given).raw
    return from_table(_merged(given, change))


def _plan(given: Scenario | Mapping[str, Any] | str, **change: Any) -> NightPlan:
    from soundergate.engine.build import build
    from soundergate.mechanics.setup import solve

    scenario = _scenario(given, **change)
    return build(scenario, solve(scenario))


@pytest.fixture(scope="session")
def scenario_of() -> Callable[..., Scenario]:
    """``scenario_of(text or table or Scenario, entry={...}, ...)``, with tables laid over it."""
    return _scenario


@pytest.fixture(scope="session")
def plan_of() -> Callable[..., NightPlan]:
    """The same, solved and laid out as the plan that the engines read."""
    return _plan
