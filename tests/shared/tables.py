"""All tables that a scenario file may hold."""

from __future__ import annotations

from soundergate.scenario.gates.choice import GATE_CLASSES
from soundergate.scenario.latches.choice import LATCH_CLASSES
from soundergate.scenario.planning import Costs
from soundergate.scenario.schema import Scenario
from soundergate.scenario.toml_table import Table
from soundergate.scenario.triggers.choice import TRIGGER_CLASSES


def every_table() -> set[type[Table]]:
    """All table classes that can occur in a scenario."""
    found: set[type[Table]] = {Scenario, Costs, *GATE_CLASSES, *LATCH_CLASSES, *TRIGGER_CLASSES}

    def below(cls: type[Table]) -> None:
        for sub in cls.__subclasses__():
            found.add(sub)
            below(sub)

    below(Table)
    return found
