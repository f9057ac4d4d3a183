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
