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
    alone = [_peeled(places, label, (number,)) for number in range(places.shape[1])]
    first = max(range(len(alone)), key=lambda number: alone[number][1])
    best = alone[first]
    for number in range(places.shape[1]):
        if number != first:
            both = _peeled(places, label, (first, number))
            best = both if both[1] > _WORTH_A_SECOND * max(best[1], alone[first][1]) else best
    return _pasted(places, label, best[0])


_WORTH_A_SECOND = 1.1
"""How much more a box must stand out for a second unknown to be worth the words."""


def _peeled(places: np.ndarray, label: np.ndarray, among: tuple[int, ...]) -> tuple[Limits, float]:
    """Of the boxes on the way of the peeling of some unknowns the one that stands out most.

    How far it does: the share in it less that of all, in standard errors but for a constant.
    """
    limits: Limits = {}
    best: tuple[Limits, float] = ({}, 0.0)
    held = np.ones(len(places), dtype=bool)
    least = max(int(np.ceil(FEWEST * len(places))), 5)
    whole = float(label.mean())
    while (step := _peel(places, label, held, among, least)) is not None:
        limits = {**limits, step[0]: step[1]}
        held = _held(places, limits)
        score = (float(label[held].mean()) - whole) * float(np.sqrt(held.sum()))
        if score > best[1]:
            best = limits, score
    return best


def _peel(
    places: np.ndarray, label: np.ndarray, held: np.ndarray, among: tuple[int, ...], least: int
) -> tuple[tuple[int, bool], float] | None:
    """The side to peel and its new limit; None where too few worlds would be left."""
    count = int(held.sum())
    off = max(int(PEELED * count), 1)
    if count - off < least:
        return None
    inside, hits = places[held], label[held]
    found, share = None, -1.0
    for number in among:
        order = np.argsort(inside[:, number], kind="stable")
        for below, left in ((True, order[:-off]), (False, order[off:])):
            here = float(hits[left].mean())
            if here > share:
                edge = inside[left[-1] if below else left[0], number]
                found, share = ((number, below), float(edge)), here
    return found


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
