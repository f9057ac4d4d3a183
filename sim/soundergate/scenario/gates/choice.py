"""Which class of gate a table as written calls for, and the field that holds it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.scenario.gates.base import Gate
from soundergate.scenario.variants import all_classes, class_for, one_of

GATES = "soundergate.scenario.gates"
GATE_CLASSES: tuple[type[Gate], ...] = all_classes(GATES)


def gate_class(table: dict[str, Any]) -> type[Gate]:
    """The class that a gate table as written calls for."""
    return class_for(table, GATES, "opening.gate")


if TYPE_CHECKING:
    GateField = Gate
else:
    GateField = one_of(gate_class, GATE_CLASSES)
