"""The width sweep: rising loads, falling margins, honest ends."""

from collections.abc import Callable

import numpy as np
import pytest

from soundergate.mechanics.advice.sweep import WIDTHS, sweep_width
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


def test_wider_costs_mass_load_and_margin(trap: Trap) -> None:
    sweep = sweep_width(trap())
    np.testing.assert_array_equal(sweep.width, WIDTHS)
    for name in ("mass", "holding_load", "pull_required"):
        np.testing.assert_allclose(
            getattr(sweep, name) / getattr(sweep, name)[0], sweep.width / sweep.width[0]
        )
    assert (np.diff(sweep.margin) < 0.0).all()
    assert (np.diff(sweep.release_probability) < 0.0).all()
    assert (sweep.pull_available == sweep.pull_available[0]).all()
    assert list(sweep.table.columns)[:3] == ["width", "mass", "holding_load"]
    assert len(sweep.table) == len(WIDTHS)


def test_a_stated_mass_does_not_grow_but_racking_does(trap: Trap) -> None:
    sweep = sweep_width(trap(gate={"kind": "drop", "mass": "20 kg"}))
    assert (sweep.mass == sweep.mass[0]).all()
    assert (np.diff(sweep.hang_probability) > 0.0).all()
    assert (np.diff(sweep.shut_time) > 0.0).all()


def test_widest_is_where_release_is_still_sure(trap: Trap) -> None:
    weak = sweep_width(trap(latch={"kind": "pin", "puller": "air cylinder", "bore": "1.25 in"}))
    widest = weak.widest()
    assert widest is not None
    assert weak.release_probability[weak.width <= widest].min() >= 0.9
    assert weak.release_probability[weak.width > widest].max() < 0.9
    jammed = sweep_width(trap(gate={"kind": "drop", "drag": "200 lbf"}), widths=[1.0, 1.2])
    assert jammed.widest() is None


def test_only_the_named_opening_is_widened(trap: Trap) -> None:
    sweep = sweep_width(trap(openings=2), widths=[1.0, 2.0], opening=1)
    assert sweep.width.tolist() == [1.0, 2.0]


def test_refusals(trap: Trap) -> None:
    for widths in ([], [2.0, 1.0]):
        with pytest.raises(ValueError, match="rising order"):
            sweep_width(trap(), widths=widths)
    with pytest.raises(ScenarioError, match="perimeter"):
        sweep_width(trap(), widths=[1.0, 30.0])
