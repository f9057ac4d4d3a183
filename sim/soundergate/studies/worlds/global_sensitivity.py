"""Sensitivity with all inputs moving at once: Morris's elementary effects and Sobol' indices.

Both take a function of shares in 0 to 1, float[n, d] -> float[n], such as
`sensitivity.response` makes of a scenario. Morris is cheap and ranks; Sobol' is
dear and says what share of the variance an input explains alone and with all its interplay.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import Interval, mean_t
from soundergate.studies.seeds import check_seed

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Function = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Morris:
    """Elementary effects, effects float[r, d]: change of the answer over the change of one share.

    ``mu`` is their mean, ``mu_star`` the mean of their sizes, ``sigma`` their standard deviation:
    an input with a large mu_star matters; one with a large sigma besides is bent, or works
    together with others. Sources: Morris 1991, Technometrics 33:161-174; mu_star from Campolongo,
    Cariboni and Saltelli 2007, Environmental Modelling and Software 22:1509-1518.
    """

    names: tuple[str, ...]
    effects: Floats
    evaluations: int

    @property
    def mu(self) -> Floats:
        """float[d]"""
        return np.asarray(self.effects.mean(axis=0))

    @property
    def mu_star(self) -> Floats:
        """float[d]"""
        return np.asarray(np.abs(self.effects).mean(axis=0))

    @property
    def sigma(self) -> Floats:
        """float[d], divisor r - 1"""
        return np.asarray(self.effects.std(axis=0, ddof=1))

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Interval of one input's mu_star, by t over the trajectories."""
        return mean_t(np.abs(self.effects[:, self.names.index(name)]), level)

    @property
    def table(self) -> pd.DataFrame:
        """One row an input, the largest mu_star first."""
        import pandas as pd

        columns = {"mu": self.mu, "mu_star": self.mu_star, "sigma": self.sigma}
        table = pd.DataFrame(columns, index=pd.Index(self.names, name="input"))
        return table.sort_values("mu_star", ascending=False, kind="stable")


def morris(
    function: Function,
    names: Sequence[str],
    trajectories: int = 20,
    levels: int = 4,
    seed: int | None = 1,
) -> Morris:
    """Elementary effects over random trajectories, trajectories x (d + 1) evaluations.

    A trajectory starts at a random point of a grid of ``levels`` (even) on each axis and moves
    every input once, in random order, by levels / (2 (levels - 1)), the step that gives every
    grid point the same chance. Raises StudyError for a wrong number.
    """
    check_trajectories(trajectories)
    if levels < 2 or levels % 2:
        raise StudyError(f"levels is {levels!r}; wanted an even number, 2 or more")
    d = _dimension(names)
    rng = np.random.default_rng(check_seed(seed))
    step = levels / (2.0 * (levels - 1))
    points = np.empty((trajectories, d + 1, d))
    orders = np.empty((trajectories, d), dtype=int)
    for r in range(trajectories):
        below = rng.integers(0, levels // 2, d) / (levels - 1)
        up = rng.random(d) < 0.5
        orders[r] = rng.permutation(d)
        points[r, 0] = np.where(up, below, below + step)
        for k, i in enumerate(orders[r]):
            points[r, k + 1] = points[r, k]
            points[r, k + 1, i] += step if up[i] else -step
    answers = _evaluated(function, points.reshape(-1, d)).reshape(trajectories, d + 1)
    effects = np.empty((trajectories, d))
    for r in range(trajectories):
        change = np.diff(answers[r])
        moved = np.diff(points[r], axis=0)[np.arange(d), orders[r]]
        effects[r, orders[r]] = change / moved
    return Morris(tuple(names), effects, answers.size)


@dataclass(frozen=True)
class Sobol:
    """Sobol' indices with intervals.

    ``first[i]`` is the share of the variance that input i explains alone, ``total[i]`` the share
    in which it has any part; ``first_interval`` and ``total_interval`` float[d, 2] from a
    bootstrap over the samples. They are estimates: small ones may come out below 0.
    """

    names: tuple[str, ...]
    first: Floats
    total: Floats
    first_interval: Floats
    total_interval: Floats
    level: float
    evaluations: int

    @property
    def table(self) -> pd.DataFrame:
        """One row an input, the largest total share first."""
        import pandas as pd

        columns = {
            "first": self.first,
            "first_low": self.first_interval[:, 0],
            "first_high": self.first_interval[:, 1],
            "total": self.total,
            "total_low": self.total_interval[:, 0],
            "total_high": self.total_interval[:, 1],
        }
        table = pd.DataFrame(columns, index=pd.Index(self.names, name="input"))
        return table.sort_values("total", ascending=False, kind="stable")


def sobol(
    function: Function,
    names: Sequence[str],
    n: int = 256,
    seed: int | None = 1,
    level: float = 0.95,
    resamples: int = 999,
) -> Sobol:
    """Sobol' indices by `scipy.stats.sobol_indices` (Saltelli et al. 2010), n (d + 2) evaluations.

    ``n`` must be a power of two, as the Sobol' points are balanced only then. Intervals are the
    percentiles of ``resamples`` draws of the points, repeatable with the seed. Raises StudyError
    for another n, for one input alone, or when the function does not vary.
    """
    from scipy.stats import qmc, sobol_indices

    check_points(n)
    d, level = _dimension(names), check_level(level)
    if d == 1:
        raise StudyError("one unknown alone has all of the variance; give two or more")
    rng = np.random.default_rng(check_seed(seed))
    both = qmc.Sobol(2 * d, rng=rng).random(n)
    a, b = both[:, :d], both[:, d:]
    mixed = np.repeat(a[None], d, axis=0)  # float[d, n, d]: a with one column of b each
    mixed[np.arange(d), :, np.arange(d)] = b.T
    points = np.concatenate([a, b, mixed.reshape(-1, d)])
    answers = _evaluated(function, points)
    if np.ptp(answers) == 0.0:
        raise StudyError("the answer is the same for every value of these inputs")
    f_a, f_b, f_mixed = answers[:n], answers[n : 2 * n], answers[2 * n :].reshape(d, n)

    def indices(rows: NDArray[np.intp]) -> Floats:
        """float[2, d]: first order and total of these points."""
        known = {"f_A": f_a[None, rows], "f_B": f_b[None, rows], "f_AB": f_mixed[:, None, rows]}
        with np.errstate(invalid="ignore", divide="ignore"):  # points drawn that are all alike
            found = sobol_indices(func=known, n=n)
        return np.array([np.ravel(found.first_order), np.ravel(found.total_order)])

    first, total = indices(np.arange(n))
    drawn = np.array([indices(rng.integers(0, n, n)) for _ in range(resamples)])
    ends = np.nanquantile(drawn, [(1 - level) / 2, (1 + level) / 2], axis=0)  # float[2, 2, d]
    return Sobol(tuple(names), first, total, ends[:, 0].T, ends[:, 1].T, level, len(answers))


def check_trajectories(number: int) -> int:
    """Raises StudyError for fewer than two, which have no spread."""
    if number < 2:
        raise StudyError(f"samples is {number!r}; wanted 2 trajectories or more")
    return number


def check_points(number: int) -> int:
    """Raises StudyError for a number of Sobol' points that are not balanced."""
    if number < 2 or number & (number - 1):
        raise StudyError(f"samples is {number!r}; Sobol' points need a power of two, such as 256")
    return number


def _dimension(names: Sequence[str]) -> int:
    if not names:
        raise StudyError("no inputs to vary")
    if len(set(names)) < len(names):
        raise StudyError("an input is named twice")
    return len(names)


def _evaluated(function: Function, points: Floats) -> Floats:
    answers = np.asarray(function(points), dtype=float)
    if answers.shape != (len(points),):
        raise StudyError(f"the function gave shape {answers.shape} for {len(points)} points")
    if not np.isfinite(answers).all():
        first = points[int(np.flatnonzero(~np.isfinite(answers))[0])]
        raise StudyError(f"the function has no number at shares {np.round(first, 4).tolist()}")
    return answers
