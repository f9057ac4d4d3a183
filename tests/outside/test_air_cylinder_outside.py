"""Cylinder forces against published tables: F = P A, rod side A - a."""

from math import pi

import pytest

from soundergate.mechanics.pullers.air_cylinder import areas, pull
from soundergate.scenario.constants import INCH, LBF
from soundergate.scenario.unit_system import PSI

BAR = 1e5


@pytest.mark.parametrize(
    ("bore", "rod", "push_n", "pull_n"),
    # 6 bar forces for the usual ISO bores and rods (rods from memory), worked from F = P A.
    [
        (16, 6, 120.6, 103.7),
        (20, 8, 188.5, 158.3),
        (25, 10, 294.5, 247.4),
        (32, 12, 482.5, 414.7),
        (40, 16, 754.0, 633.3),
        (50, 20, 1178.1, 989.6),
        (63, 20, 1870.3, 1681.9),
    ],
)
def test_metric_cylinders(bore: float, rod: float, push_n: float, pull_n: float) -> None:
    b, r = bore * 1e-3, rod * 1e-3
    assert pull(6 * BAR, b, r, retracting=False) == pytest.approx(push_n, abs=0.06)
    assert pull(6 * BAR, b, r) == pytest.approx(pull_n, abs=0.06)


@pytest.mark.parametrize(
    ("bore", "rod", "push_lbf", "pull_lbf"),
    [
        (1.5, 7 / 16, 176.7, 161.7),
        (1.5, 1 / 2, 176.7, 157.1),
        (1.5, 5 / 8, 176.7, 146.0),
        (2.0, 5 / 8, 314.2, 283.5),
        (2.5, 5 / 8, 490.9, 460.2),
        (3.25, 1.0, 829.6, 751.0),
        (4.0, 1.0, 1256.6, 1178.1),
    ],
)
def test_inch_cylinders_at_100_psi(
    bore: float, rod: float, push_lbf: float, pull_lbf: float
) -> None:
    """Common practice, no source: 177 and 314 lbf are quoted for 1.5 in and 2 in at 100 psi.

    They are the full-bore figures; a pin is pulled by the rod side, which gives less.
    """
    b, r = bore * INCH, rod * INCH
    assert pull(100 * PSI, b, r, retracting=False) / LBF == pytest.approx(push_lbf, abs=0.06)
    assert pull(100 * PSI, b, r) / LBF == pytest.approx(pull_lbf, abs=0.06)


def test_published_inch_bore() -> None:
    """1.5 in bore: 1.767 in^2; 142 lb at 80 psi (https://www.mfcp.com air cylinder table)."""
    push_area, _ = areas(1.5 * INCH, 5 / 8 * INCH)
    assert push_area / INCH**2 == pytest.approx(1.767, abs=5e-4)
    assert pull(80 * PSI, 1.5 * INCH, 5 / 8 * INCH, retracting=False) / LBF == pytest.approx(
        142, abs=0.7
    )


def test_published_metric_push() -> None:
    """50 mm bore at 6 bar pushes 1,178 N (https://captivair.co.uk)."""
    assert pull(6 * BAR, 0.05, 0.02, retracting=False) == pytest.approx(1178, abs=0.5)
    assert areas(0.05, 0.02)[0] == pytest.approx(pi / 4 * 0.05**2)
