"""Holding load against closing time, over set angle and over counterweight."""

from collections.abc import Callable
from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest

from soundergate.mechanics.advice.trade_off import (
    ANGLES,
    both_ways,
    over_counterweight,
    over_set_angle,
)
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


def test_nearer_upright_holds_less_and_shuts_later(trap: Trap) -> None:
    found = over_set_angle(trap({"kind": "top-hinged", "mass": "20 kg"}))
    steep = found.value >= pi / 2.0
    assert (np.diff(found.holding_load[steep]) < 0.0).all()
    assert (np.diff(found.shut_time) > 0.0).all()
    assert (np.diff(found.juvenile_time) > 0.0).all()
    np.testing.assert_allclose(
        found.holding_load, 10.0 * GRAVITY * np.sin(np.array(ANGLES)), rtol=1e-9
    )
    assert found.pull_required[0] == pytest.approx(0.8 * found.holding_load[0])
    assert list(found.table["value"]) == list(found.value)
    assert "setting" not in found.table


def test_a_heavier_counterweight_holds_less_and_falls_later(trap: Trap) -> None:
    gate = {"kind": "drop", "mass": "20 kg", "drag": "0 N", "friction": 0.0}
    found = over_counterweight(trap(gate), (0.0, 4.0, 10.0))
    np.testing.assert_allclose(found.holding_load, GRAVITY * np.array([20.0, 16.0, 10.0]))
    height = 3.0 * 0.3048
    pace = np.array([1.0, 16.0 / 24.0, 10.0 / 30.0])  # a = g (m - m_c) / (m + m_c)
    np.testing.assert_allclose(found.shut_time, np.sqrt(2.0 * height / (GRAVITY * pace)), rtol=1e-6)
    shares = over_counterweight(trap(gate))
    assert shares.value[-1] == pytest.approx(16.0)
    assert (np.diff(shares.set_weight) < 0.0).all()


def test_both_ways_of_one_opening(trap: Trap) -> None:
    """The file's own kind has its own setting among those tried; the other has none of its own."""
    drop = both_ways(trap({"kind": "drop", "mass": "20 kg", "counterweight": "3 kg"}))
    assert list(drop) == ["top-hinged", "drop"]
    assert drop["drop"].written == pytest.approx(3.0)
    assert 3.0 in drop["drop"].value
    assert drop["top-hinged"].written is None
    assert (np.diff(drop["top-hinged"].value) > 1e-6).all()
    assert drop["top-hinged"].holding_load.max() == pytest.approx(10.0 * GRAVITY)
    top = both_ways(trap({"kind": "top-hinged", "set_angle": "100 deg", "stop": "130 deg"}))
    assert top["top-hinged"].written == pytest.approx(radians(100))
    assert top["top-hinged"].value.max() == pytest.approx(radians(120))
    assert top["drop"].written is None
    either = both_ways(trap({"kind": "side-hinged"}))
    assert either["drop"].written is None is either["top-hinged"].written
    with pytest.raises(ScenarioError, match="a one-way entrance holds no gate up"):
        both_ways(entrance(trap))


def entrance(trap: Trap) -> Scenario:
    table = trap().raw
    table["opening"][0] = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "push panel"}}
    return from_table({**table, "trigger": {"kind": "none"}})


def test_what_can_be_relied_on(trap: Trap) -> None:
    """One-sided drag worth a third of the weight: heavy counterweights stick, a few beyond use."""
    found = over_counterweight(trap({"kind": "drop", "drag_share": {"median": 0.2, "sigma": 0.9}}))
    assert found.relied_on().sum() < found.shuts().sum() < len(found.value)
    assert not found.shuts()[found.hang_probability > 1.0 / 3.0].any()
    assert (found.hang_probability[found.relied_on()] <= 0.1).all()
    first, last = found.ends()
    assert found.holding_load[first] == found.holding_load.max()
    assert last == np.flatnonzero(found.shuts())[-1]
    assert found.own() is None
    assert replace(found, written=float(found.value[2])).own() == 2
    stuck = over_counterweight(trap({"kind": "drop", "drag": "100 lbf"}))
    assert stuck.ends() is None


def test_what_cannot_be_asked(trap: Trap) -> None:
    top, drop = trap({"kind": "top-hinged"}), trap()
    with pytest.raises(ScenarioError, match="that of a top-hinged gate"):
        over_set_angle(drop)
    with pytest.raises(ScenarioError, match="that of a drop gate"):
        over_counterweight(top)
    with pytest.raises(ScenarioError, match="no opening 4; it has 1, counted from 1"):
        over_set_angle(top, opening=3)
    with pytest.raises(ScenarioError, match="beyond the stop"):
        over_set_angle(top, [radians(179)])
    with pytest.raises(ValueError, match="rising order"):
        over_set_angle(top, [1.0, 0.5])
