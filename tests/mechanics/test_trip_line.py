"""Statics of a trip line: sag, travel, tension as hung, push, bends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from soundergate.mechanics import trip_line
from soundergate.scenario.constants import GRAVITY

spans = st.floats(0.2, 20.0)
tensions = st.floats(1.0, 500.0)
gives = st.floats(1e-4, 0.2)
RIGID = 1e15


# ---- sag -----------------------------------------------------------------------------------


def test_sag_is_the_parabola() -> None:
    assert trip_line.sag(6.0, 0.005, 20.0) == pytest.approx(0.005 * GRAVITY * 36 / (8 * 20))


def test_sag_is_close_to_the_catenary() -> None:
    """A hanging line is a catenary with parameter T0 / w (any statics text); while the sag is
    small against the span the parabola differs from it by its square only."""
    a = 10.0 / (0.020 * GRAVITY)
    catenary = a * (math.cosh(3.0 / a) - 1.0)
    sag = trip_line.sag(6.0, 0.020, 10.0)
    assert sag == pytest.approx(catenary, rel=(catenary / 6.0) ** 2 * 2)


def test_a_light_or_tight_line_hangs_where_it_is_tied() -> None:
    assert trip_line.sag(6.0, 0.0, 10.0) == 0.0
    assert trip_line.sag(6.0, 0.01, 1.0) == pytest.approx(50 * trip_line.sag(6.0, 0.01, 50.0))


# ---- travel --------------------------------------------------------------------------------


def drawn_in(span: float, delta: float) -> float:
    """Line in m that its ends give when it is pushed ``delta`` m aside at mid-span."""
    return 2.0 * (math.hypot(span / 2.0, delta) - span / 2.0)


def deflection(span: float, drawn: float) -> float:
    """The sideways push in m at mid-span that draws in ``drawn`` m."""
    return math.sqrt(0.5 * drawn * (span + 0.5 * drawn))


# ---- push ----------------------------------------------------------------------------------


@given(spans, tensions, st.floats(0.0, 1.0), gives, st.floats(500.0, 1e5))
def test_push_and_tension_balance_at_the_middle(
    span: float, tension: float, share: float, give: float, stiffness: float
) -> None:
    """P = 2 T sin(a) with tan(a) = 2 delta / S, at the delta whose ends give what gives without
    tension and the stretch from the tension as hung: found by root search."""
    hung = share * tension
    drawn = give + (tension - hung) / stiffness

    def too_far(delta: float) -> float:
        return drawn_in(span, delta) - drawn

    delta = brentq(too_far, 0.0, span + drawn, xtol=1e-15, rtol=1e-14)
    alpha = math.atan(2 * delta / span)
    push = trip_line.push_for(tension, hung, give, stiffness, span)
    assert push == pytest.approx(2 * tension * math.sin(alpha), rel=1e-5)


@given(spans, tensions, gives, st.floats(500.0, 1e5))
def test_without_tension_as_hung_all_of_it_is_stretch(
    span: float, tension: float, give: float, stiffness: float
) -> None:
    """The limit T0 = 0: T = P / (2 sin a) of a line that hangs loose, whole stretch T / k."""
    drawn = give + tension / stiffness
    delta = deflection(span, drawn)
    loose = 2 * tension * delta / math.hypot(span / 2, delta)
    assert trip_line.push_for(tension, 0.0, give, stiffness, span) == pytest.approx(loose)


@given(spans, tensions, gives, st.floats(0.0, 1.0))
def test_a_rigid_line_does_not_care_how_tight_it_hung(
    span: float, tension: float, give: float, share: float
) -> None:
    tight = trip_line.push_for(tension, share * tension, give, RIGID, span)
    assert tight == pytest.approx(trip_line.push_for(tension, 0.0, give, RIGID, span), rel=1e-6)


@given(spans, tensions, gives, st.floats(500.0, 1e5))
def test_the_push_is_monotone(span: float, tension: float, give: float, stiffness: float) -> None:
    """More pull, slack or stretch ask for more; a tighter line for less, since less is stretch."""
    plain = trip_line.push_for(tension, 0.5 * tension, give, stiffness, span)
    push_for = trip_line.push_for
    assert push_for(1.1 * tension, 0.5 * tension, give, stiffness, span) > plain
    assert push_for(tension, 0.5 * tension, 1.1 * give, stiffness, span) > plain
    assert push_for(tension, 0.5 * tension, give, 0.9 * stiffness, span) > plain
    assert push_for(tension, 0.6 * tension, give, stiffness, span) < plain


@given(tensions, gives)
def test_a_longer_span_multiplies_the_force(tension: float, give: float) -> None:
    pushes = [trip_line.push_for(tension, 0.0, give, RIGID, s) for s in (1.0, 2.0, 4.0, 8.0)]
    assert pushes == sorted(pushes, reverse=True)


def test_many_at_once_are_as_one_by_one() -> None:
    some = np.linspace(20.0, 300.0, 7)
    together = trip_line.push_for(some, 20.0, 0.03, 3000.0, 5.0)
    alone = [trip_line.push_for(float(t), 20.0, 0.03, 3000.0, 5.0) for t in some]
    assert together.tolist() == alone


def test_the_engines_push_is_this_one_to_the_bit() -> None:
    from soundergate.engine.rules.line_pull import push_for

    rng = np.random.default_rng(3)
    for _ in range(200):
        hung, more, give = rng.uniform((0.0, 0.0, 0.001), (90.0, 500.0, 0.3))
        stiffness, span = rng.uniform((300.0, 0.5), (4e4, 9.0))
        plain = trip_line.push_for(hung + more, hung, give, stiffness, span)
        assert push_for(hung + more, hung, give, stiffness, span) == plain


def test_bends_lose_as_the_capstan_equation_says() -> None:
    assert trip_line.share_left(3 * math.pi / 2, 0.2) == pytest.approx(math.exp(-0.3 * math.pi))
    assert trip_line.share_left(0.0, 0.2) == 1.0
