"""Who comes: the animals of all sounders in order, their classes, subgroups and turns.

Animals are numbered from 0: the first sounder's sows, boars, juveniles and piglets, then the next
sounder's. Where the size of the sounder varies from night to night, the scenario's heads give its
make-up and the group is of the largest size; ``turn`` says in which order animals join, so that
the first n of any night are a fair sample of the make-up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.sounder import Sounder, VaryingSize

HEADS = {"sow": "sows", "boar": "boars", "juvenile": "juveniles", "piglet": "piglets"}


class AnimalClass(NamedTuple):
    """A class of animals of one sounder; masses are log-normal."""

    name: str
    sounder: int
    ln_mass: float
    """ln of the median mass in kg."""
    ln_mass_sd: float


@dataclass(frozen=True)
class Group:
    """The animals of a night, largest size."""

    classes: tuple[AnimalClass, ...]
    class_of: tuple[int, ...]
    """Index into ``classes`` of each animal."""
    party_of: tuple[int, ...]
    """Number of the subgroup that each animal arrives with, within its sounder; 0 comes first."""
    sounder_of: tuple[int, ...]
    turn: tuple[int, ...]
    """An animal is there on a night when its turn is below that night's size of its sounder."""

    @property
    def size(self) -> int:
        return len(self.class_of)

    def name_of(self, i: int) -> str:
        return self.classes[self.class_of[i]].name

    def label(self, i: int) -> str:
        """Such as "juvenile 2": class and number within it over all sounders, from 1."""
        name = self.name_of(i)
        return f"{name} {sum(self.name_of(j) == name for j in range(i + 1))}"


def group_of(scenario: Scenario) -> Group:
    """The animals of all sounders of a scenario."""
    classes: list[AnimalClass] = []
    class_of: list[int] = []
    party_of: list[int] = []
    sounder_of: list[int] = []
    turn: list[int] = []
    for number, sounder in enumerate((scenario.sounder, *scenario.other)):
        heads = heads_of(sounder)
        names = [name for name, count in heads.items() for _ in range(count)]
        present = [name for name, count in heads.items() if count > 0]
        base = len(classes)
        for name in present:
            spread = getattr(sounder.mass, name)
            classes.append(AnimalClass(name, number, spread.ln_median, spread.sigma))
        class_of += [base + present.index(name) for name in names]
        party_of += _parties(names, sounder.subgroups)
        sounder_of += [number] * len(names)
        turn += _turns(heads)
    return Group(tuple(classes), tuple(class_of), tuple(party_of), tuple(sounder_of), tuple(turn))


def heads_of(sounder: Sounder) -> dict[str, int]:
    """Heads of each class at the largest size, in the make-up that the scenario states."""
    stated = {name: getattr(sounder, key) for name, key in HEADS.items()}
    if sounder.varies is None:
        return stated
    total, largest = sum(stated.values()), sounder.varies.high
    exact = {name: count * largest / total for name, count in stated.items()}
    heads = {name: math.floor(share) for name, share in exact.items()}
    short = largest - sum(heads.values())
    by_remainder = sorted(exact, key=lambda name: heads[name] - exact[name])
    for name in by_remainder[:short]:
        heads[name] += 1
    return heads


def _parties(names: list[str], subgroups: int) -> list[int]:
    """Even subgroups in order; boars come as subgroups of their own if others are there."""
    alone = all(name == "boar" for name in names)
    others = [i for i, name in enumerate(names) if alone or name != "boar"]
    parties = [0] * len(names)
    for order, i in enumerate(others):
        parties[i] = order * subgroups // len(others)
    boars = (i for i, name in enumerate(names) if not alone and name == "boar")
    for order, i in enumerate(boars):
        parties[i] = subgroups + order
    return parties


def _turns(heads: dict[str, int]) -> list[int]:
    """Turns that keep the make-up: the k-th of n heads stands at (k + 1/2) / n of the way."""
    stands = [((k + 0.5) / n, order) for order, n in enumerate(heads.values()) for k in range(n)]
    ranked = sorted(range(len(stands)), key=lambda i: (stands[i], i))
    turns = [0] * len(stands)
    for place, i in enumerate(ranked):
        turns[i] = place
    return turns


def size_distribution(varies: VaryingSize) -> NDArray[np.float64]:
    """float[high + 1]: P(size <= n), negative binomial cut off to low..high.

    Parametrised by mean m and dispersion k: p = k / (k + m), variance m + m^2 / k before the cut
    (the usual ecological form, e.g. Hilbe, Negative Binomial Regression, 2011, NB2).
    """
    from scipy.stats import nbinom

    sizes = np.arange(varies.high + 1)
    share = varies.dispersion / (varies.dispersion + varies.mean)
    mass = nbinom.pmf(sizes, varies.dispersion, share)
    mass[: varies.low] = 0.0
    cumulative = np.cumsum(mass / mass.sum())
    cumulative[-1] = 1.0
    return cumulative
