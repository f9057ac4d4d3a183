"""Channels of a drop gate: when their lips bend, and which sheet would bear it."""

from collections.abc import Callable
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.gates.channel import gauge_for, lip_force, thickness_of
from soundergate.mechanics.gates.drop import DropGate, from_table
from soundergate.mechanics.materials import SHEET_LB_PER_FT2, sheet_thickness
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


@given(thickness=st.floats(0.5e-3, 6e-3), factor=st.floats(1.01, 3.0))
def test_a_lip_bears_with_the_square_of_its_thickness(thickness: float, factor: float) -> None:
    assert lip_force(factor * thickness) == pytest.approx(factor**2 * lip_force(thickness))
    assert lip_force(thickness, 2e8) == pytest.approx(0.8 * lip_force(thickness))


@given(force=st.floats(1.0, 20_000.0))
def test_the_gauge_for_a_force_is_the_thinnest_that_bears_it(force: float) -> None:
    chosen = gauge_for(force)
    bearing = [g for g in SHEET_LB_PER_FT2 if lip_force(sheet_thickness(f"{g} gauge")) >= force]
    assert chosen == (max(bearing) if bearing else None)
    assert gauge_for(1e9) is None


def test_the_files_own_sheet_is_read(trap: Trap) -> None:
    thick = trap({"kind": "drop", "channel_sheet": "3 mm"}).opening[0]
    assert thickness_of(thick.gate) == pytest.approx(3e-3)
    gauge = trap({"kind": "drop", "channel_sheet": "12 gauge"}).opening[0]
    assert thickness_of(gauge.gate) == pytest.approx(2.657e-3, abs=1e-6)
    built = from_table(gauge.gate, gauge, 20.0)
    assert built.lip_force == lip_force(thickness_of(gauge.gate))
    assert built.solution().sketch["lip_force"] == built.lip_force


def test_an_unknown_gauge_of_the_channels_is_refused(trap: Trap) -> None:
    with pytest.raises(ScenarioError, match=r"opening\.1\.gate\.channel_sheet = \"21 gauge\""):
        setup.solve(trap({"kind": "drop", "channel_sheet": "21 gauge"}))


def test_a_side_load_beyond_the_lips_is_a_caution() -> None:
    """Half of the load bears on each side: at just twice what a lip bears it begins to bend."""
    gate = {"width": 1.2, "height": 0.9, "mass": 20.0, "channel_length": 1.8, "lip_force": 100.0}
    loads = {199.0: False, 201.0: True}
    for load, bends in loads.items():
        cautions = DropGate(**gate, side_load=load).solution().cautions
        assert any("lips begin to bend at 100 N" in text for text in cautions) == bends
    assert DropGate(**{**gate, "lip_force": inf}, side_load=1e5).solution().cautions[1:] == ()


def test_thin_channels_warn_and_thick_ones_do_not(trap: Trap) -> None:
    said = {}
    for sheet in ("20 gauge", "10 gauge"):
        gate = {"kind": "drop", "channel_sheet": sheet, "side_load": "60 lbf"}
        (opening,) = setup.solve(trap(gate)).openings
        said[sheet] = [text for text in opening.cautions if "channel lips" in text]
    assert len(said["20 gauge"]) == 1
    assert "take thicker channels or back the lips" in said["20 gauge"][0]
    assert said["10 gauge"] == []
