"""One-way entrances: pushed in, returning, and what gets an animal out again."""

from dataclasses import replace
from math import inf, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.gates.one_way import (
    CurledPanel,
    NetSkirt,
    return_spring,
    side_panel,
    top_panel,
)
from soundergate.mechanics.gates.plate import swing_time
from soundergate.mechanics.gates.side_hinged import SideHinged, angle_at_gap
from soundergate.mechanics.gates.top_hinged import TopHinged
from soundergate.mechanics.model import GRAVITY
from soundergate.scenario.loading import from_table

CURLED = CurledPanel(1.0, 0.9, 7.0, 50.0, 0.25)
NET = NetSkirt(1.2, 0.9, 0.9, 20.0, 0.6, 0.1)


def test_top_panel_returns_as_a_plate() -> None:
    solution = top_panel(TopHinged(1.2, 0.9, 8.0, solidity=0.0), push=30.0)
    assert solution.curve.shut_time == pytest.approx(swing_time(0.9, pi / 2.0), rel=1e-8)
    half_open = 0.5 * 8.0 * GRAVITY * sqrt(0.75)  # half of the height is clear at 60 degrees
    assert solution.push_force == pytest.approx(half_open)
    assert any("its weight alone asks 34 N" in note for note in solution.notes)
    assert solution.passable
    assert not solution.locked
    assert solution.holding_load == 0.0
    light = top_panel(TopHinged(1.2, 0.9, 2.0), push=30.0)
    assert light.push_force == 30.0
    assert light.pry_force == 0.0


@pytest.mark.parametrize("leaves", [1, 2])
def test_side_panel_spring_gives_the_push_that_was_stated(leaves: int) -> None:
    spring = return_spring(30.0, 1.2, leaves, 0.5)
    panel = SideHinged(1.2, 0.9, 8.0, spring, leaves=leaves)
    wide = angle_at_gap(1.2, leaves, 1.2)
    assert panel.edge_force(wide) == pytest.approx(30.0)
    assert panel.edge_force(0.0) == pytest.approx(15.0)
    solution = side_panel(panel, 30.0)
    assert solution.curve.shuts
    assert solution.pry_force == pytest.approx(15.0)
    assert solution.sketch["hinge"] == "side"


def test_a_panel_without_a_spring_does_not_return() -> None:
    panel = SideHinged(1.2, 0.9, 8.0, return_spring(0.0, 1.2, 1, 0.5))
    assert not side_panel(panel, 0.0).curve.shuts


def test_curled_panel_is_a_mass_on_a_spring() -> None:
    assert CURLED.force(CURLED.width) == pytest.approx(50.0)
    assert CURLED.force(0.0) == pytest.approx(12.5)
    solution = CURLED.solution()
    energy = 0.5 * CURLED.rate * ((1.0 + CURLED.curl) ** 2 - CURLED.curl**2)
    assert solution.curve.energy[0] == pytest.approx(energy)
    assert solution.curve.measure == "gap"
    assert solution.push_force == 50.0


def test_curled_panels_of_both_hands_are_one_type() -> None:
    left, right = CURLED.solution(), replace(CURLED, hand="right").solution()
    np.testing.assert_array_equal(left.curve.time, right.curve.time)
    assert (left.kind, left.push_force) == (right.kind, right.push_force)
    assert left.sketch["hand"] != right.sketch["hand"]


@given(st.floats(0.05, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_curled_panel_times_add_up(start: float, one: float, two: float) -> None:
    upper, lower = start * max(one, two), start * min(one, two)
    assert CURLED.return_time(start, lower) >= CURLED.return_time(start, upper)
    speed = CURLED.return_speed(start, lower)
    kinetic = 0.5 * CURLED.moving_mass * speed**2
    work = 0.5 * CURLED.rate * ((start + CURLED.curl) ** 2 - (lower + CURLED.curl) ** 2)
    assert kinetic == pytest.approx(work, abs=1e-9)


def test_a_limp_panel_stays_open() -> None:
    limp = replace(CURLED, push=0.0)
    assert limp.return_time(1.0, 0.0) == inf
    assert not limp.solution().curve.shuts


def test_net_falls_freely_and_weighs_what_is_lifted() -> None:
    solution = NET.solution()
    assert solution.curve.shut_time == pytest.approx(sqrt(2.0 * 0.9 / GRAVITY))
    assert NET.area_mass == pytest.approx(0.9 / (1.2 * 1.5))
    flat = NET.area_mass * GRAVITY * 0.6 * 0.1  # the skirt under a snout 0.1 m wide
    assert NET.force_out(0.0) == pytest.approx(flat)
    assert solution.pry_by_clear is not None
    assert (np.diff(solution.pry_by_clear) > 0.0).all()
    # Nosed up over the whole width it is the whole net, less the triangles at the sides.
    assert NET.force_out(0.55) < NET.mass * GRAVITY


def test_from_a_scenario() -> None:
    entrance = {"sounder": {"sows": 1}, "trigger": {"kind": "none"}}

    def one(**gate: object) -> setup.OpeningSetup:
        opening = {"width": "4 ft", "height": "3 ft", "gate": gate}
        return setup.solve(from_table({**entrance, "opening": [opening]})).openings[0]

    top = one(kind="push panel", mass="5 kg")
    side = one(kind="push panel", hinge="side", leaves=1)
    curled = one(kind="curled panel", hand="right")
    net = one(kind="net skirt", skirt="3 ft")
    for opening in (top, side, curled, net):
        assert opening.passable
        assert opening.curve.shuts
        assert opening.latch_kind == "none"
        assert opening.gate.push_force > 0.0
        assert not opening.locked
    # 0.5 kg/m^2 of net, the skirt of 3 ft doubling its length.
    assert net.mass == pytest.approx(0.5 * (4 * 0.3048) * (6 * 0.3048))
    assert side.gate.sketch["leaves"] == 1


def test_a_panel_that_only_just_meets_its_neighbour_shuts_in_a_quarter_period() -> None:
    """2 pi sqrt(m / k) / 4; 33/140 of a cantilever's mass swings (Rayleigh, from memory)."""
    panel = replace(CURLED, rest_share=0.0)
    quarter = pi / 2.0 * sqrt(33.0 / 140.0 * 7.0 / 50.0)
    assert panel.return_time(1.0, 0.0) == pytest.approx(quarter)
    assert panel.solution().curve.shut_time == pytest.approx(quarter)


def test_a_curled_panel_takes_as_long_as_its_force_makes_it() -> None:
    """Stepped from Newton's law, force over mass, and not from the closed form."""
    gap, speed, step, time = 0.8, 0.0, 1e-4, 0.0
    while gap > 0.0:
        speed += CURLED.force(gap) / CURLED.moving_mass * step
        gap -= speed * step
        time += step
    assert CURLED.return_time(0.8, 0.0) == pytest.approx(time, abs=3 * step)
    assert CURLED.return_speed(0.8, 0.0) == pytest.approx(speed, rel=2e-3)
