"""Ahead, no matter, depends: how often each is said, against the exact power of a binomial test.

"No matter" is said where a share of worlds is shown to be above nine in ten by the one-sided bound
of Clopper and Pearson (1934, Biometrika 26:404), which is the exact binomial test turned round: so
the chance to say it is P(B >= c), B binomial of the worlds and the true share, c the least count
that the test rejects at (power of an exact test for one proportion, e.g. Fleiss, Levin & Paik 2003,
Statistical Methods for Rates and Proportions, section 2.2; from memory). The critical counts come
from SciPy's `binomtest`, not from the bound itself. Studies are made-up differences; each share
found lies within what chance does once in ten thousand.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.worlds.boxes import find_box
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.verdicts import AHEAD, NO_MATTER, verdict

LIMIT, MOST = 0.02, 0.90


@cache
def least(worlds: int, level: float = 0.95) -> int:
    """The fewest of so many worlds that reject "nine in ten or fewer" at the level."""
    return next(
        hits
        for hits in range(worlds + 1)
        if stats.binomtest(hits, worlds, MOST, alternative="greater").pvalue < 1 - level
    )


def said(gains: np.ndarray) -> str:
    return verdict("a", "b", "fraction_caught", gains, negligible=LIMIT).verdict


def within_chance(hits: int, studies: int, power: float) -> bool:
    few, many = stats.binom.ppf([5e-5, 1 - 5e-5], studies, power)
    return bool(few <= hits <= many)


@pytest.mark.parametrize("true", [0.90, 0.95, 0.98])
@pytest.mark.parametrize(
    ("worlds", "studies"), [(100, 120), pytest.param(200, 2000, marks=pytest.mark.slow)]
)
def test_no_matter_is_said_as_often_as_the_binomial_test_rejects(
    worlds: int, studies: int, true: float
) -> None:
    """At nine in ten exactly that is a false alarm, and at most one in twenty."""
    rng = np.random.default_rng([worlds, int(100 * true)])
    power = float(stats.binom.sf(least(worlds) - 1, worlds, true))
    hits = sum(
        said(np.where(rng.random(worlds) < true, 0.0, rng.choice([-0.3, 0.3]))) == NO_MATTER
        for _ in range(studies)
    )
    assert within_chance(hits, studies, power)
    if true == MOST:
        assert power <= 0.05


@pytest.mark.parametrize("true", [0.90, 0.95, 0.98])
@pytest.mark.parametrize(
    ("worlds", "studies"), [(100, 120), pytest.param(200, 2000, marks=pytest.mark.slow)]
)
def test_ahead_is_said_as_often_as_the_binomial_test_rejects(
    worlds: int, studies: int, true: float
) -> None:
    """Differences of 0.3 either way: on average it is better beyond doubt, so the share decides."""
    rng = np.random.default_rng([worlds, int(100 * true), 1])
    power = float(stats.binom.sf(least(worlds) - 1, worlds, true))
    hits = sum(
        said(np.where(rng.random(worlds) < true, 0.3, -0.3)) == AHEAD for _ in range(studies)
    )
    assert within_chance(hits, studies, power)
    if true == MOST:
        assert power <= 0.05


@pytest.mark.parametrize("planted", [True, False])
@pytest.mark.parametrize("studies", [30, pytest.param(300, marks=pytest.mark.slow)])
def test_patient_rule_induction_finds_a_planted_box_and_none_in_noise(
    planted: bool, studies: int
) -> None:
    """A box of two of five uniform inputs (Friedman & Fisher 1999, Statistics and Computing 9:123,
    whose own examples plant such boxes): a is better in nine of ten worlds within it and in two of
    ten outside. Found in nearly every study, its sides where they were planted; without one, told
    in at most one of twenty (once in a thousand by chance)."""
    rng = np.random.default_rng(8)
    five = [Input(f"x{n}", (f"x{n}",), None) for n in range(5)]  # type: ignore[arg-type]
    right = told = 0
    for _ in range(studies):
        u = rng.random((400, 5))
        inside = (u[:, 1] < 0.5) & (u[:, 3] > 0.4)
        share = np.where(inside, 0.9, 0.2) if planted else np.full(400, 0.5)
        box = find_box(five, u, rng.random(400) < share)
        told += box is not None
        if box is not None:
            sides = {(side.unknown.id, side.below): side.place for side in box.sides}
            right += set(sides) == {("x1", True), ("x3", False)} and (
                abs(sides["x1", True] - 0.5) < 0.12 and abs(sides["x3", False] - 0.4) < 0.12
            )
    if planted:
        assert told >= 0.95 * studies
        assert right >= 0.6 * studies
    else:
        assert told <= stats.binom.isf(1e-3, studies, 0.05)
