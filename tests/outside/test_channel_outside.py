"""The lip of a channel against the plate equation, solved here by its Fourier integral.

An infinite strip of plate 0 <= x <= a, clamped at x = 0 and free at x = a, with a force P on one
spot of the free edge: the load is a superposition of P cos(ky) dk / pi, and each wave has the
solution A (x cosh kx - sinh(kx) / k) + B x sinh kx (Kirchhoff plate; Levy's method). Published
coefficients, from memory: root moment 0.509 P (Roark's Formulas for Stress and Strain;
Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells) for Poisson's ratio 0.3.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from soundergate.mechanics.gates.channel import EDGE_MOMENT, YIELD, lip_force
from soundergate.mechanics.materials import sheet_thickness


def wave_moment(k: float, poisson: float) -> float:
    """Root moment of one wave of unit amplitude on a plate of unit depth and stiffness."""
    c, s = np.cosh(k), np.sinh(k)
    first = (c - s / k, k * s, k * s + k * k * c, 2 * k * k * c + k**3 * s)
    second = (s, s + k * c, 2 * k * c + k * k * s, 3 * k * k * s + k**3 * c)
    free = [
        [w[2] - poisson * k * k * w[0] for w in (first, second)],
        [w[3] - (2 - poisson) * k * k * w[1] for w in (first, second)],
    ]
    _, b = np.linalg.solve(free, [0.0, -1.0])
    return float(2 * k * b)


def root_moment(poisson: float) -> float:
    return quad(wave_moment, 1e-6, 60.0, args=(poisson,), limit=400)[0] / np.pi


def test_the_root_moment_is_that_of_the_plate_equation() -> None:
    assert root_moment(0.3) == pytest.approx(EDGE_MOMENT, abs=5e-4)
    assert root_moment(0.2) != pytest.approx(EDGE_MOMENT, abs=5e-4)


def test_every_wave_balances_the_moment_of_its_load_when_it_is_long() -> None:
    """A wave much longer than the plate is deep bends it as a plain cantilever: moment P a."""
    assert wave_moment(1e-3, 0.3) == pytest.approx(1.0, rel=1e-4)


def test_fourteen_gauge_worked_by_hand() -> None:
    """t = 0.0747 in (gauge table): 250e6 x 0.001897^2 / (6 x 0.509) = 294.7 N, 66 lbf."""
    assert lip_force(sheet_thickness("14 gauge")) == pytest.approx(294.7, abs=0.5)
    assert lip_force(0.0747 * 0.0254, YIELD) == pytest.approx(66.25 * 4.44822, rel=1e-3)
