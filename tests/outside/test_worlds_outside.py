"""Answers over plausible worlds against what is known exactly, and against textbooks."""

import numpy as np
import pytest
from scipy import stats

from soundergate.engine.outcomes import Outcomes
from soundergate.scenario.register import Entry
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.order import quantile
from soundergate.studies.worlds.robust import robust_players
from soundergate.studies.worlds.robust_result import RobustComparison

MEDIAN, SIGMA, BY = 60.0, 0.8, 45.0
"""Seconds: the median over worlds of the mean wait, its log scatter, and when one looks."""
END = MEDIAN * float(np.exp(stats.norm.ppf(0.95) * SIGMA))
WAIT = Input(
    "wait",
    ("wait",),
    Entry("wait", MEDIAN, "s", MEDIAN**2 / END, END, "log-normal", "invented", "", ""),
)


def waits_in(arm, u):
    """One pig that enters after an exponential wait; released if that is over by a fixed time."""
    mean = WAIT.at(float(u[0]))

    def play(seed, first, count):
        o = Outcomes.empty(count)
        o["night"][:] = np.arange(first, first + count)
        over = np.random.default_rng([seed, first]).exponential(mean, count) <= BY
        o["group_size"][:] = 1
        o["released"][:] = over
        o["caught"][:], o["never_entered"][:] = over, ~over
        return o

    return play


def test_the_spread_over_worlds_of_one_exponential_wait():
    """Share released by t where the mean wait is log-normal: 1 - exp(-t / mean) falls as the mean
    rises, so its p-quantile over worlds is that at the (1 - p)-quantile of the mean; its mean is
    an integral over a normal. Quantiles lie in their 1 - 1e-6 intervals once what the nights of a
    world add is allowed for: 0.5 / sqrt(nights) at most, five times."""
    nights = 2000
    r = robust_players(["a"], [WAIT], waits_in, 400, nights, 3, measures=["released"])
    answers = r.means["released"][:, 0]
    noise = 5 * 0.5 / np.sqrt(nights)
    for share in (0.05, 0.5, 0.95):
        mean = MEDIAN * np.exp(SIGMA * stats.norm.ppf(1 - share))
        exact = 1 - np.exp(-BY / mean)
        q = quantile(answers, share, 1 - 1e-6)
        assert q.low - noise < exact < q.high + noise
        assert q.estimate == pytest.approx(exact, abs=0.05)
    middle = stats.norm.expect(
        lambda z: 1 - np.exp(-BY / (MEDIAN * np.exp(SIGMA * z))), lb=-8, ub=8
    )
    assert answers.mean() == pytest.approx(middle, abs=5 * answers.std() / np.sqrt(400))
    known = 1 - np.exp(-BY / np.array([WAIT.at(float(u)) for u in r.places[:, 0]]))
    # Within a world the nights are yes/no: p (1 - p) / n (divisor n - 1), averaged over worlds.
    within = float(np.mean(known * (1 - known))) / nights
    assert float(np.mean(r.noise["released"])) == pytest.approx(within, rel=0.02)
    share = r.arm_spread("a").noise_share
    between = float(np.var(known, ddof=1))
    assert share == pytest.approx(within / (within + between), rel=0.15)


# Yield of dyestuff (g of standard colour) from five preparations of each of six batches of an
# intermediate; Davies & Goldsmith 1972, Statistical Methods in Research and Production, section
# 6.5, data also in Box & Tiao 1973, Bayesian Inference in Statistical Analysis, Table 5.1.2
# (numbers from memory). One-way analysis of variance there: mean squares 11 271.5 between and
# 2 451.25 within, variance components 1 764.05 between batches and 2 451.25 within.
DYESTUFF = np.array([
    [1545, 1440, 1440, 1520, 1580],
    [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625],
    [1520, 1455, 1450, 1480, 1445],
])  # fmt: skip


def test_noise_share_against_a_textbook_of_variance_components():
    """A batch is a world, a preparation a night: of the variance of batch means the part due to
    preparations is the mean square within over that between, 2451.25 / 11271.5; what is left of
    it is the component between batches."""
    means = DYESTUFF.mean(axis=1)
    noise = DYESTUFF.var(axis=1, ddof=1) / 5
    r = RobustComparison(
        ["a"],
        [WAIT],
        np.full((6, 1), 0.5),
        {"caught": means[:, None]},
        {"caught": noise[:, None, None]},
        [],
        nights=5,
        seed=1,
        level=0.95,
        asked=6,
    )
    share = r.arm_spread("a").noise_share
    assert share == pytest.approx(2451.25 / 11271.5, rel=1e-5)
    assert (1 - share) * np.var(means, ddof=1) == pytest.approx(1764.05, abs=0.01)


# Loom strengths: four fabrics of each of four looms drawn at random, in psi (Montgomery, Design and
# Analysis of Experiments, the example of the random-effects model; from memory): components 1.90
# within and 6.96 between looms.
LOOMS = np.array(
    [[98, 97, 99, 96], [91, 90, 93, 92], [96, 95, 97, 95], [95, 96, 99, 98]], dtype=float
)


def test_noise_share_against_the_looms():
    means, noise = LOOMS.mean(axis=1), LOOMS.var(axis=1, ddof=1) / 4
    r = RobustComparison(
        ["a"],
        [WAIT],
        np.full((4, 1), 0.5),
        {"caught": means[:, None]},
        {"caught": noise[:, None, None]},
        [],
        nights=4,
        seed=1,
        level=0.95,
        asked=4,
    )
    share = r.arm_spread("a").noise_share
    assert 4 * share * np.var(means, ddof=1) == pytest.approx(1.90, abs=0.005)
    assert (1 - share) * np.var(means, ddof=1) == pytest.approx(6.96, abs=0.005)
