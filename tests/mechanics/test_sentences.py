"""Numbers as people read them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import numbers_in_words as words
from soundergate.scenario.unit_system import SI, US


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"),
        (1.0, "over 99.9 %"),
        (0.0004, "under 0.1 %"),
        (0.99987, "over 99.9 %"),
        (0.5, "50 %"),
        (0.034, "3.4 %"),
        (0.952, "95.2 %"),
    ],
)
def test_percent(share: float, text: str) -> None:
    assert words.percent(share) == text


def test_both_systems() -> None:
    assert US.force(4.4482216152605) == "1 lbf"
    assert SI.force(719.3) == "719 N"
    assert US.length(1.2192) == "4 ft"
    assert SI.short(0.0127) == "12.7 mm"
    assert US.pressure(689475.7) == "100 psi"
    assert US.energy(1.3558179483) == "1 ft·lbf"
    assert US.force(float("inf")) == "without limit"
    assert words.force(719.3) == "719 N (161.7 lbf)"
    assert words.stress(165e6) == "165 MPa (23,900 psi)"
    assert words.mass(23.0) == "23 kg (51 lb)"


def test_a_weight_and_its_mass_are_rounded_alike() -> None:
    """78.75 lb lies between two roundings; what weighs it must show the same figure."""
    pounds = 78.75 * 0.45359237
    assert US.mass(pounds) == "78.8 lb"
    assert US.force(pounds * 9.80665) == "78.8 lbf"
    assert US.force(0.0703 * 4.4482216152605) == "0.07 lbf"


@given(value=st.floats(0.01, 5e4), kind=st.sampled_from(["force", "travel", "distance", "wind"]))
def test_a_text_in_both_systems_is_told_in_one(value: float, kind: str) -> None:
    both = getattr(words, kind)(value)
    metric, us = both.rstrip(")").split(" (")
    sentence = f"it takes {both}, or {both}: no more (as said)"
    assert words.told(sentence, SI) == f"it takes {metric}, or {metric}: no more (as said)"
    assert words.told(sentence, US) == f"it takes {us}, or {us}: no more (as said)"


@pytest.mark.parametrize(
    ("name", "value", "us", "si"),
    [
        ("load (N)", 44.482216, ("load", "10 lbf"), ("load", "44.5 N")),
        ("gate mass (kg)", 45.359237, ("gate mass", "100 lb"), ("gate mass", "45.4 kg")),
        ("travel (mm)", 25.4, ("travel", "1 in"), ("travel", "25.4 mm")),
        ("depth (m)", 0.3048, ("depth", "1 ft"), ("depth", "0.3 m")),
        ("gust (m/s)", 4.4704, ("gust", "10 mph"), ("gust", "4.5 m/s")),
        ("releases (share)", 1e-6, ("releases", "under 0.1 %"), ("releases", "under 0.1 %")),
        ("shut (s)", float("inf"), ("shut", "never"), ("shut", "never")),
        ("shut (s)", 0.4567, ("shut", "0.457 s"), ("shut", "0.457 s")),
        ("angle (deg)", 45.0, ("angle", "45 deg"), ("angle", "45 deg")),
        ("pull / load", 0.24, ("pull / load", "0.24"), ("pull / load", "0.24")),
        ("0.91 m (3.0 ft) wide, load (N)", 1.0, ("3.0 ft wide, load", "0.22 lbf"), None),
    ],
)
def test_a_figure_by_its_unit(name: str, value: float, us: tuple, si: tuple | None) -> None:
    assert words.figure(name, value, US) == us
    if si:
        assert words.figure(name, value, SI) == si
