"""The gates for which claims of the trade are worked out: an example, or those of a scenario."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soundergate.mechanics import clearance as bodies
from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics import setup
from soundergate.mechanics.materials import STEEL_DENSITY
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.constants import FOOT, LBF
from soundergate.scenario.loading import from_table


@dataclass(frozen=True)
class Case:
    """The gates the claims are worked out for (SI): an opening, a wide one, and two bodies.

    ``material`` is the gate table's own keys; ``juvenile`` and ``adult`` the clear height (m) that
    such an animal needs to duck under; ``narrow`` the clear gap (m) a juvenile squeezes through;
    ``weak_pull`` N and ``short_stroke`` m those of a weak solenoid. None of them is a default of
    the register: they are an example, as common as any (common practice, no source).
    """

    width: float = 4.0 * FOOT
    height: float = 3.0 * FOOT
    wide: float = 8.0 * FOOT
    material: tuple[tuple[str, Any], ...] = (("sheet", "14 gauge"),)
    juvenile: float = 0.40
    adult: float = 0.60
    narrow: float = 0.20
    weak_pull: float = 25.0 * LBF
    short_stroke: float = 0.0127

    @classmethod
    def of(cls, scenario: Any, index: int = 0) -> Case:
        """That of one opening of a `Scenario`: its size and material, its animals, its solenoid.

        The wide gate is twice as wide. A stated mass is spread over the face as sheet, so that
        a wider gate weighs more. What the file does not have keeps the example's figure.
        """
        opening = scenario.opening[index]
        latch = opening.latch
        stated = latch is not None and latch.puller == "solenoid" and latch.turns is None
        return cls(
            width=opening.width,
            height=opening.height,
            wide=2.0 * opening.width,
            material=_material(scenario.raw["opening"][index]["gate"], opening),
            juvenile=bodies.clearance(scenario, "juvenile"),
            adult=bodies.clearance(scenario, "sow"),
            narrow=bodies.clearance(scenario, "juvenile", "gap"),
            weak_pull=latch.pull if stated else cls.weak_pull,
            short_stroke=(latch.gap if stated else None) or cls.short_stroke,
        )

    def text(self) -> str:
        """The case in words."""
        made = " ".join(f"{value} {key}" for key, value in self.material) or "the usual sheet"
        return (
            f"gates {words.distance(self.width)} wide and {words.distance(self.height)} high of "
            f"{made}, the wide ones {words.distance(self.wide)}; a solenoid of "
            f"{words.force(self.weak_pull)} that moves {words.travel(self.short_stroke)}"
        )

    def opening(
        self,
        kind: str,
        width: float | None = None,
        latch: dict[str, Any] | None = None,
        **keys: Any,
    ) -> OpeningSetup:
        """One gate of this case, solved, with any further keys of its table."""
        table: dict[str, Any] = {
            "width": f"{self.width if width is None else float(width)!r} m",
            "height": f"{self.height!r} m",
            "gate": {"kind": kind, **dict(self.material), **keys},
            "latch": latch or {"kind": "pin", "puller": "air cylinder"},
        }
        scenario = {
            "sounder": {"sows": 1},
            "corral": {"diameter": f"{10.0 + 4.0 * self.wide!r} m"},
            "opening": [table],
            "trigger": {"kind": "line"},
        }
        return setup.solve(from_table(scenario)).openings[0]

    def need(self, opening: OpeningSetup, body: str = "juvenile") -> float:
        """Clearance (m) a body needs there: a height, or a gap in the same proportion."""
        height = self.juvenile if body == "juvenile" else self.adult
        if opening.curve.measure == "height":
            return height
        return self.narrow * height / self.juvenile

    def barred(self, opening: OpeningSetup, body: str = "juvenile") -> float:
        """Time (s) from the gate moving until such a body no longer gets through."""
        return opening.curve.time_to(self.need(opening, body))


_MATERIAL_KEYS = (
    "sheet", "galvanized", "plywood", "boards", "mesh", "frame", "uprights", "rails",
)  # fmt: skip


def _material(gate: Mapping[str, Any], opening: Any) -> tuple[tuple[str, Any], ...]:
    """The keys of a gate table as written that say what it is made of."""
    if "mass" in gate:
        sheet = opening.gate.mass / (STEEL_DENSITY * opening.width * opening.height)
        return (("sheet", f"{sheet * 1000:.6g} mm"),)
    return tuple((key, gate[key]) for key in _MATERIAL_KEYS if key in gate)
