"""Material weights against published handbook tables."""

import pytest

from soundergate.mechanics import materials as m


@pytest.mark.parametrize(
    ("gauge", "pounds", "thickness_in"),
    # Sheet-steel weight table, https://roofonline.com/weight-of-sheet-steel (hot/cold rolled).
    [
        (10, 5.625, 0.1345),
        (11, 5.000, 0.1196),
        (12, 4.375, 0.1046),
        (14, 3.125, 0.0747),
        (16, 2.500, 0.0598),
        (18, 2.000, 0.0478),
        (20, 1.500, 0.0359),
    ],
)
def test_sheet_steel_by_gauge(gauge: int, pounds: float, thickness_in: float) -> None:
    assert m.sheet(f"{gauge} gauge") / m.LB_PER_FT2 == pytest.approx(pounds, rel=1e-12)
    # The Manufacturers' Standard basis: 41.82 lb/ft^2 for an inch of thickness.
    assert 41.82 * thickness_in == pytest.approx(pounds, rel=2e-3)
    # Thickness times density gives slightly less than the gauge's standard weight.
    by_density = m.sheet(thickness_in * m.INCH) / m.LB_PER_FT2
    assert 0.96 * pounds < by_density < pounds


@pytest.mark.parametrize(("gauge", "pounds"), [(14, 3.281), (16, 2.656), (18, 2.156)])
def test_galvanized_sheet(gauge: int, pounds: float) -> None:
    """Galvanized sheet weights of the same table (0.156 lb/ft^2 more)."""
    assert m.sheet(f"{gauge} ga", galvanized=True) / m.LB_PER_FT2 == pytest.approx(pounds)


def test_three_quarter_plywood() -> None:
    """APA figure as quoted by trade tables: 3.0 lb/ft^2 per inch, so 2.25 for 3/4 in."""
    assert m.plywood(0.75 * m.INCH) / m.LB_PER_FT2 == pytest.approx(2.25)
    assert m.plywood(0.75 * m.INCH) == pytest.approx(10.98, abs=0.01)


@pytest.mark.parametrize(("size", "pounds"), [("2x4", 1.28), ("2x6", 2.00), ("4x4", 2.98)])
def test_lumber_at_35_pounds_a_cubic_foot(size: str, pounds: float) -> None:
    """http://www.wikiengineer.com/Structural/SawnLumberDimensions, weight per foot."""
    assert m.frame(f"{size} lumber") / (m.LB / m.FOOT) == pytest.approx(pounds, abs=0.006)


@pytest.mark.parametrize(
    ("text", "kg_per_m2"),
    # lambda (1/p1 + 1/p2), lambda = 7850 pi d^2/4; wire diameters (W&M) from memory.
    [
        ("4 gauge 100x100 mm", 4.0387),
        ("4 gauge 50x100 mm", 6.0580),
        ("6 gauge 50 x 100 mm", 4.3993),
        ("8 gauge 100x100 mm", 2.0880),
    ],
)
def test_wire_mesh(text: str, kg_per_m2: float) -> None:
    assert m.mesh(text) == pytest.approx(kg_per_m2, rel=2e-4)
