"""Scenarios for the mechanics tests, built by changing one plain trap."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from soundergate.scenario.loading import from_table
from soundergate.scenario.schema import Scenario


@pytest.fixture(scope="session")
def trap() -> Callable[..., Scenario]:
    """``trap(gate=..., latch=..., **keys)``: a trap of one opening, or of ``openings`` alike.

    ``gate`` and ``latch`` are tables; ``latch=None`` leaves it out. Other keyword arguments
    replace whole tables of the file; width and height are those of the opening.
    """

    def build(
        gate: dict[str, Any] | None = None,
        latch: dict[str, Any] | None = None,
        *,
        width: str = "4 ft",
        height: str = "3 ft",
        openings: int = 1,
        **tables: Any,
    ) -> Scenario:
        opening: dict[str, Any] = {"width": width, "height": height}
        opening["gate"] = gate or {"kind": "drop", "sheet": "14 gauge"}
        opening["latch"] = latch or {"kind": "pin", "puller": "air cylinder"}
        table: dict[str, Any] = {
            "sounder": {"sows": 2, "juveniles": 5, "piglets": 4},
            "opening": [copy.deepcopy(opening) for _ in range(openings)],
            "trigger": {"kind": "line"},
        }
        return from_table({**table, **tables})

    return build
