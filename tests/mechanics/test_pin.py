"""The pin: friction over every reaction, in both supports."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.model import Uncertain
from soundergate.mechanics.pin import double_shear_pull, overhung_pull, pin, stress

LOADS = st.floats(1.0, 5000.0)
FRICTIONS = st.floats(0.01, 1.0)


@given(load=LOADS, mu=FRICTIONS, a=st.floats(0.0, 0.2), c=st.floats(0.01, 0.3))
def test_overhung_pull_is_the_sum_over_the_reactions(
    load: float, mu: float, a: float, c: float
) -> None:
    """Reactions from the two equations of statics: at the guide's mouth and at its far end."""
    far = load * a / c
    mouth = load + far
    assert overhung_pull(load, mu, a, c) == pytest.approx(mu * (load + mouth + far))


@given(load=LOADS, mu=FRICTIONS)
def test_no_overhang_is_double_shear(load: float, mu: float) -> None:
    assert overhung_pull(load, mu, 0.0, 0.05) == double_shear_pull(load, mu) == 2 * mu * load


def test_pull_scatters_as_friction_and_grows_with_load() -> None:
    friction = Uncertain(0.42, 0.3)
    light, heavy = pin(100.0, friction, 0.025), pin(200.0, friction, 0.025)
    assert heavy.pull_required == 2 * light.pull_required == pytest.approx(168.0)
    assert light.pull_required_sigma == 0.3
    assert light.trip_travel == 0.025


def test_overhung_needs_more_than_double_shear() -> None:
    friction = Uncertain(0.42)
    overhung = pin(100.0, friction, 0.025, support="overhung", overhang=0.05, guide=0.05)
    assert overhung.pull_required == pytest.approx(2 * 84.0)


def test_refusals() -> None:
    with pytest.raises(ValueError, match="guide must be positive"):
        overhung_pull(100.0, 0.4, 0.05, 0.0)
    with pytest.raises(ValueError, match="support must be"):
        pin(100.0, Uncertain(0.4), 0.02, support="glued")


def test_stress_of_a_pin() -> None:
    """Textbook beams: shear W/(2A) with A = pi d^2/4, and a cantilever's 32 M/(pi d^3)."""
    assert stress(1000.0, 0.01) == pytest.approx(1000.0 / (2 * 78.5398e-6), rel=1e-6)
    assert stress(1000.0, 0.01, 0.05) == pytest.approx(50.0 / 98.1748e-9, rel=1e-6)


def test_a_thin_overhung_pin_is_cautioned() -> None:
    measures = {"support": "overhung", "overhang": 0.05, "guide": 0.05}
    thin = pin(400.0, Uncertain(0.4), 0.02, diameter=0.008, **measures)
    thick = pin(400.0, Uncertain(0.4), 0.02, diameter=0.02, **measures)
    assert "can bend and drop the gate" in thin.cautions[0]
    assert thick.cautions == ()
    assert pin(400.0, Uncertain(0.4), 0.02, diameter=0.008).cautions == ()
