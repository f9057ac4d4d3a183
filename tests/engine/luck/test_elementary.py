"""Exponential and logarithm against the decimal module, which rounds rightly at any precision."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.compiled.decorators import compiled
from soundergate.engine.luck.elementary import exp, inline_exp, inline_ln, ln

UNIT = 1.0
"""Largest error allowed, in units in the last place; right rounding would give 0.5."""
DIGITS = 50

# The bits of a few values, as they are on every machine: a change here changes every result.
EXP_BITS = {
    1.0: "0x1.5bf0a8b14576ap+1",
    -0.5: "0x1.368b2fc6f960ap-1",
    3.25: "0x1.9ca53b781114bp+4",
    -12.75: "0x1.858af84b74310p-19",
    700.0: "0x1.d945df4f8ec8ep+1009",
    1e-9: "0x1.000000044b830p+0",
}
LN_BITS = {
    0.5: "-0x1.62e42fefa39efp-1",
    2.0: "0x1.62e42fefa39efp-1",
    0.9999: "-0x1.a3738d2cf1cc2p-14",
    1.7: "0x1.0fae81914a991p-1",
    1e-16: "-0x1.26bb1bbb55516p+5",
    12345.678: "0x1.2d79559791e31p+3",
}


def units_off(found: float, wanted: Decimal) -> float:
    return float(abs(Decimal(found) - wanted) / Decimal(float(np.spacing(abs(found)))))


def exp_error(x: float) -> float:
    with localcontext() as context:
        context.prec = DIGITS
        return units_off(exp(x), Decimal(x).exp())


def ln_error(x: float) -> float:
    with localcontext() as context:
        context.prec = DIGITS
        return units_off(ln(x), Decimal(x).ln())


@given(st.floats(-707.0, 709.78))
def test_exponential_within_a_unit(x: float) -> None:
    assert exp_error(x) < UNIT


@given(st.floats(0.0, exclude_min=True, allow_infinity=False, allow_subnormal=True))
def test_logarithm_within_a_unit(x: float) -> None:
    assert x == 1.0 or ln_error(x) < UNIT


@given(st.floats(0.5, 2.0))
def test_logarithm_within_a_unit_where_it_is_near_zero(x: float) -> None:
    assert ln(x) == 0.0 if x == 1.0 else ln_error(x) < UNIT


def test_where_the_reduction_turns_over() -> None:
    """Half way between powers of two the exponential's series is longest; at the root of one half
    the logarithm's power of two changes."""
    for k in range(-1019, 1024, 7):
        middle = (k + 0.5) * math.log(2.0)
        for x in (np.nextafter(middle, -np.inf), middle, np.nextafter(middle, np.inf)):
            if x < 709.78:
                assert exp_error(float(x)) < UNIT
        root = math.ldexp(math.sqrt(0.5), k)
        for x in (np.nextafter(root, 0.0), root, np.nextafter(root, np.inf)):
            assert ln_error(float(x)) < UNIT


@pytest.mark.parametrize(
    ("x", "value"),
    [(0.0, 1.0), (-0.0, 1.0), (-707.5, 0.0), (-1e300, 0.0), (-math.inf, 0.0), (709.79, math.inf),
     (math.inf, math.inf)],
)  # fmt: skip
def test_exponential_at_the_ends(x: float, value: float) -> None:
    assert exp(x) == value


@pytest.mark.parametrize(
    ("x", "value"), [(0.0, -math.inf), (-0.0, -math.inf), (1.0, 0.0), (math.inf, math.inf)]
)
def test_logarithm_at_the_ends(x: float, value: float) -> None:
    assert ln(x) == value


def test_what_is_no_number_stays_none() -> None:
    assert math.isnan(exp(math.nan))
    assert math.isnan(ln(math.nan))
    assert math.isnan(ln(-1.0))


@pytest.mark.parametrize("x", EXP_BITS)
def test_bits_of_the_exponential(x: float) -> None:
    assert exp(x).hex() == EXP_BITS[x]


@pytest.mark.parametrize("x", LN_BITS)
def test_bits_of_the_logarithm(x: float) -> None:
    assert ln(x).hex() == LN_BITS[x]


@given(st.floats(-800.0, 800.0))
def test_compiled_code_rounds_like_plain_python(x: float) -> None:
    """Neither a fused multiplication and addition nor another order of operations."""
    assert exp(x) == inline_exp(x)
    if x > 0.0:
        assert ln(x) == inline_ln(x)


@compiled
def exps(x, y):
    for j in range(x.shape[0]):
        y[j] = inline_exp(x[j])


@compiled
def lns(x, y):
    for j in range(x.shape[0]):
        y[j] = inline_ln(x[j])


@given(st.lists(st.floats(-800.0, 800.0), min_size=1, max_size=70))
def test_several_at_a_time_give_the_same_bits(values: list[float]) -> None:
    """Whatever the compiler makes of a loop, and whatever is left over at its end."""
    x = np.array(values)
    y = np.empty_like(x)
    exps(x, y)
    assert y.tolist() == [exp(v) for v in values]
    lns(np.abs(x), y)
    assert y.tolist() == [ln(abs(v)) for v in values]
