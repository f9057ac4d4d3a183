"""One-way entrances: animals push in from outside, and the entrance shuts behind them.

Each has a force to push in, a return from wherever the last animal left it, and a force that gets
an animal out again: none is locked, so what holds is that force alone, and that it has to be
applied by rooting at an edge instead of by walking.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from soundergate.mechanics.model import GateSolution

CAUTION = (
    "Animals can get in at any time, also those not wanted: check at least daily and let others go."
)


def entrance(
    base: GateSolution, kind: str, push: float, notes: list[str], **sketch: Any
) -> GateSolution:
    """A swinging or falling gate as an entrance: no latch, passable by pushing, never locked."""
    return replace(
        base,
        kind=kind,
        holding_load=0.0,
        locked=False,
        passable=True,
        push_force=push,
        hang_probability=0.0,
        notes=tuple(notes),
        cautions=(CAUTION,),
        sketch={**base.sketch, **sketch, "push_force": push},
    )
