"""What moves the answer over plausible worlds: each unknown at the ends of its range.

The answer is drawn as a curve over the place of one unknown in its range, a cubic fitted to the
worlds played, while all other unknowns vary as they do (Strong, Oakley and Brennan 2014, Medical
Decision Making 34:311, as for the worth of knowing in `information`). Its values at the 5 and the
95 % point are what the answer is on average where the unknown is low, and where it is high.

A curve fitted to chance moves too, and the largest of a hundred such moves most. An unknown is
shown only if it explains more of the scatter than the largest of all does when the answers are
shuffled among the worlds (Westfall and Young 1993, ch. 2; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from soundergate.studies.estimates.intervals import finite
from soundergate.studies.worlds.information import SHUFFLES, curve, not_exceeded
from soundergate.studies.worlds.inputs import Input

_ENDS = 0.05, 0.95


@dataclass(frozen=True)
class Mover:
    """How far an unknown moves a measure over plausible worlds, all others varying.

    ``at_low`` and ``at_high``: the measure on average where it has the value ``low``, ``high``
    (which 5 % of plausible values lie below, above). ``share``: of the variance over the worlds
    that it explains by itself; ``shown``: whether more than chance would make the largest of all.
    """

    unknown: Input
    low: Any
    high: Any
    at_low: float
    at_high: float
    share: float
    shown: bool

    def to_json(self) -> dict[str, Any]:
        """Its fields, the unknown by its id; None for nan."""
        told = {name: finite(getattr(self, name)) for name in self.__dataclass_fields__}
        return told | {"unknown": self.unknown.id, "unit": self.unknown.range_unit}


def movers(
    unknowns: Sequence[Input], places: np.ndarray, answers: np.ndarray, seed: int
) -> list[Mover]:
    """Every unknown, the one that explains most first.

    places float[W, U] in (0, 1), answers float[W], a mean over each world's nights. Empty where
    nothing varies.
    """
    spread = answers - answers.mean()
    whole = float(spread @ spread)
    if np.ptp(answers) == 0.0 or not unknowns:
        return []
    bases = np.array([np.linalg.qr(curve(u))[0] for u in places.T])
    shares = _explained(bases, spread) / whole
    chance = _by_chance(bases, spread, seed) / whole
    found = []
    for number in np.argsort(-shares, kind="stable"):
        one = unknowns[number]
        at = np.linalg.lstsq(curve(places[:, number]), answers, rcond=None)[0]
        low, high = (float((curve(np.array([end])) @ at)[0]) for end in _ENDS)
        least, most = (one.at(end) for end in _ENDS)
        share = float(shares[number])
        found.append(Mover(one, least, most, low, high, share, share > chance))
    return found


def _explained(bases: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """float[U]: sum of squares of each fitted curve; every basis holds the constant."""
    return np.asarray(((bases.transpose(0, 2, 1) @ spread) ** 2).sum(axis=1))


def _by_chance(bases: np.ndarray, spread: np.ndarray, seed: int) -> float:
    """What the largest stays below in 95 studies of 100 in which none tells anything."""
    rng = np.random.default_rng([seed, 0x3E7])
    largest = [_explained(bases, rng.permutation(spread)).max() for _ in range(SHUFFLES)]
    return not_exceeded(np.sort(largest))
