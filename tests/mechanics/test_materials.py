"""Material texts: what is read, and what is refused with which words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import materials as m


@pytest.mark.parametrize("text", ["14 gauge", "14 ga", "14ga.", "14-gauge", " 14 GAGE "])
def test_ways_to_write_a_gauge(text: str) -> None:
    assert m.gauge_number(text) == 14.0
    assert m.sheet(text) == m.sheet("14 gauge")


def test_a_thickness_is_not_a_gauge() -> None:
    assert m.gauge_number("2 mm") is None
    assert m.sheet(0.002) == pytest.approx(15.7)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: m.sheet("21 gauge"), "'21 gauge' is no sheet gauge; known are 7, 8"),
        (lambda: m.sheet("14.5 gauge"), "is no sheet gauge"),
        (lambda: m.sheet("thick"), "is no sheet gauge"),
        (lambda: m.sheet(0.0), "sheet thickness must be positive, got 0.0"),
        (lambda: m.mesh("4 gauge"), 'write it like "4 gauge 2x4 in"'),
        (lambda: m.mesh("3.5 gauge 2x4 in"), "unknown wire gauge; known are 2, 3"),
        (lambda: m.mesh("4 gauge 0x4 in"), "mesh pitch must be positive"),
        (lambda: m.frame("2x7 lumber"), 'write it like "2x4 lumber"'),
        (lambda: m.frame("steel"), "is no known member; write it like .2x4 lumber"),
        (lambda: m.frame(-1.0), "frame mass per length must be positive, got -1.0"),
    ],
)
def test_refusals(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


@given(st.floats(0.3, 4.0), st.floats(0.3, 2.0))
def test_panel_mass_is_face_and_frame(width: float, height: float) -> None:
    mass = m.panel_mass(width, height, face=10.0, member=2.0, uprights=1)
    assert mass == pytest.approx(10 * width * height + 2 * (2 * width + 3 * height))


def test_mesh_pitch_order_does_not_matter() -> None:
    assert m.mesh("6 gauge 2x4 in") == pytest.approx(m.mesh("6 gauge 4 x 2 in"))
    assert m.mesh("6 gauge 2x4 in") == pytest.approx(m.mesh("6 ga 50.8x101.6 mm"))
    assert m.mesh(4.0) == 4.0


@given(gauge=st.sampled_from(sorted(m.SHEET_LB_PER_FT2)))
def test_a_gauge_is_as_thick_as_its_weight_says(gauge: int) -> None:
    """41.82 lb/ft^2 an inch; a thickness given as such stays what it is."""
    thick = m.sheet_thickness(f"{gauge} gauge")
    assert thick / m.INCH == pytest.approx(m.SHEET_LB_PER_FT2[gauge] / 41.82)
    assert m.sheet_thickness(thick) == thick
