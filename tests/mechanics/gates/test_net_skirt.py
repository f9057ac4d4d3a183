"""A net skirt: it falls freely and weighs what is lifted."""

from math import sqrt

import numpy as np
import pytest

from soundergate.mechanics.gates.net_skirt import NetSkirt
from soundergate.scenario.constants import GRAVITY

NET = NetSkirt(1.2, 0.9, 0.9, 20.0, 0.6, 0.1)


def test_net_falls_freely_and_weighs_what_is_lifted() -> None:
    solution = NET.solution()
    assert solution.curve.shut_time == pytest.approx(sqrt(2.0 * 0.9 / GRAVITY))
    assert NET.area_mass == pytest.approx(0.9 / (1.2 * 1.5))
    flat = NET.area_mass * GRAVITY * 0.6 * 0.1  # the skirt under a snout 0.1 m wide
    assert NET.force_out(0.0) == pytest.approx(flat)
    assert solution.pry_by_clear is not None
    assert (np.diff(solution.pry_by_clear) > 0.0).all()
    # Nosed up over the whole width it is the whole net, less the triangles at the sides.
    assert NET.force_out(0.55) < NET.mass * GRAVITY
