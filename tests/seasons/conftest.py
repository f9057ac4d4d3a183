"""Setups whose campaigns are played; all of them invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from shared.campaigns import PRICES
from shared.campaigns import make as make_campaigns
from shared.traps import solenoid_trap
from soundergate.scenario.loading import from_table
from soundergate.scenario.planning import Costs
from soundergate.scenario.schema import Scenario
from soundergate.seasons.campaigns.outcomes import Campaigns
from soundergate.seasons.money.break_even import CostedSetup

COUNTED: dict[str, Any] = {
    "trigger": {"kind": "counter", "count": 4},
    "training": {"nights": 3},
}


@pytest.fixture(scope="session")
def made() -> Callable[..., Scenario]:
    """``made(campaign={...})``: a solenoid trap with a counting sensor, and tables changed."""
    return lambda **tables: from_table(solenoid_trap(**COUNTED | tables))


def _pair(first: float = 0.5, second: float = 0.75, n: int = 200, **more: Any) -> tuple[Any, Any]:
    """A cheap trap, and a dear one that catches more."""
    cheap = CostedSetup("line", Costs(equipment=900, **PRICES), make_campaigns(first, n))
    dear = Costs(equipment=4200, data_plan=30, **PRICES | more)
    return cheap, CostedSetup("remote", dear, make_campaigns(second, n, watch=15.0))


def _with_catch(setup: CostedSetup, caught: Any) -> CostedSetup:
    campaigns = dataclasses.replace(setup.campaigns, caught=np.asarray(caught))
    return dataclasses.replace(setup, campaigns=campaigns)


@pytest.fixture(scope="session")
def make() -> Callable[..., Campaigns]:
    """``make(chance, n, watch, seed)``: invented campaigns on common luck."""
    return make_campaigns


@pytest.fixture(scope="session")
def pair() -> Callable[..., tuple[CostedSetup, CostedSetup]]:
    """``pair(first, second, n, **prices)``: a cheap trap, and a dear one that catches more."""
    return _pair


@pytest.fixture(scope="session")
def with_catch() -> Callable[..., CostedSetup]:
    """``with_catch(setup, caught)``: the setup with another catch."""
    return _with_catch
