"""What a night that is written down consists of: animals, corral with openings, events.

Lengths in m, masses in kg, angles in rad, times in s since the trap was set.
"""

from __future__ import annotations

from dataclasses import dataclass

from soundergate.scenario.gates.choice import GATE_CLASSES
from soundergate.scenario.variants import value_of

ONE_WAY_GATES = frozenset(value_of(cls, "kind") for cls in GATE_CLASSES if cls.one_way)
"""Kinds of gate that animals push open from outside and that fall shut behind them."""


@dataclass(frozen=True, slots=True)
class TraceAnimal:
    """One animal of the group: its label, class, and the body that meets the gate.

    mass in kg; back_height, shoulder_width, length and needed_height in m. `needed_height` is the
    clear height it needs to pass under a gate (or the clear gap, for a gate that closes sideways).
    """

    label: str
    animal_class: str
    mass: float
    back_height: float
    shoulder_width: float
    length: float
    needed_height: float


@dataclass(frozen=True, slots=True)
class TraceOpening:
    """An opening in the fence. bearing in rad clockwise from the top of the plan; width, height m.

    `measure` says what the closing curve of its gate counts: "height" or, for gates that close
    sideways, "gap".
    """

    bearing: float
    width: float
    height: float
    gate_kind: str = "drop"
    measure: str = "height"

    @property
    def one_way(self) -> bool:
        """Animals push it open from outside; nothing releases it."""
        return self.gate_kind in ONE_WAY_GATES


@dataclass(frozen=True, slots=True)
class TraceCorral:
    """The corral in plan, m. The bait and the line lie on the diameter through the first opening.

    bait_distance and line_distance count from that opening; the line is None where there is none.
    """

    diameter: float
    openings: tuple[TraceOpening, ...]
    bait_distance: float
    line_height: float | None = None
    line_distance: float | None = None
    panel_height: float | None = None

    @property
    def lets_in_only(self) -> bool:
        """Every opening is a one-way entrance, so that nothing is there to be released."""
        return all(opening.one_way for opening in self.openings)


@dataclass(frozen=True, slots=True)
class TraceEvent:
    """Something that happened at `time` s; `inside` and `bait_level` are the state just after it.

    `animal` and `opening` index `Trace.animals` and `TraceCorral.openings`, or are None.
    """

    time: float
    kind: str
    animal: int | None
    opening: int | None
    inside: int
    bait_level: int
    note: str = ""
