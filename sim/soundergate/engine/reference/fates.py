"""Where every animal of a finished night ended up: the outcome row of the reference engine."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from soundergate.engine import codes as k

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


def tally(night: Night) -> dict[str, Any]:
    """The row of `Outcomes` for this night; every animal has exactly one fate."""
    gates, startle, n = night.gates, night.startle, night.group_size
    fate_of = {i: fate(night, i) for i in range(night.facts.animals) if night.present[i]}
    fates = {name: sum(f == name for f in fate_of.values()) for name in k.FATES}
    released = gates.released_at
    return {
        "night": night.number,
        "group_size": n,
        "arrived": night.arrived,
        "released": gates.closed_once,
        "release_s": gates.pulled_at if math.isnan(released) else released,
        "inside_at_release": startle.held_count,
        "educated": sum(startle.witness[i] for i, f in fate_of.items() if f != k.CAUGHT),
        "struck": len(gates.struck_animals),
        "strike_energy_j": gates.strike_energy,
        "whole_group": fates[k.CAUGHT] == n,
        "operator_min": night.triggers.minutes_watched(night.env.now),
        "night_s": night.env.now,
        **fates,
    }


def fate(night: Night, i: int) -> str:
    """Which of `codes.FATES` animal ``i`` of a finished night counts in."""
    if night.gates.holds() and night.state[i] in k.INSIDE_STATES:
        return k.CAUGHT
    if night.captives.broke_out[i]:
        return k.ESCAPED_AFTER
    if night.startle.held[i]:
        return k.ESCAPED_DURING
    return k.ESCAPED_BEFORE if night.entered[i] else k.NEVER_ENTERED


def what_they_take(night: Night) -> list[int]:
    """Flags WAS_* of `codes`, one sum an animal: what each takes from a finished night."""
    return [_flags(night, i) if night.present[i] else 0 for i in range(night.facts.animals)]


def _flags(night: Night, i: int) -> int:
    flags = (
        (k.WAS_THERE, True),
        (k.WAS_CAUGHT, fate(night, i) == k.CAUGHT),
        (k.WAS_HELD, night.startle.held[i]),
        (k.WAS_WITNESS, night.startle.witness[i]),
        (k.WAS_WARY, night.is_wary(i)),
        (k.WAS_INSIDE, night.entered[i]),
    )
    return sum(flag for flag, holds in flags if holds)
