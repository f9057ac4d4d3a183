"""The value of information against the textbook case: two actions, one normal unknown.

If one action gains nothing and the other d ~ normal(-m, s), knowing d before choosing is worth
s L(m / s) with the unit normal loss integral L(k) = phi(k) - k (1 - Phi(k)) (Raiffa & Schlaifer
1961, Applied Statistical Decision Theory, section 5.5 and table; values of L from memory, checked
here against the formula).
"""

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.worlds import information

LOSS = {0.0: 0.39894, 0.5: 0.19780, 1.0: 0.08332, 2.0: 0.00849}
WORLDS = 20_000


@pytest.mark.parametrize("k", LOSS)
def test_two_actions_and_a_normal_unknown(k):
    assert stats.norm.pdf(k) - k * stats.norm.sf(k) == pytest.approx(LOSS[k], abs=5e-6)
    u = (np.arange(WORLDS) + 0.5) / WORLDS  # every part of the range once, so no sampling error
    gains = np.column_stack([np.zeros(WORLDS), 3.0 * (stats.norm.ppf(u) - k)])
    known = information.perfect(gains, np.zeros_like(gains))
    assert known == pytest.approx(3.0 * LOSS[k], rel=2e-3)
    if k <= 0.5:
        # The curve fitted to the worlds is a cubic in u, which cannot follow a normal quantile into
        # its tails: near the middle that costs a few per cent, far out it is of no use. Ranges of
        # the register have ends, so that their tails are not those of a normal.
        assert information.partial(u, gains) == pytest.approx(known, rel=0.05)


@pytest.mark.parametrize("k", [0.0, 0.5])
@pytest.mark.parametrize("share", [0.36, 0.64])
def test_two_actions_and_one_of_two_normal_unknowns(k, share):
    """d = a x + b y - m with x and y normal: to know both is worth s L(m / s) with s^2 = a^2 + b^2,
    to know x alone a L(m / a), since then d is on average a x - m (the expected value of sample
    information of a sample that tells x and no more; Raiffa & Schlaifer 1961, section 5.5).

    x is spread evenly and y beside it in a fixed disorder. Half a per cent for sampling, and as
    above for the fitted cubic.
    """
    u = (np.arange(WORLDS) + 0.5) / WORLDS
    v = np.random.default_rng(1).permutation(u)
    s = 2.0
    a, b, m = s * np.sqrt(share), s * np.sqrt(1 - share), s * k
    d = a * stats.norm.ppf(u) + b * stats.norm.ppf(v) - m
    gains = np.column_stack([np.zeros(WORLDS), d])

    def loss(z):
        return stats.norm.pdf(z) - z * stats.norm.sf(z)

    both, one, other = s * loss(m / s), a * loss(m / a), b * loss(m / b)
    assert information.perfect(gains, np.zeros_like(gains)) == pytest.approx(both, rel=0.02)
    assert information.partial(u, gains) == pytest.approx(one, rel=0.07)
    assert information.partial(v, gains) == pytest.approx(other, rel=0.07)
    assert max(one, other) < both


def test_noise_of_nights_leaves_the_worth_of_knowing_as_it_was():
    """The same with a normal error on top, as large as the worlds' own spread: s L(m / s), not
    what the wider spread would give."""
    rng = np.random.default_rng(2)
    u = (np.arange(WORLDS) + 0.5) / WORLDS
    d = 2.0 * stats.norm.ppf(u) - 1.0
    seen = d + rng.normal(0, 2.0, WORLDS)
    gains = np.column_stack([np.zeros(WORLDS), seen])
    noise = np.column_stack([np.zeros(WORLDS), np.full(WORLDS, 4.0)])
    assert information.perfect(gains, noise) == pytest.approx(2.0 * LOSS[0.5], rel=0.05)
    assert information.perfect(gains, 0 * noise) > 1.5 * 2.0 * LOSS[0.5]
