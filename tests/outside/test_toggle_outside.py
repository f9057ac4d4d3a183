"""The knee against toggle-joint formulas and tables."""

from math import atan, degrees, hypot, radians, tan

import pytest

from soundergate.mechanics.latches.knee import friction_angle, knee, release_ratio
from soundergate.scenario.distributions import LogNormal

PSI = friction_angle(0.15, 0.006, 0.006, 0.3)
"""Friction 0.15, pins of 6 mm radius, links of 300 mm."""


def closing_ratio(angle: float, psi: float = 0.0) -> float:
    """The load that a push across the knee brings up, over that push: what releases it, turned."""
    return 1.0 / release_ratio(angle, psi)


def test_worked_toggle_joint() -> None:
    """F = 883 N, a = 1983 mm, h = 258 mm give 3393 N:
    https://engineeringtoolbox.com/toggle-joint-d_2077.html"""
    angle = atan(258.0 / 1983.0)
    assert 883.0 * closing_ratio(angle) == pytest.approx(3393.39, abs=0.01)
    assert closing_ratio(angle) == pytest.approx(1983.0 / (2.0 * 258.0))


def test_friction_angle() -> None:
    assert degrees(PSI) == pytest.approx(0.343777, abs=6e-7)


@pytest.mark.parametrize(
    ("angle", "free", "rubbing", "release"),
    [
        (1, 28.645, 21.315, 0.04692),
        (2, 14.318, 12.216, 0.08186),
        (5, 5.7150, 5.3454, 0.18708),
        (10, 2.8356, 2.7394, 0.36504),
    ],
)
def test_ratios_with_and_without_friction(
    angle: float, free: float, rubbing: float, release: float
) -> None:
    """Friction circles (textbook statics), computed."""
    a = radians(angle)
    assert closing_ratio(a) == pytest.approx(free, rel=2e-5)
    assert closing_ratio(a, PSI) == pytest.approx(rubbing, rel=3e-5)
    assert release_ratio(a, PSI) == pytest.approx(release, abs=6e-6)


def test_closed_form_against_moments_of_one_link() -> None:
    """Cut at the knee: Q at the end of a link of slope a needs P/2 = Q tan a across it."""
    rise, run = 0.03, 0.4
    load, across = 1000.0, 2.0 * 1000.0 * rise / run
    angle = atan(rise / run)
    assert release_ratio(angle) * load == pytest.approx(across)
    axial = load / (run / hypot(rise, run))
    assert 2.0 * axial * tan(angle) * run / hypot(rise, run) == pytest.approx(across)
    latch = knee(load, LogNormal(0.0), hypot(rise, run), angle, 0.006, 0.006)
    assert latch.pull_required == pytest.approx(across)
    assert latch.trip_travel == pytest.approx(rise)
