"""The same trap without what was measured at it: a measurement is of the trap as it stands."""

from __future__ import annotations

import copy
from typing import Any

from soundergate.scenario.loading import from_table


def without(scenario: Any, index: int | None = None, keep: tuple[str, ...] = ()) -> Any:
    """The scenario with the readings of one opening left out, or of all; itself if it has none.

    Those of the keys ``keep`` stay.
    """
    which = range(len(scenario.opening)) if index is None else (index,)
    if all(scenario.opening[one].measured is None for one in which):
        return scenario
    raw = copy.deepcopy(scenario.raw)
    for one in which:
        told = raw["opening"][one].pop("measured", {})
        kept = {key: told[key] for key in keep if key in told}
        if kept:
            raw["opening"][one]["measured"] = kept
    return from_table(raw, scenario.source)
