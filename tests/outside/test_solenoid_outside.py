"""Solenoid and cable against formula tables, the exponential of a coil, and wire tables."""

from math import log

import pytest

from shared.balances import field_energy
from soundergate.mechanics.pullers.coil import (
    MU0,
    ROOM,
    Coil,
    cable_resistance,
    copper_resistance,
    wire_diameter,
)
from soundergate.mechanics.pullers.solenoid import pull_in, rise_time


def ideal(**changes: float) -> Coil:
    values: dict = {"turns": 800, "area": 2e-4, "gap": 0.01, "plunger": 0.1, "volts": 12.0}
    values |= {"resistance": 3.0, "saturation": 1e3, "residual_gap": 1e-6}
    return Coil(**{**values, **changes})


def gap_force(ampere_turns: float, area: float, gap: float) -> float:
    """Pull (N) with ideal iron, (N i)^2 mu0 A / (2 g^2)."""
    return ampere_turns**2 * MU0 * area / (2.0 * gap * gap)


@pytest.mark.parametrize(
    ("turns", "amperes", "area", "gap", "newtons"),
    [
        # https://daycounter.com/Calculators/Magnets/Solenoid-Force-Calculator.phtml
        (100, 5.0, 0.01, 0.02, 3.927),
        # https://calculator.7search.cc/calc/solenoid-force-calculator.php
        (200, 3.0, 0.02, 0.03, 5.027),
    ],
)
def test_gap_force(turns: int, amperes: float, area: float, gap: float, newtons: float) -> None:
    coil = ideal(turns=turns, volts=3.0 * amperes, area=area, gap=gap, residual_gap=1e-9)
    assert coil.pull() == pytest.approx(newtons, abs=6e-4)


def test_a_thousand_ampere_turns() -> None:
    """1 cm^2: 2.51327 N across 5 mm, 62.8319 N across 1 mm (computed from the formula)."""
    assert gap_force(1000.0, 1e-4, 5e-3) == pytest.approx(2.51327, abs=6e-6)
    assert gap_force(1000.0, 1e-4, 1e-3) == pytest.approx(62.8319, abs=6e-5)


@pytest.mark.parametrize(
    ("share", "milliseconds"),
    [(0.5, 13.8629), (0.8, 32.1888), (0.9, 46.0517), (0.95, 59.9146)],
)
def test_current_rise(share: float, milliseconds: float) -> None:
    """75 V, 150 ohm, 3 H: a time constant of 20 ms (Teschler 2006); i = (V/R)(1 - e^(-t/tau))."""
    assert rise_time(3.0 / 150.0, share) * 1e3 == pytest.approx(milliseconds, abs=6e-5)


def test_ideal_iron_gives_the_formula() -> None:
    coil = ideal()
    expected = gap_force(800 * 4.0, 2e-4, 0.010001)
    assert coil.pull() == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_the_pull_of_a_plunger_at_rest_rises_exponentially(share: float) -> None:
    """With ideal iron and the plunger held, F / F0 = (1 - e^(-t R / L))^2 exactly."""
    coil = ideal()
    load = share**2 * coil.pull()
    constant = coil.inductance / coil.total_resistance
    assert pull_in(coil, load, 0.005).response == pytest.approx(
        -constant * log(1 - share), rel=1e-8
    )


def test_hot_copper() -> None:
    """+0.393 % a kelvin (IEC 60028): 60 K warmer is 23.6 % more, and (1/1.236)^2 of the pull."""
    assert copper_resistance(2.0, ROOM + 60.0) == pytest.approx(2.0 * 1.2358)
    hot, cold = ideal(temperature=ROOM + 60.0), ideal()
    assert hot.pull() / cold.pull() == pytest.approx(1.2358**-2, rel=1e-9)


def test_saturated_iron_pulls_by_its_flux() -> None:
    """However strong the coil, B^2 A / (2 mu0): about 102 N a cm^2 at 1.6 T (textbook)."""
    strong = Coil(2000, 1e-4, 1e-4, 0.1, 24.0, 2.0, residual_gap=1e-5)
    density = strong.density(strong.current, strong.gap)
    assert 1.6 < density < 2.5
    assert strong.pull() == pytest.approx(101.9 * (density / 1.6) ** 2, rel=1e-3)
    assert gap_force(strong.turns * strong.current, 1e-4, 1.1e-4) > 1e4 * strong.pull()


@pytest.mark.parametrize(
    ("gauge", "millimetres", "ohm_per_kilometre"),
    [(10, 2.588, 3.277), (14, 1.628, 8.286), (18, 1.024, 20.95), (22, 0.6438, 52.96)],
)
def test_wire_gauge_table(gauge: int, millimetres: float, ohm_per_kilometre: float) -> None:
    """American wire gauge, solid annealed copper at 20 degrees C (handbook table, from memory)."""
    assert wire_diameter(gauge) * 1e3 == pytest.approx(millimetres, rel=5e-4)
    assert cable_resistance(500.0, gauge) == pytest.approx(ohm_per_kilometre, rel=2e-3)


def test_energy_of_an_inductor() -> None:
    """The field of ideal iron stores L i^2 / 2."""
    coil = ideal()
    density = coil.density(coil.current, coil.gap)
    stored = field_energy(coil, density, coil.gap)
    assert stored == pytest.approx(0.5 * coil.inductance * coil.current**2, rel=1e-9)
