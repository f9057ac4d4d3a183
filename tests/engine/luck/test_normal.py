"""AS 241 against SciPy's inverse normal, which goes another way (Cephes ndtri)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtri

from soundergate.engine.luck.normal import normal_quantile

CLOSE = 5e-15
"""Relative: AS 241 claims about 1 part in 1e16, the oracle a few; rounding does the rest."""

# (p, standard normal quantile): the check values of Wichura (1988), from memory.
WICHURA = [
    (0.25, -0.6744897501960817),
    (0.001, -3.090232306167814),
    (1e-20, -9.262340089798408),
]


@pytest.mark.parametrize(("p", "z"), WICHURA)
def test_check_values_of_the_paper(p: float, z: float) -> None:
    assert normal_quantile(p) == pytest.approx(z, rel=1e-15)


def probabilities() -> np.ndarray:
    tail = 10.0 ** np.linspace(-300, -1, 4000)
    near_one = 1.0 - 2.0 ** -np.arange(1, 54, dtype=float)
    joins = np.array([0.075, np.nextafter(0.075, 0), 0.925, np.nextafter(0.925, 1), np.exp(-25.0)])
    drawn = (np.array([0, 1, 2**51 - 1, 2**51, 2**52 - 1], dtype=float) + 0.5) * 2.0**-52
    return np.concatenate([tail, near_one, np.linspace(1e-4, 1 - 1e-4, 9999), joins, drawn])


def test_whole_range_with_both_tails() -> None:
    p = probabilities()
    found = np.array([normal_quantile(x) for x in p])
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found, ndtri(p), rtol=CLOSE, atol=1e-300)


def test_odd_about_one_half() -> None:
    for j in range(1, 2**12):
        p = j / 2**13  # exact, and so is 1 - p
        assert normal_quantile(1.0 - p) == -normal_quantile(p)
    assert normal_quantile(0.5) == 0.0


@given(st.floats(1e-300, 1.0, exclude_max=True), st.floats(1e-300, 1.0, exclude_max=True))
def test_does_not_fall(p: float, q: float) -> None:
    low, high = sorted((p, q))
    below, above = normal_quantile(low), normal_quantile(high)
    assert below <= above + 4 * np.spacing(abs(above))
