"""Pulls of which only a part scatters: closed forms, simulation, and what a latch makes of them."""

from collections.abc import Callable
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from soundergate.mechanics import scatter, setup
from soundergate.mechanics.latches import release_probability as release
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
SIGMAS = st.floats(0.01, 1.0)


@given(r=st.floats(1.0, 1e4), a=st.floats(1.0, 1e4), s=SIGMAS, t=SIGMAS)
def test_plain_log_normals_as_before(r: float, a: float, s: float, t: float) -> None:
    one, other = LogNormal(r, s), LogNormal(a, t)
    assert scatter.frees(one, other) == release.probability(one, other)


@settings(max_examples=40, deadline=None)
@given(
    r=st.floats(1.0, 200.0), a=st.floats(1.0, 400.0), s=SIGMAS, t=SIGMAS,
    c=st.floats(-1.0, 1.0), d=st.floats(-1.0, 0.0), seed=st.integers(0, 2**31),
)  # fmt: skip
def test_against_simulation(
    r: float, a: float, s: float, t: float, c: float, d: float, seed: int
) -> None:
    """100,000 draws; 5.5 standard errors (about 2e-6 false alarms in all 40 examples)."""
    rng = np.random.default_rng(seed)
    required, available = LogNormal(r + c * r, s, c * r), LogNormal(a + d * a, t, d * a)
    need = r * np.exp(s * rng.standard_normal(100_000)) + c * r
    have = a * np.exp(t * rng.standard_normal(100_000)) + d * a
    share = float(((need >= 0.0) & (have >= need)).mean())
    found = scatter.frees(required, available)
    assert found == pytest.approx(share, abs=5.5 * (0.25 / 100_000) ** 0.5)
    assert scatter.stays_put(required) == pytest.approx(
        float((need >= 0.0).mean()), abs=5.5 * (0.25 / 100_000) ** 0.5
    )


@pytest.mark.parametrize("narrow", [1e-2, 1e-4, 1e-8])
def test_a_narrow_scatter_is_that_of_a_certain_pull(narrow: float) -> None:
    required = LogNormal(30.0, 0.4, -20.0)
    sure = scatter.frees(required, LogNormal(45.0))
    assert sure == pytest.approx(ndtr(log(65 / 50) / 0.4) - ndtr(log(20 / 50) / 0.4))
    assert scatter.frees(required, LogNormal(45.0, narrow, -10.0)) == pytest.approx(
        sure, abs=2.0 * narrow
    )


def test_edges() -> None:
    none, sure = LogNormal(0.0), LogNormal(10.0)
    assert scatter.frees(none, none) == 1.0
    assert scatter.frees(sure, none) == 0.0
    assert scatter.frees(LogNormal(0.0, 0.3), none) == 1.0
    assert scatter.frees(sure, LogNormal(10.1)) == 1.0
    assert scatter.frees(sure, LogNormal(9.9)) == 0.0
    assert scatter.frees(LogNormal(-1.0), sure) == 0.0
    assert scatter.frees(sure, LogNormal(-3.0, 0.1, -8.0)) < 1e-9
    assert scatter.frees(none, LogNormal(-3.0, 0.1, -8.0)) == 1.0


@given(target=st.floats(0.05, 0.99), s=SIGMAS, t=SIGMAS, d=st.floats(-0.9, 0.0))
def test_the_factor_for_a_target_meets_it(target: float, s: float, t: float, d: float) -> None:
    required, available = LogNormal(30.0, s, 5.0), LogNormal(20.0 + 20.0 * d, t, 20.0 * d)
    if (factor := scatter.factor_for(target, required, available)) is not None:
        assert scatter.frees_with(required, available, factor) == pytest.approx(target, abs=1e-6)


def test_no_factor_makes_a_slipping_latch_sure() -> None:
    slips = LogNormal(10.0, 0.5, -30.0)
    assert scatter.stays_put(slips) < 0.8
    assert scatter.factor_for(0.9, slips, LogNormal(10.0, 0.1)) is None


@given(share=st.floats(0.01, 0.99), steady=st.floats(-50.0, 50.0))
def test_quantiles_are_met_with_their_probability(share: float, steady: float) -> None:
    pull = LogNormal(20.0 + steady, 0.4, steady)
    assert scatter.at_least(pull, scatter.quantile(pull, share)) == pytest.approx(1.0 - share)


def test_seals_take_their_share_of_weak_air_too(trap: Trap) -> None:
    """A knee at 22 psi with 10 psi of seal loss: the supply's scatter falls on what is left.

    Worked out here from the formulas alone, summed over 400,001 evenly spaced supplies.
    """
    latch = {
        "kind": "knee", "puller": "air cylinder", "pressure": "22 psi", "seal_loss": "10 psi",
        "supply": {"median": 0.9, "sigma": 0.15}, "friction": {"median": 0.4, "sigma": 0.35},
        "bore": "1.5 in", "rod": "0.625 in",
    }  # fmt: skip
    (opening,) = setup.solve(trap(latch=latch)).openings
    area, psi = np.pi / 4 * (1.5**2 - 0.625**2) * 0.0254**2, 6894.757293168
    z = np.linspace(-8.0, 8.0, 400_001)
    have = (22.0 * 0.9 * np.exp(0.15 * z) - 10.0) * psi * area
    radius, link, angle = 0.25 * 0.0254, 6 * 0.0254, np.radians(5.0)
    psi_mid = np.arcsin(2 * radius * 0.4 / link)
    ratio, slope = 2 * np.tan(angle + psi_mid), 2 * np.tan(psi_mid) / np.cos(angle + psi_mid) ** 2
    spare = have / opening.holding_load - (ratio - slope)
    with np.errstate(invalid="ignore", divide="ignore"):
        met = np.where(spare > 0.0, ndtr(np.log(spare / slope) / 0.35), 0.0)
    density = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    expected = float((met * density).sum() * (z[1] - z[0]))
    assert opening.release_probability == pytest.approx(expected, abs=1e-6)
    plain = release.probability(
        LogNormal(opening.pull_required, opening.pull_required_sigma),
        LogNormal(opening.pull_available, 0.15),
    )
    assert opening.release_probability < plain - 0.003


def test_a_finger_that_slips_by_itself_does_not_count_as_held(trap: Trap) -> None:
    """Offset -1/4 in on arms of 1/2 and 3/16 in: below a friction of 4/11 the load slips off."""
    latch = {"kind": "finger", "puller": "air cylinder", "offset": "-0.25 in", "stroke": "6 in",
             "friction": {"median": 0.4, "sigma": 0.35}}  # fmt: skip
    (opening,) = setup.solve(trap(latch=latch)).openings
    slips = float(ndtr(log(4 / 11 / 0.4) / 0.35))
    assert slips == pytest.approx(0.39, abs=0.005)
    assert opening.hold_probability == pytest.approx(1.0 - slips)
    assert opening.release_probability == pytest.approx(1.0, abs=1e-6)  # air is plenty
    assert opening.shut_probability <= opening.hold_probability
    assert opening.latch.holds


def test_scatter_of_the_air_is_exact_at_its_quantiles(trap: Trap) -> None:
    latch = {"kind": "pin", "puller": "air cylinder", "pressure": "30 psi", "seal_loss": "10 psi",
             "supply": {"median": 0.8, "sigma": 0.2}}  # fmt: skip
    (opening,) = setup.solve(trap(latch=latch)).openings
    area = np.pi / 4 * (1.5**2 - 0.625**2) * 0.0254**2
    low = (30.0 * 0.8 * exp(-1.2816 * 0.2) - 10.0) * 6894.757293168 * area
    assert scatter.quantile(opening.available, 0.1) == pytest.approx(low, rel=1e-4)
