"""Of two setups: no matter which, one is ahead, or it depends. Over plausible worlds, all pairs at
once.

*No matter*, asked first: in more than nine worlds of ten the two are less than a negligible
difference apart. *Ahead*: in more than nine worlds of ten one is not worse by more than that, and
it is better on average. *Depends*: neither is shown. "More than nine of ten" is the one-sided lower
bound of Clopper and Pearson (1934) for that share, "on average" the t interval of the mean over
worlds; all of them hold together over the pairs (Bonferroni). The worlds are the sample: to be
called ahead, or no matter, a pair must be so in the plausible worlds that were not played too.

The few nights of a world leave its difference uncertain. A world counts for a verdict only if it is
clear of the negligible difference by two standard errors: else half of the worlds just beyond it
would be taken for alike. Those in doubt are for the caller to play longer (`undecided`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from soundergate.studies.errors import StudyError
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.intervals import finite
from soundergate.studies.worlds.negligible import NEGLIGIBLE

NO_MATTER, AHEAD, DEPENDS = "no matter", "ahead", "depends"
MOST_WORLDS = 0.90
"""Share of worlds that a verdict must hold in."""
NEAR = 2.0
"""Standard errors within which a world may lie on either side of the negligible difference."""


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

    error = NEAR * np.sqrt(np.maximum(noise, 0.0))
    alike, a_holds, b_holds = (
        share(np.abs(gains) + error < negligible),
        share(gains - error > -negligible),
        share(gains + error < negligible),
    )
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


def undecided(gains: np.ndarray, noise: np.ndarray, negligible: float = NEGLIGIBLE) -> np.ndarray:
    """bool[W]: worlds whose few nights leave open on which side of a negligible gain they lie.

    ``noise`` float[W] is the variance that the nights of a world leave in its gain.
    """
    return np.asarray(np.abs(np.abs(gains) - negligible) < NEAR * np.sqrt(noise))


def check_negligible(negligible: float) -> float:
    """Raises StudyError unless above 0 and below 1."""
    number = isinstance(negligible, int | float) and not isinstance(negligible, bool)
    if not number or not 0 < negligible < 1:
        raise StudyError(
            f"negligible is {negligible!r}; wanted a share of the group above 0 and below 1, such "
            f"as {NEGLIGIBLE:g}"
        )
    return float(negligible)
