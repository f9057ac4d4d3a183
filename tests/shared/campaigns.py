"""Invented campaigns, and prices to cost them by."""

from __future__ import annotations

from typing import Any

import numpy as np

from soundergate.seasons.campaigns.outcomes import Campaigns

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


def campaigns_of(
    size: np.ndarray, caught: np.ndarray, nights: np.ndarray, **more: Any
) -> Campaigns:
    """Campaigns of a week's baiting and ``nights`` set nights; ``more`` replaces columns."""
    none = np.zeros(len(size), dtype=np.int64)
    columns: dict[str, Any] = {
        "group_size": size,
        "caught": caught,
        "wary": none,
        "nights": nights + 7,
        "pre_bait_nights": none + 7,
        "set_nights": nights,
        "idle_nights": none,
        "quiet_nights": none,
        "pre_bait_visits": none + 3,
        "bait_visits": none + 1,
        "check_visits": nights,
        "heaps": nights + 3,
        "captures": (caught > 0).astype(np.int64),
        "failed_closures": none,
        "struck": none,
        "watched_min": 0.0 * nights,
        "moved_away": none.astype(bool),
        "gave_up": none.astype(bool),
        "alarm": none.astype(bool),
    }
    return Campaigns(**columns | more)


def make(chance: float, n: int = 200, watch: float = 0.0, seed: int = 7) -> Campaigns:
    """Campaigns on common luck: the higher the chance, the more of the group is caught."""
    rng = np.random.default_rng(seed)
    size = rng.integers(5, 14, n)
    caught = np.array([int((rng.random(k) < chance).sum()) for k in size])
    nights = rng.geometric(0.2, n)
    return campaigns_of(size, caught, nights, watched_min=watch * nights)
