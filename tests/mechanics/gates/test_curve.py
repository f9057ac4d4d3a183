"""Closing curves from forces, an ODE and closed forms agree; stopped gates stay stopped."""

from math import inf, sqrt

import numpy as np
import pytest

from soundergate.mechanics.gates.curve import (
    clearances,
    from_closed_form,
    from_force,
    from_ode,
    never,
)
from soundergate.mechanics.model import GRID, ClosingCurve

CLEAR = clearances(0.8)


def uniform(a: float) -> ClosingCurve:
    return from_closed_form(
        CLEAR,
        CLEAR,
        lambda x, y: sqrt(2 * max(x - y, 0.0) / a),
        lambda x, y: sqrt(2 * a * max(x - y, 0.0)),
        inertia=12.0,
    )


def assert_same(one: ClosingCurve, other: ClosingCurve, rtol: float) -> None:
    for name in ("time", "energy", "speed", "rest_time", "rest_energy"):
        np.testing.assert_allclose(
            getattr(one, name), getattr(other, name), rtol=rtol, atol=1e-9, err_msg=name
        )


def test_three_ways_to_the_same_curve() -> None:
    closed = uniform(5.0)
    by_force = from_force(CLEAR, CLEAR, lambda x: np.full_like(x, 60.0), inertia=12.0)
    by_ode = from_ode(CLEAR, CLEAR, lambda x, v: 5.0, inertia=12.0)
    assert_same(by_force, closed, 1e-10)
    assert_same(by_ode, closed, 1e-8)


def test_position_dependent_force_against_ode() -> None:
    by_force = from_force(
        CLEAR, CLEAR, lambda x: 20.0 + 30.0 * x, inertia=10.0, x_start=1.0, arm=0.5
    )
    by_ode = from_ode(CLEAR, CLEAR, lambda x, v: 2.0 + 3.0 * x, inertia=10.0, x_start=1.0, arm=0.5)
    assert_same(by_force, by_ode, 1e-5)  # under a microsecond: cells of constant force
    assert by_force.time[-1] > 0.0


def test_a_gate_that_loses_its_speed_stops_there() -> None:
    """Force 10 (x - 0.5): from 0.8 the work to 0.2 is nil, so 0.2 is never reached."""
    curve = from_force(CLEAR, CLEAR, lambda x: 10.0 * (x - 0.5), inertia=1.0)
    assert not curve.shuts
    assert np.isinf(curve.time[CLEAR <= 0.2 + 1e-9]).all()
    assert np.isfinite(curve.time[CLEAR > 0.21]).all()
    assert np.isinf(curve.rest_time[GRID // 2, : GRID // 2]).all()
    assert (curve.energy[CLEAR <= 0.2 - 1e-9] == 0.0).all()


def test_ode_that_stops_reports_inf_below() -> None:
    curve = from_ode(CLEAR, CLEAR, lambda x, v: 10.0 * (x - 0.5), inertia=1.0)
    assert np.isinf(curve.time[CLEAR < 0.19]).all()
    assert np.isfinite(curve.time[CLEAR > 0.21]).all()


def test_static_friction_may_hold_what_would_move() -> None:
    held = from_force(
        CLEAR,
        CLEAR,
        lambda x: np.full_like(x, 5.0),
        inertia=1.0,
        starts=lambda x: x > 0.4,
    )
    assert held.shuts
    assert np.isinf(held.rest_time[10, :10]).all()
    assert np.isfinite(held.rest_time[50, :50]).all()


def test_never() -> None:
    stuck = never(0.9)
    assert stuck.shut_time == inf
    assert stuck.time[-1] == 0.0
    assert not stuck.shuts


def test_interpolation_beside_infinity() -> None:
    curve = from_force(CLEAR, CLEAR, lambda x: 10.0 * (x - 0.5), inertia=1.0)
    assert curve.time_to(0.1) == inf
    assert curve.time_to(CLEAR[60]) == curve.time[60]
    between = 0.5 * (CLEAR[60] + CLEAR[61])
    assert curve.time[61] < curve.time_to(between) < curve.time[60]
    assert curve.time_to(99.0) == curve.time[-1]


def test_arrays_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="read-only"):
        uniform(5.0).time[0] = 0.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"time": np.linspace(0, 1, GRID)}, "time must not rise with clear"),
        ({"speed": np.zeros(3)}, "speed must have shape"),
        ({"energy": np.full(GRID, np.nan)}, "energy must hold no NaN"),
        ({"clear": CLEAR + 0.1}, "clear must rise from 0 to height"),
    ],
)
def test_broken_curves_are_refused(change: dict, message: str) -> None:
    good = uniform(5.0)
    names = ("height", "clear", "time", "energy", "speed", "rest_time", "rest_energy")
    values = {name: getattr(good, name) for name in names}
    with pytest.raises(ValueError, match=message):
        ClosingCurve(**{**values, **change})


def test_height_and_inertia_must_be_positive() -> None:
    with pytest.raises(ValueError, match="height must be positive"):
        clearances(0.0)
    with pytest.raises(ValueError, match="inertia must be positive"):
        from_force(CLEAR, CLEAR, lambda x: x, inertia=0.0)


@pytest.mark.parametrize("lead", [1.0, 1.0 + 1e-15, 1.0 + 1e-12])
@pytest.mark.parametrize("lift", [0.0, -3.0])
def test_a_gate_that_nothing_moves_has_a_curve_without_holes(lead, lift):
    """Also where it starts the last bit above the first clearance that is asked for."""
    start = CLEAR[-1] * lead
    curve = from_ode(CLEAR, CLEAR, lambda x, v: lift + 0.0 * x, inertia=3.0, x_start=start)
    assert curve.time[-1] == 0.0
    assert (curve.time[:-1] == inf).all()
    for column in (curve.energy, curve.speed, curve.rest_energy):
        assert (column == 0.0).all()
