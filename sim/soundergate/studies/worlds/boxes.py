"""On what it depends: a box of at most two unknowns in which one setup is ahead of another.

Patient rule induction (Friedman and Fisher 1999, Statistics and Computing 9:123-143): a tenth of
the worlds left is peeled off at a time, from that side of an unknown which leaves the greatest
share of worlds with the label, and then put back where that does the share no harm. With a hundred
unknowns the first peel of all would be chance's, so each is first peeled alone, and the best one is
then peeled together with each other. The box is sought in every second world and told by the rest,
which it was not fitted to: shares in it and outside are free of the search's luck, and an exact
test (Fisher 1935) on them says whether there is anything to tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from soundergate.studies.estimates.intervals import finite
from soundergate.studies.worlds.inputs import Input

PEELED = 0.1
"""Share of the worlds left that one step peels off."""
FEWEST = 0.15
"""Share of all worlds that a box holds at least."""


@dataclass(frozen=True)
class Side:
    """A limit of the box: the unknown lies below, or above, a value (and its place, 0 to 1)."""

    unknown: Input
    below: bool
    place: float

    @property
    def value(self) -> Any:
        """In the unit of the unknown's entry."""
        return self.unknown.at(min(max(self.place, 1e-9), 1 - 1e-9))

    def to_json(self) -> dict[str, Any]:
        """Id of the unknown, side, value and unit."""
        side = "below" if self.below else "above"
        return {"unknown": self.unknown.id, side: self.value, "unit": self.unknown.range_unit}


@dataclass(frozen=True)
class Box:
    """A rule, and how well it does in worlds that it was not fitted to.

    ``inside`` and ``outside``: share of worlds with the label in the box and out of it;
    ``coverage``: of all worlds with the label those in the box; ``p``: the chance of so great a
    difference, or a greater one, if the box told nothing; ``worlds`` they rest on.
    """

    sides: tuple[Side, ...]
    inside: float
    outside: float
    coverage: float
    p: float
    worlds: int

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for nan."""
        told = {name: finite(getattr(self, name)) for name in self.__dataclass_fields__}
        return told | {"sides": [side.to_json() for side in self.sides]}


def find_box(
    unknowns: Sequence[Input], places: np.ndarray, label: np.ndarray, level: float = 0.95
) -> Box | None:
    """The box in which ``label`` is most common; None where none is shown at the level.

    places float[W, U] in (0, 1), label bool[W]. With nothing to tell, a box is told in a share of
    at most 1 - level of studies.
    """
    from scipy.stats import fisher_exact

    fitted, told = slice(0, None, 2), slice(1, None, 2)
    if not 0 < np.count_nonzero(label[fitted]) < len(label[fitted]):
        return None
    limits = _searched(places[fitted], label[fitted])
    held = _held(places[told], limits)
    hits = label[told]
    counts = [
        [int(np.sum(hits & held)), int(np.sum(~hits & held))],
        [int(np.sum(hits & ~held)), int(np.sum(~hits & ~held))],
    ]
    if not limits or not all(sum(row) for row in counts):
        return None
    p = float(fisher_exact(counts, alternative="greater").pvalue)
    if p > 1 - level:
        return None
    (in_box, not_label), (rest, neither) = counts
    sides = tuple(
        Side(unknowns[number], below, place) for (number, below), place in sorted(limits.items())
    )
    return Box(
        sides,
        in_box / (in_box + not_label),
        rest / (rest + neither),
        in_box / max(in_box + rest, 1),
        p,
        len(hits),
    )


Limits = dict[tuple[int, bool], float]
"""Place of a limit by the number of the unknown and whether the box lies below it."""


def _held(places: np.ndarray, limits: Limits) -> np.ndarray:
    """bool[W]: which worlds lie in the box."""
    held = np.ones(len(places), dtype=bool)
    for (number, below), place in limits.items():
        column = places[:, number]
        held &= column <= place if below else column >= place
    return held


def _searched(places: np.ndarray, label: np.ndarray) -> Limits:
    """The box of one unknown, or of that and another, whose share stands out most; pasted."""
    numbers = np.arange(places.shape[1])
    alone = _peeled(places, label, numbers[:, np.newaxis])
    first = max(numbers.tolist(), key=lambda number: alone[number][1])
    best = alone[first]
    others = np.delete(numbers, first)
    pairs = np.column_stack([np.full(len(others), first), others])
    for both in _peeled(places, label, pairs):
        best = both if both[1] > _WORTH_A_SECOND * max(best[1], alone[first][1]) else best
    return _pasted(places, label, best[0])


_WORTH_A_SECOND = 1.1
"""How much more a box must stand out for a second unknown to be worth the words."""


def _peeled(places: np.ndarray, label: np.ndarray, among: np.ndarray) -> list[tuple[Limits, float]]:
    """Of each row of ``among``, numbers of unknowns that are peeled together, int[C, M]: of the
    boxes on the way of its peeling the one that stands out most.

    How far it does: the share in it less that of all, in standard errors but for a constant. All
    rows are peeled side by side; a step takes off what leaves the greatest share, of two alike the
    first, by unknown and then below before above.
    """
    rows, most = np.arange(len(among)), among.shape[1]
    order = np.argsort(places, axis=0, kind="stable").T[among]  # [C, M, W]: worlds by each unknown
    sorted_places, hits = places.T[among[..., np.newaxis], order], label[order]
    held = np.ones((len(among), len(places)), dtype=bool)
    limits = np.full((len(among), most, 2), np.nan)
    best, score = limits.copy(), np.zeros(len(among))
    least = max(int(np.ceil(FEWEST * len(places))), 5)
    whole, going = float(label.mean()), np.ones(len(among), dtype=bool)
    while True:
        count = held.sum(axis=1)
        off = np.maximum((PEELED * count).astype(int), 1)
        going &= count - off >= least
        if not going.any():
            break
        inside = held[rows[:, np.newaxis, np.newaxis], order]
        place = np.cumsum(inside, axis=2)  # of the worlds still held, from 1
        last, first = (count - off)[:, np.newaxis, np.newaxis], off[:, np.newaxis, np.newaxis] + 1
        left = np.stack([inside & (place <= last), inside & (place >= first)], axis=2)
        shares = (left & hits[:, :, np.newaxis]).sum(axis=3) / last
        which, above = np.divmod(shares.reshape(len(among), -1).argmax(axis=1), 2)
        edge = np.where(above, first[:, 0, 0], last[:, 0, 0])
        at = np.argmax(place[rows, which] >= edge[:, np.newaxis], axis=1)
        limit = sorted_places[rows, which, at]
        column = places.T[among[rows, which]]
        within = np.where(
            above[:, np.newaxis], column >= limit[:, np.newaxis], column <= limit[:, np.newaxis]
        )
        held = np.where(going[:, np.newaxis], held & within, held)
        limits[rows[going], which[going], above[going]] = limit[going]
        kept = held.sum(axis=1)
        stands_out = ((held & label).sum(axis=1) / kept - whole) * np.sqrt(kept)
        going &= kept < count  # of worlds at one place none can be peeled off
        better = going & (stands_out > score)
        best[better], score[better] = limits[better], stands_out[better]
    return [
        (
            {
                (int(number), side == 0): float(box[column, side])
                for column, number in enumerate(numbers)
                for side in (0, 1)
                if not np.isnan(box[column, side])
            },
            float(far),
        )
        for numbers, box, far in zip(among, best, score, strict=True)
    ]


_SAME = 0.01
"""Share of worlds in which a box may do worse for having one limit less."""


def _pasted(places: np.ndarray, label: np.ndarray, limits: Limits) -> Limits:
    """Each limit moved out, or dropped, as long as the share in the box does not fall."""
    for side in list(limits):
        rest = {key: place for key, place in limits.items() if key != side}
        share = float(label[_held(places, limits)].mean())
        if float(label[_held(places, rest)].mean()) > share - _SAME:
            limits = rest  # it was hardly a limit
        while side in limits:
            number, below = side
            share = float(label[_held(places, limits)].mean())
            rest = {key: place for key, place in limits.items() if key != side}
            column = np.sort(places[_held(places, rest), number])
            beyond = column[column > limits[side]] if below else column[column < limits[side]][::-1]
            step = max(int(PEELED * len(column)), 1)
            wider = {**limits, side: float(beyond[step - 1])} if len(beyond) > step else rest
            if float(label[_held(places, wider)].mean()) < share:
                break
            limits = wider
    return limits
