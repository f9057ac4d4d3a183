"""Setups whose campaigns are played; all of them invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from soundergate.scenario.loading import from_table
from soundergate.scenario.planning import Costs
from soundergate.scenario.schema import Scenario
from soundergate.seasons.campaigns.outcomes import Campaigns
from soundergate.seasons.money.break_even import CostedSetup

BASE: dict[str, Any] = {
    "title": "Invented: a trap that nobody has built",
    "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
    "opening": [
        {
            "width": "4 ft",
            "height": "3 ft",
            "gate": {"kind": "drop", "sheet": "14 gauge"},
            "latch": {
                "kind": "pin",
                "puller": "solenoid",
                "pull": "25 lbf",
                "lever": 4,
                "engaged": "1/8 in",
            },
        }
    ],
    "trigger": {"kind": "counter", "count": 4},
    "training": {"nights": 3},
}


@pytest.fixture(scope="session")
def made() -> Callable[..., Scenario]:
    """``made(campaign={...})``: the scenario above with tables changed."""
    return lambda **tables: from_table({**BASE, **tables})


def _make(chance: float, n: int = 200, watch: float = 0.0, seed: int = 7) -> Campaigns:
    """Invented campaigns on common luck: the higher the chance, the more of the group is caught."""
    rng = np.random.default_rng(seed)
    size = rng.integers(5, 14, n)
    caught = np.array([int((rng.random(k) < chance).sum()) for k in size])
    nights, none = rng.geometric(0.2, n), np.zeros(n, dtype=np.int64)
    return Campaigns(
        group_size=size,
        caught=caught,
        wary=none,
        nights=nights + 7,
        pre_bait_nights=none + 7,
        set_nights=nights,
        idle_nights=none,
        quiet_nights=none,
        pre_bait_visits=none + 3,
        bait_visits=none + 1,
        check_visits=nights,
        heaps=nights + 3,
        captures=(caught > 0).astype(np.int64),
        failed_closures=none,
        struck=none,
        watched_min=watch * nights,
        moved_away=none.astype(bool),
        gave_up=none.astype(bool),
        alarm=none.astype(bool),
    )


PRICES: dict[str, Any] = {
    "wage": 20.0,
    "trip": 15.0,
    "setup_time": "6 h",
    "visit_time": "45 min",
    "removal_time": "2 h",
    "bait": 12.0,
    "equipment_campaigns": 40,
    "damage_per_pig": 300.0,
    "currency": "EUR",
}


def _pair(first: float = 0.5, second: float = 0.75, n: int = 200, **more: Any) -> tuple[Any, Any]:
    """A cheap trap, and a dear one that catches more."""
    cheap = CostedSetup("line", Costs(equipment=900, **PRICES), _make(first, n))
    dear = Costs(equipment=4200, data_plan=30, **PRICES | more)
    return cheap, CostedSetup("remote", dear, _make(second, n, watch=15.0))


def _with_catch(setup: CostedSetup, caught: Any) -> CostedSetup:
    campaigns = dataclasses.replace(setup.campaigns, caught=np.asarray(caught))
    return dataclasses.replace(setup, campaigns=campaigns)


@pytest.fixture(scope="session")
def make() -> Callable[..., Campaigns]:
    """``make(chance, n, watch, seed)``: invented campaigns on common luck."""
    return _make


@pytest.fixture(scope="session")
def pair() -> Callable[..., tuple[CostedSetup, CostedSetup]]:
    """``pair(first, second, n, **prices)``: a cheap trap, and a dear one that catches more."""
    return _pair


@pytest.fixture(scope="session")
def with_catch() -> Callable[..., CostedSetup]:
    """``with_catch(setup, caught)``: the setup with another catch."""
    return _with_catch
