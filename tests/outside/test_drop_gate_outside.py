"""Drop gates against closed forms and worked figures that this package did not make."""

from math import sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from soundergate.mechanics.gates.curve import clearances, from_force, from_ode
from soundergate.mechanics.gates.drop import DropGate
from soundergate.mechanics.setup import solve
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.loading import from_table

MU = LogNormal(0.42)
"""Steel on steel, clean, sliding (a supplier's friction table)."""


def gate(**changes: object) -> DropGate:
    values: dict = {"width": 1.2192, "height": 0.75, "mass": 20.0, "channel_length": 1.5}
    values |= {"friction": MU, **changes}
    return DropGate(**values)


@pytest.mark.parametrize(
    ("height", "time", "speed"),
    [
        # t = sqrt(2h/g), v = sqrt(2gh) with g = 9.80665 m/s^2, worked by hand to six figures.
        (0.30, 0.247352, 2.42569),
        (0.50, 0.319330, 3.13156),
        (0.75, 0.391098, 3.83536),
        (0.90, 0.428426, 4.20143),
        (1.20, 0.494704, 4.85139),
    ],
)
def test_free_fall(height: float, time: float, speed: float) -> None:
    curve = gate(height=height, channel_length=2 * height).closing_curve()
    assert curve.shut_time == pytest.approx(time, abs=1e-6)
    assert curve.speed[0] == pytest.approx(speed, abs=1e-5)
    assert curve.energy[0] == pytest.approx(20.0 * GRAVITY * height, rel=1e-12)


def test_offset_mass_alone_gives_no_contact_force_and_falls_freely() -> None:
    """Rigid-body mechanics: gravity acts at the centre of mass, so it has no moment about it."""
    off_centre = gate(offset=0.2)
    assert not off_centre.wedged(MU.median)
    assert off_centre.closing_curve().shut_time == pytest.approx(0.391098, abs=1e-6)


@pytest.mark.parametrize(("offset", "jams"), [(0.7, False), (0.8928, False), (0.8929, True)])
def test_wedged_at_rest_when_twice_mu_e_reaches_the_guided_length(
    offset: float, jams: bool
) -> None:
    """The drawer rule 2 mu e >= b, with b = 0.75 m: e = 0.892857 m is the limit at mu 0.42."""
    solved = gate(width=2.4, offset=offset).solution()
    assert solved.jams is jams
    assert np.isinf(solved.curve.shut_time) == jams


def test_one_sided_drag_worked_figure() -> None:
    """m 20 kg, b 0.6 m, w 1.2192 m, mu 0.42, R 15 N over 0.75 m: 8.41657 m/s^2, 0.422161 s."""
    dragged = gate(guided_length=0.6)
    assert dragged.acceleration(0.4, 0.42, 15.0) == pytest.approx(8.41657, abs=5e-6)
    curve = dragged.closing_curve(drag=15.0)
    assert curve.shut_time == pytest.approx(0.422161, abs=1e-6)


@pytest.mark.parametrize("counterweight", [2.0, 10.0, 18.0])
def test_counterweight_is_the_two_mass_pulley(counterweight: float) -> None:
    """a = g (m - mc) / (m + mc), the frictionless two-mass pulley of any mechanics text."""
    a = GRAVITY * (20.0 - counterweight) / (20.0 + counterweight)
    solved = gate(counterweight=counterweight).solution()
    assert solved.curve.shut_time == pytest.approx(sqrt(2 * 0.75 / a), rel=1e-9)
    assert solved.holding_load == pytest.approx((20.0 - counterweight) * GRAVITY)


@pytest.mark.parametrize(
    ("mu", "e", "a", "time"),
    [
        (0.20, 0.3, 7.84532, 0.437261),
        (0.42, 0.3, 5.687857, 0.513537),
        (0.57, 0.5, 0.490333, 1.749042),
    ],
)
def test_drawer_rule_holds_for_a_quasi_static_drive_only(
    mu: float, e: float, a: float, time: float
) -> None:
    """a = g (1 - 2 mu e/b), b = 0.6 m: a pull of the gate's own weight at an offset e.

    Here it is the drag of a massless drive; the gate itself, with the same offset of its mass,
    falls freely.
    """
    clear = clearances(0.75)
    driven = from_force(clear, clear, lambda x: np.full_like(x, a), inertia=1.0)
    assert GRAVITY * (1.0 - 2.0 * mu * e / 0.6) == pytest.approx(a, abs=1e-6)
    assert driven.shut_time == pytest.approx(time, abs=1e-6)
    free = gate(guided_length=0.6, offset=e, friction=LogNormal(mu)).closing_curve()
    assert free.shut_time == pytest.approx(0.391098, abs=1e-6)


@pytest.mark.parametrize("mass", [5.0, 30.0])
def test_ode_against_the_closed_form_of_a_flat_falling_plate_with_drag(mass: float) -> None:
    """y = (vt^2/g) ln cosh(g t/vt) with vt = sqrt(2 m g/(rho Cd A)); rho 1.204, Cd 1.17, 1 m^2."""
    clear = clearances(1.0)
    terminal = sqrt(2 * mass * GRAVITY / (1.204 * 1.17))
    curve = from_ode(clear, clear, lambda x, v: GRAVITY * (1.0 - (v / terminal) ** 2), inertia=mass)
    fallen = terminal**2 / GRAVITY * np.log(np.cosh(GRAVITY * curve.time / terminal))
    np.testing.assert_allclose(fallen, 1.0 - clear, atol=1e-8)


def test_short_channel_curve_against_an_independent_integration() -> None:
    """The guided length grows as the gate comes down; SciPy integrates the same motion in time."""
    short = gate(channel_length=1.0)

    def motion(t: float, y: np.ndarray) -> tuple[float, float]:
        b = min(0.75, 1.0 - y[0])
        return y[1], -(GRAVITY - 15.0 / 20.0 * (1.0 + 0.42 * 1.2192 / b))

    def sill(t: float, y: np.ndarray) -> float:
        return y[0]

    sill.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(motion, (0, 2), (0.75, 0.0), events=sill, rtol=1e-10, atol=1e-12)
    curve = short.closing_curve(drag=15.0)
    assert curve.shut_time == pytest.approx(run.t_events[0][0], rel=1e-6)
    assert curve.speed[0] == pytest.approx(-run.y_events[0][0][1], rel=1e-6)


def test_rebound_of_a_dropped_gate_is_restitution_squared_times_the_drop() -> None:
    """Newton's law of restitution: bounce height e^2 h after a free fall of h."""
    loose = gate(lock=False, restitution=0.3).solution()
    assert loose.rebound == pytest.approx(0.09 * 0.75, rel=1e-9)
    assert loose.rebound_time == pytest.approx(2 * 0.3 * 0.391098, abs=1e-6)
    assert gate(lock=True).solution().rebound == 0.0


def test_worked_figure_from_a_scenario_file() -> None:
    """The one-sided drag figure again, by way of an ordinary scenario."""
    scenario = from_table(
        {
            "sounder": {"sows": 1},
            "opening": [
                {
                    "width": "1.2192 m",
                    "height": "0.75 m",
                    "gate": {
                        "kind": "drop",
                        "mass": "20 kg",
                        "channel_length": "1.5 m",
                        "guided_length": "0.6 m",
                        "friction": {"fixed": 0.42},
                        "drag": {"fixed": "15 N"},
                    },
                    "latch": {"kind": "pin", "puller": "air cylinder"},
                }
            ],
            "trigger": {"kind": "line"},
        }
    )
    (opening,) = solve(scenario).openings
    assert opening.curve.shut_time == pytest.approx(0.422161, abs=1e-6)
    assert opening.hang_probability == 0.0


def test_more_of_a_gate_is_guided_as_it_comes_down() -> None:
    """Channels of 3.6 ft hold 0.6 ft of a 3 ft gate when it is raised, and all of it from 0.6 ft.

    The same motion integrated in time by SciPy with b = min(L - c, H); with the length of the start
    kept all the way the fall would take a seventeenth longer.
    """
    ft, mu, mass, drag = 0.3048, 0.42, 20.0, 18.0
    scenario = from_table(
        {
            "sounder": {"sows": 1},
            "trigger": {"kind": "none"},
            "opening": [
                {
                    "width": "4 ft",
                    "height": "3 ft",
                    "gate": {
                        "kind": "drop", "mass": "20 kg", "channel_length": "3.6 ft",
                        "friction": mu, "drag": "18 N",
                    },
                }
            ],
        }
    )  # fmt: skip
    (opening,) = solve(scenario).openings

    def fall(guided) -> float:
        def slope(_, y):
            b = guided(y[0])
            return [-y[1], GRAVITY - drag / mass * (1.0 + mu * 4.0 * ft / b)]

        def shut(_, y):
            return y[0]

        shut.terminal = True
        run = solve_ivp(slope, (0.0, 5.0), [3.0 * ft, 0.0], events=shut, rtol=1e-10, atol=1e-12)
        return float(run.t[-1])

    grows = fall(lambda c: min(3.6 * ft - c, 3.0 * ft))
    stays = fall(lambda c: 0.6 * ft)
    assert opening.curve.shut_time == pytest.approx(grows, rel=1e-5)
    assert stays > 1.05 * grows
