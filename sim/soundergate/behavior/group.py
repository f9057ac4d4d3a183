"""Who comes: the animals of a sounder in order, their classes and their subgroups."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soundergate.scenario.animals import Sounder
    from soundergate.scenario.schema import Scenario

_COUNTS = {"sow": "sows", "boar": "boars", "juvenile": "juveniles", "piglet": "piglets"}


@dataclass(frozen=True)
class Group:
    """The animals of a night, numbered from 0: sows, then boars, juveniles and piglets."""

    classes: tuple[str, ...]
    """Names of the classes present."""
    class_of: tuple[int, ...]
    """Index into ``classes`` of each animal."""
    party_of: tuple[int, ...]
    """Number of the subgroup that each animal arrives with; 0 comes first."""

    @property
    def size(self) -> int:
        return len(self.class_of)

    def label(self, i: int) -> str:
        """Such as "juvenile 2": class and number within it, from 1."""
        c = self.class_of[i]
        number = sum(1 for other in self.class_of[: i + 1] if other == c)
        return f"{self.classes[c]} {number}"


def group_of(sounder: Sounder) -> Group:
    """The animals of a sounder, with boars in a subgroup of their own if others are there."""
    present = tuple(name for name, key in _COUNTS.items() if getattr(sounder, key) > 0)
    class_of = tuple(
        c for c, name in enumerate(present) for _ in range(getattr(sounder, _COUNTS[name]))
    )
    alone = present == ("boar",)
    others = [i for i, c in enumerate(class_of) if alone or present[c] != "boar"]
    party_of = [0] * len(class_of)
    for order, i in enumerate(others):
        party_of[i] = order * sounder.subgroups // len(others)
    boars = [i for i in range(len(class_of)) if i not in set(others)]
    for order, i in enumerate(boars):
        party_of[i] = sounder.subgroups + order
    return Group(present, class_of, tuple(party_of))


def masses(group: Group, scenario: Scenario) -> list[tuple[float, float]]:
    """(ln of the median mass in kg, its sd) of each class present."""
    spreads = (getattr(scenario.sounder.mass, name) for name in group.classes)
    return [(spread.ln_median, spread.sigma) for spread in spreads]
