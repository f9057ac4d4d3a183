"""Where a change to an opening is tried: written into the file, checked and solved as a whole.

Nothing here knows what would be worth trying (`mends`) or how it is said (`mending`).
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import floor
from typing import Any

from soundergate.mechanics import setup
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table
from soundergate.scenario.register import register
from soundergate.scenario.unit_system import Units
from soundergate.scenario.units import read_quantity

TARGET = 0.95
"""Probability of release and of shutting that a proposal reaches."""

Test = Callable[[OpeningSetup], bool]


def shuts(opening: OpeningSetup) -> float:
    """Probability that the trap stays set, is let go by a try, and the gate gets shut."""
    return opening.shut_probability if opening.latch.holds else 0.0


@dataclass(frozen=True)
class Change:
    """Values as the file would say them, by key of an opening's two tables, of every trip line,
    and a bait container.

    A key whose value is None is left out of the table.
    """

    latch: Mapping[str, Any] = field(default_factory=dict)
    gate: Mapping[str, Any] = field(default_factory=dict)
    line: Mapping[str, Any] = field(default_factory=dict)
    container: str = ""

    def beside(self, other: Change) -> Change:
        """Both at once; where they meet, the ``other`` counts."""
        return Change(
            {**self.latch, **other.latch},
            {**self.gate, **other.gate},
            {**self.line, **other.line},
            other.container or self.container,
        )


@dataclass(frozen=True, eq=False)
class Bench:
    """One opening of a `Scenario` with a ``base`` change already made to it."""

    scenario: Any
    index: int
    units: Units
    base: Change = field(default_factory=Change)

    def on(self, base: Change) -> Bench:
        """A bench on which ``base`` is done as well."""
        return Bench(self.scenario, self.index, self.units, self.base.beside(base))

    def written(self, change: Change) -> Any:
        """The scenario with base and change written into it.

        Raises
        ------
        ScenarioError : values that the file may not have.
        """
        both = self.base.beside(change)
        raw = copy.deepcopy(self.scenario.raw)
        opening = raw["opening"][self.index]
        for name, said in (("latch", both.latch), ("gate", both.gate)):
            if said:
                table = {**opening.get(name, {}), **said}
                opening[name] = {k: v for k, v in table.items() if v is not None}
        _forget(opening, both)
        for trigger in _parts(raw["trigger"]):
            if trigger.get("kind") == "line":
                trigger.update(both.line)
        if both.container:
            _bait_table(raw["trigger"])["container"] = both.container
        return from_table(raw, self.scenario.source)

    def solved(self, change: Change) -> OpeningSetup | None:
        """The opening with the change made; None when it cannot be built."""
        try:
            return setup.solve(self.written(change)).openings[self.index]
        except ScenarioError:
            return None

    @cached_property
    def now(self) -> OpeningSetup:
        """The opening with the base made to it."""
        return setup.solve(self.written(Change())).openings[self.index]

    @cached_property
    def tables(self) -> Any:
        """The scenario's own opening (gate and latch tables) with the base made to it."""
        return self.written(Change()).opening[self.index]

    def least(self, options: Sequence[Change], does: Test) -> tuple[Change, OpeningSetup] | None:
        """The first of ``options`` that does, where each later one does if an earlier one did.

        The last is tried first: if that does not do, nothing does. Whatever is given was solved.
        """
        if not options:
            return None
        found = self._if_it_does(options[-1], does)
        low, high = -1, len(options) - 1
        while found is not None and high - low > 1:
            middle = (low + high) // 2
            better = self._if_it_does(options[middle], does)
            if better is None:
                low = middle
            else:
                high, found = middle, better
        return found

    def first(self, options: Iterable[Change], does: Test) -> tuple[Change, OpeningSetup] | None:
        """The first of ``options`` that does, tried one after another."""
        tried = (self._if_it_does(option, does) for option in options)
        return next((one for one in tried if one is not None), None)

    def _if_it_does(self, change: Change, does: Test) -> tuple[Change, OpeningSetup] | None:
        opening = self.solved(change)
        return (change, opening) if opening is not None and does(opening) else None

    def amounts(self, kind: str, above: float, up_to: float) -> list[str]:
        """Round amounts above one SI value and up to another, as a file in these units says them.

        ``kind`` is one of `STEPS`.
        """
        unit, step = STEPS[kind][self.units.name == "SI"]
        size = step * read_quantity(f"1 {unit}", _DIMENSIONS[kind])
        first, last = floor(above / size * (1.0 + 1e-9)) + 1, floor(up_to / size * (1.0 + 1e-9))
        return [f"{round(n * step, 6):g} {unit}" for n in range(first, last + 1)]


def _forget(opening: dict[str, Any], change: Change) -> None:
    """Leave out what was measured at a part that is no longer there as it was."""
    told = opening.pop("measured", {})
    gone = {"pull", "volts"} if change.latch else set()
    if change.gate:
        gone |= {"pull", "closing", "frames", "frame_rate", "weight"}
    left = {key: value for key, value in told.items() if key not in gone}
    if left:
        opening["measured"] = left


STEPS: dict[str, tuple[tuple[str, float], tuple[str, float]]] = {
    "force": (("lbf", 1.0), ("N", 5.0)),
    "pressure": (("psi", 1.0), ("kPa", 5.0)),
    "travel": (("in", 0.05), ("mm", 1.0)),
    "engaged": (("in", 0.025), ("mm", 0.5)),
    "bore": (("in", 0.125), ("mm", 2.0)),
    "length": (("ft", 0.1), ("m", 0.02)),
    "mass": (("lb", 1.0), ("kg", 0.5)),
    "torque": (("N*m", 1.0), ("N*m", 1.0)),
    "angle": (("deg", 1.0), ("deg", 1.0)),
}
"""Steps in which changes are proposed, in US and in SI units."""

_DIMENSIONS = {kind: kind for kind in STEPS}
_DIMENSIONS |= dict.fromkeys(("travel", "engaged", "bore"), "length")


def plausible(name: str, high: bool = True) -> float:
    """The upper (or lower) end of what the register takes for plausible of a quantity, SI."""
    entry = register()[name]
    bound = entry.high if high else entry.low
    if not entry.unit:
        return float(bound)
    return read_quantity(f"{bound!r} {entry.unit}", _REGISTER_DIMENSIONS[entry.unit])


_REGISTER_DIMENSIONS = {"in": "length", "lbf": "force", "psi": "pressure"}


def _bait_table(trigger: dict[str, Any]) -> dict[str, Any]:
    """The raw table of the first bait container."""
    return next(part for part in _parts(trigger) if part.get("kind") == "bait")


def _parts(trigger: dict[str, Any]) -> list[dict[str, Any]]:
    """The raw tables of a trigger: its own, and those of its parts."""
    return [trigger, *trigger.get("any", []), *trigger.get("all", [])]
