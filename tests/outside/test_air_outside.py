"""Air flow and filling against ISO 6358, the isentropic nozzle, Boyle's law and pipe flow.

The worked numbers of a valve with C = 2 dm^3/(s bar), b = 0.3 at 7 bar absolute were computed from
the standard's formula (https://ww2.mathworks.cn/help/simscape/ref/
constantareapneumaticorificeiso6358.html) with the reference atmosphere 1.185 kg/m^3, 293.15 K; the
filling times are closed forms that a numerical integration confirmed to eight digits.
"""

from dataclasses import replace
from math import sqrt

import pytest
from scipy.optimize import brentq

from soundergate.mechanics.pullers.air_flow import (
    ATMOSPHERE,
    GAMMA,
    GAS_CONSTANT,
    REFERENCE_DENSITY,
    REFERENCE_TEMPERATURE,
    AirPull,
    Conductance,
    filling_time,
    hose,
    mass_flow,
    release,
    releases_in_tank,
)

VALVE = Conductance(2e-8, 0.3)
BAR = 1e5
LITRE = 1e-3


@pytest.mark.parametrize(
    ("downstream", "litres_a_minute"),
    [
        (6.5, 369.666),
        (6.0, 508.539),
        (5.0, 677.089),
        (4.0, 774.280),
        (3.0, 825.709),
        (2.1, 840.0),
        (1.0, 840.0),
    ],
)
def test_iso_6358_flow(downstream: float, litres_a_minute: float) -> None:
    flow = mass_flow(VALVE, 7.0 * BAR, downstream * BAR)
    assert flow / REFERENCE_DENSITY * 60e3 == pytest.approx(litres_a_minute, abs=6e-4)


def test_choked_mass_flow() -> None:
    assert mass_flow(VALVE, 7.0 * BAR, BAR) == pytest.approx(0.0165900, abs=5e-8)
    assert mass_flow(VALVE, 7.0 * BAR, BAR, 273.15) == pytest.approx(0.01718663, abs=5e-9)


@pytest.mark.parametrize(
    ("end", "adiabatic", "seconds"),
    [(6.3, False, 0.44021456), (6.3, True, 0.31443897), (7.0, False, 0.63013836)],
)
def test_filling_a_litre(end: float, adiabatic: bool, seconds: float) -> None:
    time = filling_time(VALVE, 7.0 * BAR, BAR, end * BAR, LITRE, adiabatic=adiabatic)
    assert time == pytest.approx(seconds, abs=6e-9)


@pytest.mark.parametrize("adiabatic", [False, True])
def test_the_integrated_filling_agrees_with_the_closed_form(adiabatic: bool) -> None:
    area = 1e-3
    pull = AirPull(
        area=area,
        dead_volume=LITRE,
        load=5.3 * BAR * area,
        mass=1.0,
        travel=0.01,
        supply=7.0 * BAR,
        path=VALVE,
        ambient=BAR,
        adiabatic=adiabatic,
    )
    expected = 0.31443897 if adiabatic else 0.44021456
    assert release(pull).pull_time == pytest.approx(expected, abs=1e-8)
    late = replace(pull, valve_delay=0.02)
    assert release(late).pull_time == pytest.approx(expected + 0.02, abs=1e-8)


def isentropic_flow(area: float, p1: float, p2: float, temperature: float) -> float:
    """Mass flow (kg/s) of an ideal nozzle: the textbook St. Venant-Wantzel formula."""
    critical = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
    r = max(p2 / p1, critical)
    term = r ** (2.0 / GAMMA) - r ** ((GAMMA + 1.0) / GAMMA)
    return area * p1 * sqrt(2.0 * GAMMA / ((GAMMA - 1.0) * GAS_CONSTANT * temperature) * term)


def test_a_four_millimetre_nozzle() -> None:
    """0.0404149 Cd A p / sqrt(T) when choked; Cd 1, 4 mm: C = 2.50316 dm^3/(s bar)."""
    area = 3.141592653589793 / 4.0 * 0.004**2
    flow = isentropic_flow(area, 7.0 * BAR, BAR, REFERENCE_TEMPERATURE)
    assert flow == pytest.approx(
        0.0404149 * area * 7.0 * BAR / sqrt(REFERENCE_TEMPERATURE), rel=2e-5
    )
    c = flow / (7.0 * BAR * REFERENCE_DENSITY)
    assert c * 1e8 == pytest.approx(2.50316, rel=2e-5)
    for ratio in (0.55, 0.7, 0.85, 0.95):
        ideal = isentropic_flow(area, 7.0 * BAR, ratio * 7.0 * BAR, REFERENCE_TEMPERATURE)
        standard = mass_flow(Conductance(c, 0.528282), 7.0 * BAR, ratio * 7.0 * BAR)
        assert standard == pytest.approx(ideal, rel=0.02)  # the quarter ellipse of the standard


def pipe_flow(bore: float, length: float, p1: float, p2: float) -> float:
    """Isothermal turbulent flow (kg/s) in a smooth pipe, entrance loss 0.5, Blasius friction.

    G^2 = (p1^2 - p2^2) / (R T (f L / d + 0.5 + 2 ln(p1/p2))), textbook gas dynamics.
    """
    from math import log, pi

    area, viscosity = pi / 4.0 * bore**2, 1.82e-5

    def excess(flux: float) -> float:
        f = 0.3164 / (flux * bore / viscosity) ** 0.25
        loss = f * length / bore + 0.5 + 2.0 * log(p1 / p2)
        return flux**2 * GAS_CONSTANT * REFERENCE_TEMPERATURE * loss - (p1**2 - p2**2)

    return area * brentq(excess, 1.0, 1e5)


@pytest.mark.parametrize(("bore", "length"), [(0.004, 2.0), (0.006, 2.0), (0.006, 10.0)])
def test_hose_formula_against_pipe_flow(bore: float, length: float) -> None:
    """The remembered hose formula lands within a quarter of isothermal pipe flow."""
    p1, p2 = 7.0 * BAR, 5.6 * BAR
    assert mass_flow(hose(bore, length), p1, p2) == pytest.approx(
        pipe_flow(bore, length, p1, p2), rel=0.25
    )


def test_boyles_law_counts_the_releases_of_a_tank() -> None:
    """A 5 litre tank, 0.1 litre a time: p_n = p_0 (5 / 5.1)^n while what it fills held nothing."""
    count = releases_in_tank(5 * LITRE, 8.0 * BAR, 4.0 * BAR, 0.1 * LITRE, 0.0)
    assert 8.0 * (5.0 / 5.1) ** count >= 4.0 > 8.0 * (5.0 / 5.1) ** (count + 1)


def test_needed_pressure_is_force_over_area() -> None:
    """1.5 in bore, 5/8 in rod, 100 psi gauge pull 146.0 lbf (cylinder table, recomputed)."""
    inch, pound = 0.0254, 4.4482216152605
    area = 3.141592653589793 / 4.0 * (1.5**2 - 0.625**2) * inch**2
    pull = AirPull(area, LITRE, 146.03 * pound, 1.0, 0.01, 8 * BAR, VALVE)
    gauge = (pull.needed_pressure - ATMOSPHERE) / (pound / inch**2)
    assert gauge == pytest.approx(100.0, rel=1e-3)
