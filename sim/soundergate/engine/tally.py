"""Where every animal of a finished night ended up: the outcome row of the reference engine."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from soundergate.engine import codes as k

if TYPE_CHECKING:
    from soundergate.engine.reference import Night

FATES = ("caught", "escaped_before", "escaped_during", "escaped_after", "never_entered")


def tally(night: Night) -> dict[str, Any]:
    """The row of `Outcomes` for this night; every animal has exactly one fate."""
    gates, n = night.gates, night.group_size
    held = gates.holds()
    fates = dict.fromkeys(FATES, 0)
    educated = 0
    for i in range(night.facts.animals):
        if not night.present[i]:
            continue
        caught = held and night.state[i] in k.INSIDE_STATES
        fates[_fate(caught, night.broke_out[i], night.held[i], night.entered[i])] += 1
        educated += night.witness[i] and not caught
    released = gates.released_at
    return {
        "night": night.number,
        "group_size": n,
        "arrived": night.arrived,
        "released": gates.closed_once,
        "release_s": gates.pulled_at if math.isnan(released) else released,
        "inside_at_release": night.held_count,
        "educated": educated,
        "struck": len(gates.struck_animals),
        "strike_energy_j": gates.strike_energy,
        "whole_group": fates["caught"] == n,
        "operator_min": night.triggers.minutes_watched(night.env.now),
        "night_s": night.env.now,
        **fates,
    }


def _fate(caught: bool, broke_out: bool, held: bool, entered: bool) -> str:
    if caught:
        return "caught"
    if broke_out:
        return "escaped_after"
    if held:
        return "escaped_during"
    return "escaped_before" if entered else "never_entered"
