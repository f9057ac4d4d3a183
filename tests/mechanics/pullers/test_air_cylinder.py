"""The air cylinder: rod side, seals, words."""

from math import exp
from statistics import NormalDist

import pytest

from soundergate.mechanics.pullers.air_cylinder import areas, pull, solution
from soundergate.mechanics.scatter import quantile
from soundergate.scenario.constants import INCH, LBF
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.unit_system import PSI

BORE, ROD = 1.5 * INCH, 7 / 16 * INCH


def test_the_note_says_both_figures_and_why() -> None:
    solved = solution(LogNormal(100 * PSI, 0.1), BORE, ROD, delay=None)
    assert solved.available / LBF == pytest.approx(161.7, abs=0.05)
    assert "rod side" in solved.notes[0]
    assert "176.7 lbf" in solved.notes[0]
    assert "161.7 lbf" in solved.notes[0]
    assert solved.available_sigma == 0.1
    assert "Compressed air" in solved.cautions[0]


def test_seal_drag_lowers_the_pull_and_is_said() -> None:
    solved = solution(LogNormal(100 * PSI), BORE, ROD, delay=None, seal_loss=5 * PSI)
    assert solved.available == pytest.approx(0.95 * pull(100 * PSI, BORE, ROD))
    assert "seal drag worth 34 kPa (5 psi) leaves" in solved.notes[0]
    assert pull(4 * PSI, BORE, ROD, seal_loss=5 * PSI) == 0.0


def test_extending_uses_the_full_bore() -> None:
    out = solution(LogNormal(100 * PSI), BORE, ROD, delay=None, retracting=False)
    assert out.available == pytest.approx(100 * PSI * areas(BORE, ROD)[0])
    assert "full bore" in out.notes[0]


def test_rod_must_fit_the_bore() -> None:
    with pytest.raises(ValueError, match="rod must be thinner than bore"):
        areas(0.02, 0.02)


def test_without_seals_that_drag_a_cylinder_pulls_its_whole_area_even_at_a_whisper() -> None:
    """Force = pressure x area down to the faintest pressure: no loss that nobody stated."""
    for pressure in (1e-6, 1.0, 1e6):
        assert pull(pressure, BORE, ROD) == pressure * areas(BORE, ROD)[1]
        solved = solution(LogNormal(pressure), BORE, ROD, delay=None)
        assert "does not pull" not in solved.notes[0]
    assert "does not pull" in solution(LogNormal(0.0), BORE, ROD, delay=None).notes[0]


def test_a_low_tank_loses_the_same_drag_as_a_full_one() -> None:
    """Of area (p exp(s z) - drag) only the pressure scatters: what is left at z = -2 by hand."""
    low, loss = 60 * PSI, 5 * PSI
    solved = solution(LogNormal(low, 0.2), BORE, ROD, delay=None, seal_loss=loss)
    left = areas(BORE, ROD)[1] * (low * exp(-2 * 0.2) - loss)
    assert quantile(solved.given, NormalDist().cdf(-2.0)) == pytest.approx(left)
    assert solved.available == pytest.approx(areas(BORE, ROD)[1] * (low - loss))
