"""Of two setups: no matter which, one is ahead, or it depends. Over plausible worlds, all pairs at
once.

*No matter*, asked first: in more than nine worlds of ten the two are less than a negligible
difference apart. *Ahead*: in more than nine worlds of ten one is not worse by more than that, and
it is better on average. *Depends*: neither is shown. "More than nine of ten" is the one-sided lower
bound of Clopper and Pearson (1934) for that share, "on average" the t interval of the mean over
worlds; all of them hold together over the pairs (Bonferroni). The worlds are the sample: to be
called ahead, or no matter, a pair must be so in the plausible worlds that were not played too.

The few nights of a world leave its difference uncertain. A world counts for a verdict only if it is
clear of the negligible difference by two and a half standard errors: else half of the worlds just
beyond it would be taken for alike. Of those in doubt `in_doubt` says which can still change a
verdict: these are for the caller to play longer (`further`).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

import numpy as np

from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import finite
from soundergate.studies.worlds.negligible import NEGLIGIBLE

NO_MATTER, AHEAD, DEPENDS = "no matter", "ahead", "depends"
MOST_WORLDS = 0.90
"""Share of worlds that a verdict must hold in."""
NEAR = 2.5
"""Standard errors within which a world may lie on either side of the negligible difference.

A world on the limit is looked at up to four times, each time after as many nights again, and is
taken for clear in 2 cases of 100, as rarely as with two standard errors by one look."""


@dataclass(frozen=True)
class Verdict:
    """What plausible worlds say of arms ``a`` and ``b`` in a measure.

    ``ahead`` names the better one, "" unless the verdict is `AHEAD`. ``alike`` is the share of
    worlds in which they are less than ``negligible`` apart, ``alike_low`` its lower bound;
    ``a_holds`` and ``b_holds`` the shares in which that arm is not worse by more; of all three
    those worlds alone count that are clear of the limit. ``a_better`` and ``b_better`` are the
    shares in which that arm is better by more than ``negligible``, as they were played. ``mean``
    is a less b on average with its interval (more is better: the sign of a measure of which less
    is better is turned). ``level`` of all pairs together; ``fewest_worlds`` that can show anything
    of so many pairs at that level, if all of them agree.
    """

    a: str
    b: str
    measure: str
    verdict: str
    ahead: str
    alike: float
    alike_low: float
    a_holds: float
    a_holds_low: float
    b_holds: float
    b_holds_low: float
    a_better: float
    b_better: float
    mean: float
    mean_low: float
    mean_high: float
    negligible: float
    level: float
    worlds: int
    fewest_worlds: int = 0

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for nan."""
        return {name: finite(getattr(self, name)) for name in self.__dataclass_fields__}


def verdict(
    a: str,
    b: str,
    measure: str,
    gains: np.ndarray,
    noise: np.ndarray | float = 0.0,
    negligible: float = NEGLIGIBLE,
    level: float = 0.95,
    pairs: int = 1,
    bounds: tuple[float, float] | None = (-1.0, 1.0),
) -> Verdict:
    """The verdict on gains float[W] of a over b, one a world, a positive one better for a.

    ``noise`` float[W]: the variance that the nights of a world leave in its gain. ``pairs`` that
    are looked at together; ``bounds`` of a gain. Raises StudyError for a negligible difference that
    is not above 0.
    """
    check_negligible(negligible)
    each = intervals.bonferroni(level, pairs)
    low, high, _ = intervals.mean_t(gains, each, bounds)

    def share(which: np.ndarray) -> tuple[float, float]:
        return float(np.mean(which)), lower_bound(int(np.sum(which)), len(which), each)

    shown = clear(gains, noise, negligible)
    alike, a_holds, b_holds = share(shown.alike), share(shown.a_holds), share(shown.b_holds)
    said, ahead = DEPENDS, ""
    if alike[1] > MOST_WORLDS:
        said = NO_MATTER
    elif a_holds[1] > MOST_WORLDS and low > 0:
        said, ahead = AHEAD, a
    elif b_holds[1] > MOST_WORLDS and high < 0:
        said, ahead = AHEAD, b
    mean = float(np.mean(gains))
    return Verdict(
        a, b, measure, said, ahead, *alike, *a_holds, *b_holds,
        float(np.mean(gains > negligible)), float(np.mean(gains < -negligible)),
        mean, low, high, negligible, level, len(gains), fewest_worlds(each),
    )  # fmt: skip


def lower_bound(hits: int, of: int, level: float) -> float:
    """One-sided lower bound of a share: the low end of the interval with both tails so large."""
    return intervals.clopper_pearson(hits, of, 2.0 * level - 1.0).low


def fewest_worlds(level: float) -> int:
    """The fewest worlds that show a share above `MOST_WORLDS` where all of them agree."""
    return math.floor(math.log(1.0 - level) / math.log(MOST_WORLDS)) + 1


def undecided(v: Verdict) -> bool:
    """Whether more worlds could show more than that it depends: these ones alone are too few.

    So it is where all of them together would be too few, and where they are alike, or one is ahead,
    in more than nine of ten as they were played, but not so that the rest must be.
    """
    if v.verdict != DEPENDS:
        return False
    a_ahead = v.b_better < 1.0 - MOST_WORLDS and v.mean_low > 0
    b_ahead = v.a_better < 1.0 - MOST_WORLDS and v.mean_high < 0
    return v.worlds < v.fewest_worlds or mostly_alike(v) or a_ahead or b_ahead


def mostly_alike(v: Verdict) -> bool:
    """Whether two are alike in more than nine worlds of ten as these were played, shown or not."""
    return 1.0 - v.a_better - v.b_better > MOST_WORLDS


def hardly(v: Verdict) -> bool:
    """Whether one is ahead by less than the negligible difference on average."""
    return v.verdict == AHEAD and abs(v.mean) < v.negligible


def with_rare(gains: np.ndarray, noise: np.ndarray, nights: np.ndarray) -> np.ndarray:
    """The variance that nights leave in gains, of worlds in which a rare night was not met too.

    Nights all alike show no scatter and yet leave open a rare one that differs. How rare such
    nights are is told by all worlds together: with rates that are exponential between worlds, of
    mean m, n nights without one leave the rate of a world exponential, of mean 1 / (n + 1 / m).

    gains, noise : float[W] or float[W, P], of nights whose gains lie within -1 and 1
    nights : float[W], played in each world
    """
    n = np.asarray(nights, dtype=float).reshape((-1,) + (1,) * (gains.ndim - 1))
    differ = np.maximum(n * noise + np.square(gains), np.abs(gains))
    rate = differ.mean(axis=0) + 1.0 / n.sum()
    return np.asarray(np.maximum(noise, 1.0 / np.square(n + 1.0 / rate)))


class Clear(NamedTuple):
    """What worlds show of gains of a over b, and what of the contrary; bool, of the gains' shape.

    A world may show neither. ``alike``: less than negligible apart; ``a_holds``: a is not worse by
    more than that; ``b_holds``: the same of b.
    """

    alike: np.ndarray
    a_holds: np.ndarray
    b_holds: np.ndarray
    apart: np.ndarray
    a_loses: np.ndarray
    b_loses: np.ndarray


def clear(gains: np.ndarray, noise: np.ndarray | float, negligible: float) -> Clear:
    """Where gains are clear of the negligible difference, by `NEAR` standard errors.

    ``noise``, of the shape of gains: the variance that the nights of a world leave in its gain.
    """
    error = NEAR * np.sqrt(np.maximum(noise, 0.0))
    size, low, high = np.abs(gains), gains - error, gains + error
    return Clear(
        size + error < negligible, low > -negligible, high < negligible,
        size - error > negligible, high < -negligible, low > negligible,
    )  # fmt: skip


def in_doubt(
    gains: np.ndarray,
    noise: np.ndarray,
    negligible: float = NEGLIGIBLE,
    level: float = 0.95,
    pairs: int = 1,
) -> np.ndarray:
    """bool[W, P]: worlds whose further nights could still change the `verdict` on a pair.

    gains float[W, P] of P pairs, noise float[W, P] the variance that the nights leave in them. A
    world is in doubt where it shows neither a thing nor its contrary, and the doubt matters while
    worlds are too few to show the thing and could yet be enough. Which of two is better on average
    is taken as it stands: further nights of some worlds hardly move the mean over all.
    """
    each = intervals.bonferroni(level, pairs)
    shown, needed = clear(gains, noise, negligible), _fewest_hits(len(gains), each)
    error = np.std(gains, axis=0, ddof=1) / math.sqrt(len(gains))
    mean, margin = np.mean(gains, axis=0), intervals.t_quantile(len(gains), each) * error

    def open_for(hits: np.ndarray, misses: np.ndarray) -> np.ndarray:
        can = (hits.sum(axis=0) < needed) & (len(hits) - misses.sum(axis=0) >= needed)
        return np.asarray(~hits & ~misses & can)

    told = shown.alike.sum(axis=0) >= needed
    better, worse = (mean > margin) & ~told, (mean < -margin) & ~told
    return np.asarray(
        open_for(shown.alike, shown.apart)
        | (open_for(shown.a_holds, shown.a_loses) & better)
        | (open_for(shown.b_holds, shown.b_loses) & worse)
    )


@cache
def _fewest_hits(worlds: int, level: float) -> int:
    """How many worlds at least must show a thing; one more than there are where none would do."""
    return bisect_left(
        range(worlds + 1), True, key=lambda hits: lower_bound(hits, worlds, level) > MOST_WORLDS
    )


def check_negligible(negligible: float) -> float:
    """Raises StudyError unless above 0 and below 1."""
    number = isinstance(negligible, int | float) and not isinstance(negligible, bool)
    if not number or not 0 < negligible < 1:
        raise StudyError(
            f"negligible is {negligible!r}; wanted a share of the group above 0 and below 1, such "
            f"as {NEGLIGIBLE:g}"
        )
    return float(negligible)
