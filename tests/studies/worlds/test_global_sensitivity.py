"""Morris and Sobol' on functions that can be worked out by hand, and on a night."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from soundergate.scenario.loading import load
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.global_sensitivity import morris, sobol
from soundergate.studies.worlds.inputs import inputs_of
from soundergate.studies.worlds.sensitivity import response

NAMES = ("a", "b", "c")


def linear(x):
    return 2.0 * x[:, 0] - 5.0 * x[:, 1] + 1.0


def product(x):
    return x[:, 0] * x[:, 1]


def test_effects_of_a_linear_function_are_its_coefficients():
    found = morris(linear, NAMES, trajectories=7)
    assert found.mu == pytest.approx([2.0, -5.0, 0.0], abs=1e-12)
    assert found.mu_star == pytest.approx([2.0, 5.0, 0.0], abs=1e-12)
    assert found.sigma == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)
    assert found.evaluations == 7 * 4
    assert list(found.table.index) == ["b", "a", "c"]
    assert found.interval("b") == pytest.approx((5.0, 5.0, 0.95))


def test_effects_of_a_product_scatter():
    """The effect of one factor is the other, uniform on 0, 1/3, 2/3, 1: mean 1/2, variance 5/36.

    With 400 trajectories the mean's standard error is 0.0186; 5 of them bound a false alarm
    below one in a million."""
    found = morris(product, ("a", "b"), trajectories=400)
    assert found.mu == pytest.approx([0.5, 0.5], abs=5 * 0.0186)
    assert found.sigma == pytest.approx(np.sqrt([5 / 36] * 2), rel=0.1)
    assert found.mu_star == pytest.approx(found.mu)


def test_points_lie_on_the_grid_and_move_one_input_at_a_time():
    seen = []

    def spy(x):
        seen.append(x.copy())
        return x.sum(axis=1)

    morris(spy, NAMES, trajectories=30, levels=6, seed=3)
    (points,) = seen
    assert np.allclose(points * 5, np.round(points * 5))
    assert points.min() >= 0.0
    assert points.max() <= 1.0 + 1e-12
    steps = np.diff(points.reshape(30, 4, 3), axis=1)
    assert ((np.abs(steps) > 1e-9).sum(axis=2) == 1).all()
    assert np.abs(steps).max(axis=2) == pytest.approx(np.full((30, 3), 0.6))
    assert ((np.abs(steps) > 1e-9).sum(axis=1) == 1).all(), "every input once a trajectory"


def test_indices_of_an_additive_function_are_shares_of_its_variance():
    """Var = (4 + 25) / 12: shares 4/29 and 25/29, total the same."""
    found = sobol(linear, NAMES, n=1024)
    assert found.first == pytest.approx([4 / 29, 25 / 29, 0.0], abs=0.02)
    assert found.total == pytest.approx([4 / 29, 25 / 29, 0.0], abs=0.02)
    inside = (found.total_interval[:, 0] <= [4 / 29, 25 / 29, 0.0]) & (
        found.total_interval[:, 1] >= [4 / 29, 25 / 29, 0.0]
    )
    assert inside.all()
    assert found.evaluations == 1024 * 5
    assert list(found.table.index) == ["b", "a", "c"]


def test_seeds_and_errors():
    same = [morris(product, ("a", "b"), 5, seed=4).effects for _ in range(2)]
    assert (same[0] == same[1]).all()
    assert (morris(product, ("a", "b"), 5, seed=5).effects != same[0]).any()
    pd.testing.assert_frame_equal(*(sobol(linear, NAMES, 16, seed=2).table for _ in range(2)))
    with pytest.raises(StudyError, match="samples is 100; Sobol' points need a power of two"):
        sobol(linear, NAMES, n=100)
    with pytest.raises(StudyError, match="the same for every value"):
        sobol(lambda x: np.ones(len(x)), NAMES, n=16)
    with pytest.raises(StudyError, match="samples is 1"):
        morris(linear, NAMES, trajectories=1)
    with pytest.raises(StudyError, match="levels is 3"):
        morris(linear, NAMES, levels=3)
    with pytest.raises(StudyError, match="an input is named twice"):
        morris(linear, ("a", "a", "b"))
    with pytest.raises(StudyError, match="no inputs"):
        sobol(linear, ())
    with pytest.raises(StudyError, match=r"no number at shares"):
        morris(lambda x: np.where(x[:, 0] > 0.5, np.nan, 1.0), NAMES)
    with pytest.raises(StudyError, match="gave shape"):
        morris(lambda x: x, NAMES)


def test_of_a_night(scenario_file):
    """Shyness takes animals away whatever else holds; the scatter of a startle does not matter."""
    scenario = load(scenario_file)
    inputs = inputs_of(scenario, ["entry.shy_share", "startle.delay.sigma"])
    names = [one.id for one in inputs]
    of = response(scenario, inputs, nights=200)
    found = morris(of, names, trajectories=4)
    assert found.mu[0] < -0.1
    assert abs(found.mu[1]) < 0.02
    shares = sobol(of, names, n=16, resamples=99)
    assert shares.total[0] > 0.9
    assert abs(shares.total[1]) < 0.1


def test_one_input_alone_is_refused_in_words():
    with pytest.raises(StudyError, match="give two or more"):
        sobol(lambda x: x[:, 0], ["x"], 8)
