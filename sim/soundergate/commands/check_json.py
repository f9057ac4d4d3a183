"""What `check --json` prints: SI figures, the unit of each, and null where there is no number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from math import isfinite
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.numbers_in_words import unit_in

if TYPE_CHECKING:
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.mechanics.opening import OpeningSetup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.steel import SteelOverWorlds

UNITS: Mapping[str, str] = {
    "opening": "number of the opening, from 1",
    "width": "m",
    "height": "m",
    "mass": "kg",
    "holding_load": "N",
    "pull_required": "N",
    "pull_available": "N",
    "margin": "1",
    "lever": "1",
    "trip_travel": "m",
    "hold_probability": "1",
    "release_probability": "1",
    "release_by_class": "1",
    "release_by_container": "1",
    "hang_probability": "1",
    "shut_probability": "1",
    "lift_force": "N",
    "pry_force": "N",
    "set_weight": "N",
    "release_delay_median": "s",
    "release_time": "s",
    "juvenile_time": "s",
    "shut_time": "s",
    "shut_speed": "m/s",
    "shut_energy": "J",
    "speed": "m/s",
    "energy": "J",
    "saturated_flow": "animals/s",
    "top-hinged.value": "rad",
    "drop.value": "kg",
}
"""Unit of every number by its key; "1" stands for a share or another ratio. A key that means
different things stands with the key above it, and the numbers of a table by name with the table's.
"""

_FACTS = (
    "gate_kind",
    "latch_kind",
    "puller",
    "width",
    "height",
    "mass",
    "holding_load",
    "lever",
    "pull_required",
    "pull_available",
    "margin",
    "trip_travel",
    "hold_probability",
    "release_probability",
    "hang_probability",
    "shut_probability",
    "jams",
    "lift_force",
    "pry_force",
    "set_weight",
)


def data(
    report: CheckReport,
    scenario: Scenario,
    parts: Mapping[str, Any],
    over: SteelOverWorlds | None = None,
) -> dict[str, Any]:
    """The report and what else was asked for, for other programs.

    Facts stand under the field names of `OpeningSetup`; "units" names the unit of every number
    that its own key does not name. What is no finite number (a time of never) is null.
    "over_worlds" holds shares of tries and of worlds, and with each unknown the unit of its values.
    """
    from soundergate.mechanics.advice.saturated_flow import saturated_flow

    told: dict[str, Any] = {
        "ok": report.ok,
        "verdict": list(report.verdict),
        "openings": [
            _opening(opening)
            | {
                "saturated_flow": saturated_flow(scenario, index),
                **_at_hand(scenario, index),
            }
            for index, opening in enumerate(report.setup.openings)
        ],
        "cautions": list(report.cautions),
        **parts,
    }
    worlds = None if over is None else over.to_json()
    return {"units": _units(told)} | _finite(told) | {"over_worlds": worlds}


def _at_hand(scenario: Scenario, index: int) -> dict[str, Any]:
    """What the gate is made up of, and readings beside what is worked out."""
    from soundergate.mechanics.advice.measured import differences
    from soundergate.mechanics.materials import pieces
    from soundergate.scenario.unit_system import SI

    table = scenario.opening[index]
    return {
        "made_of": [asdict(one) for one in pieces(table.gate, table.width, table.height)],
        "measured": [asdict(one) for one in differences(scenario, index, SI)],
    }


def _opening(opening: OpeningSetup) -> dict[str, Any]:
    curve = opening.curve
    by_animal = opening.puller == "animal"
    return {name: getattr(opening, name) for name in _FACTS} | {
        "pull_available": None if by_animal else opening.pull_available,
        "release_by_class": dict(opening.odds.by_class),
        "release_by_container": dict(opening.odds.by_state),
        "release_delay_median": opening.release_delay.median(),
        "shut_time": curve.shut_time,
        "shut_speed": float(curve.speed[0]),
        "shut_energy": float(curve.energy[0]),
    }


def numbers(told: Any, *above: str) -> Iterator[tuple[str, ...]]:
    """The keys down to each number, places in lists left out."""
    if isinstance(told, Mapping):
        for key, value in told.items():
            yield from numbers(value, *above, str(key))
    elif isinstance(told, list | tuple):
        for value in told:
            yield from numbers(value, *above)
    elif isinstance(told, int | float) and not isinstance(told, bool):
        yield above


def key_of_unit(path: tuple[str, ...]) -> str | None:
    """The key of `UNITS` that says a number's unit; None where the number's own key says it."""
    if unit_in(path[-1]):
        return None
    for key in (".".join(path[-2:]), path[-1], *path[-2:-1]):
        if key in UNITS:
            return key
    return path[-1]  # a figure of a claim without a unit in its name is a ratio


def _units(told: Any) -> dict[str, str]:
    keys = {key: None for path in numbers(told) if (key := key_of_unit(path)) is not None}
    return {key: UNITS.get(key, "1") for key in keys}


def _finite(told: Any) -> Any:
    if isinstance(told, Mapping):
        return {key: _finite(value) for key, value in told.items()}
    if isinstance(told, list | tuple):
        return [_finite(value) for value in told]
    if isinstance(told, float) and not isfinite(told):
        return None
    return told
