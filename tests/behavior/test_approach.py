"""By which opening a subgroup comes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from soundergate.behavior.approach import shares

GATE = {"width": "2 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture
def share_of(scenario_of):
    def found(*bearings: float, **arrival: str) -> np.ndarray:
        table = {
            "sounder": {"sows": 1},
            "opening": [{**GATE, "bearing": f"{b} deg"} for b in bearings],
            "trigger": {"kind": "none"},
            "arrival": arrival,
        }
        return shares(scenario_of(table))

    return found


def test_the_only_one_is_the_nearest(share_of) -> None:
    assert share_of(70).tolist() == [1.0]


def test_opposite_openings_part_the_circle_in_halves(share_of) -> None:
    """Beyond a quarter turn to either side; turns beyond a half are too rare to count at 45 deg."""
    near = 2 * stats.norm.cdf(90 / 45) - 1
    np.testing.assert_allclose(share_of(0, 180, bearing_scatter="45 deg"), [near, 1 - near],
                               atol=1e-6)  # fmt: skip


def test_a_normal_wrapped_round_the_circle(share_of) -> None:
    """Against 400,000 bearings drawn and turned, one standard error of 0.0008."""
    bearings, sd = np.array([20.0, 110.0, 300.0]), 140.0
    found = share_of(*bearings, bearing="250 deg", bearing_scatter=f"{sd} deg")
    drawn = np.random.default_rng(5).normal(250.0, sd, 400_000)
    apart = np.abs((drawn[:, None] - bearings + 180.0) % 360.0 - 180.0)
    counted = np.bincount(apart.argmin(axis=1), minlength=3) / len(drawn)
    np.testing.assert_allclose(found, counted, atol=0.004)
    assert found.sum() == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(("bearing", "nearest"), [(0, 0), (59, 0), (61, 1), (200, 2), (-59, 0)])
def test_without_scatter_the_nearest_is_taken(bearing, nearest, share_of) -> None:
    found = share_of(0, 120, 240, bearing=f"{bearing} deg", bearing_scatter="0 deg")
    assert found.argmax() == nearest
    assert found.max() == 1.0


def test_from_anywhere_all_are_alike(share_of) -> None:
    found = share_of(0, 90, 180, 270, bearing_scatter="720 deg")
    np.testing.assert_allclose(found, 0.25, atol=1e-3)
    assert math.isclose(found.sum(), 1.0)
