"""What it would be worth to know an unknown before choosing.

Without knowing, one takes the arm that is best on average over the plausible worlds. Knowing an
unknown x one would take the best arm for that x, so knowing is worth

    EVPPI(x) = E_x[ max_k E[gain of k | x] ] - max_k E[gain of k]

in the unit of the gain: how much more an average night would bring. It is zero for an unknown that
matters much but alike for all arms, which is why it says what to measure and a plain sensitivity
does not. E[gain | x] is a curve fitted to the worlds played (Strong, Oakley & Brennan 2014,
Medical Decision Making 34:311): here a cubic in the place of x in its range, which follows
what turns a choice round well inside the range and misses what does so at its very ends only.

A curve fitted to chance also has its ups and downs, so an unknown that tells nothing seems to be
worth something, and the largest of sixty such seems to be worth more than any one of them would.
`by_chance` says how much the largest of all may seem worth; less than that has not been shown. It
is a permutation test of the maximum (Westfall & Young 1993, Resampling-Based Multiple Testing, ch.
2; from memory): the worlds' gains are shuffled against the unknowns' values, which undoes every
connection and keeps everything else.
"""

from __future__ import annotations

import math

import numpy as np

DEGREE = 3
SHUFFLES = 399
"""So many that 95 % of them and the answer itself are a whole number, 380."""


def partial(u: np.ndarray, gains: np.ndarray) -> float:
    """EVPPI of an unknown; u float[W] in (0, 1) its place in each world, gains float[W, K]."""
    return _worth(_basis(u), _over_best(gains))


def by_chance(places: np.ndarray, gains: np.ndarray, seed: int, level: float = 0.95) -> float:
    """What none of some unknowns exceeds in a share ``level`` of studies in which none tells.

    places float[W, U], gains float[W, K]. The order statistic of rank level (S + 1) among S
    shuffles, rounded up: exceeded with a chance of at most 1 - level, whatever S is.
    """
    rng = np.random.default_rng([seed, 0x5EED])
    advantages = _over_best(gains)
    bases = np.array([_basis(u) for u in places.T])
    seeming = np.sort([_largest(bases, rng.permutation(advantages)) for _ in range(SHUFFLES)])
    return not_exceeded(seeming, level)


def not_exceeded(seeming: np.ndarray, level: float = 0.95) -> float:
    """What chance stays below in a share ``level`` of studies; seeming float[SHUFFLES], sorted."""
    rank = math.ceil(level * (SHUFFLES + 1) - 1e-9)
    return float(seeming[rank - 1]) if rank <= SHUFFLES else math.inf


def perfect(gains: np.ndarray, noise: np.ndarray) -> float:
    """EVPI: what it would be worth to know all of them, the most that any of them can be.

    ``noise`` float[W, K] is the variance that the nights of a world leave in each gain less that
    of the best arm (zero for that arm). The largest of several noisy gains is too large on
    average, so the gains are first drawn together until their spread is that of the worlds alone
    (variance observed less mean noise).
    """
    advantages = _over_best(gains)
    middle = advantages.mean(axis=0)
    spread = advantages.var(axis=0, ddof=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        kept = np.sqrt(np.clip(1 - noise.mean(axis=0) / spread, 0, 1))
    drawn = middle + np.where(spread > 0, kept, 0.0) * (advantages - middle)
    return float(np.max(drawn, axis=1).mean())


def best(gains: np.ndarray) -> int:
    """The arm that is best on average over the worlds."""
    return int(np.argmax(gains.mean(axis=0)))


def _over_best(gains: np.ndarray) -> np.ndarray:
    """What each arm gains over the best one on average; their means are zero or below."""
    return gains - gains[:, [best(gains)]]


def _basis(u: np.ndarray) -> np.ndarray:
    """Orthonormal columns that span the cubics in u; float[W, DEGREE + 1]."""
    return np.linalg.qr(curve(u))[0]


def curve(u: np.ndarray) -> np.ndarray:
    """float[W, DEGREE + 1]: polynomials that are orthogonal over a uniform place."""
    return np.polynomial.legendre.legvander(2 * u - 1, DEGREE)


def _largest(bases: np.ndarray, advantages: np.ndarray) -> float:
    """The largest worth over bases float[U, W, DEGREE + 1]."""
    fitted = bases @ (bases.transpose(0, 2, 1) @ advantages)
    return float(np.max(fitted, axis=2).mean(axis=1).max(initial=0.0))


def _worth(basis: np.ndarray, advantages: np.ndarray) -> float:
    fitted = basis @ (basis.T @ advantages)
    return float(np.max(fitted, axis=1).mean())
