"""Which defaults a scenario rests on, and how to say another plausible value for one of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from soundergate.scenario.distributions import Spread
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import ABSENT, look_up
from soundergate.scenario.register import Entry, entry, registered_id, shape_entries
from soundergate.scenario.schema import Scenario
from soundergate.scenario.table import Table


def tables(scenario: Scenario) -> Iterator[tuple[str, Table]]:
    """Every table of the scenario with its dotted path ("" for the top), outermost first."""
    yield from _tables("", scenario)


def _tables(path: str, value: Any) -> Iterator[tuple[str, Table]]:
    if isinstance(value, Table):
        yield path, value
        for name in type(value).model_fields:
            yield from _tables(f"{path}.{name}".lstrip("."), getattr(value, name))
    elif isinstance(value, tuple) and not isinstance(value, Spread):
        for number, item in enumerate(value):
            yield from _tables(f"{path}.{number}", item)


def defaults_used(scenario: Scenario) -> list[tuple[str, Entry]]:
    """The defaults this scenario rests on: (dotted path, register entry), in schema order.

    A default that varies comes with the entries of its shape (`entry.clock`, then
    `entry.clock.sigma`).
    """
    found: list[tuple[str, Entry]] = []
    for path, table in tables(scenario):
        for name, field in type(table).model_fields.items():
            known = registered_id(field)
            said = name in table.model_fields_set or getattr(table, name) is None
            if known and not said:
                full = f"{path}.{name}".lstrip(".")
                found.append((full, entry(known)))
                found += [(f"{full}.{key}", shape) for key, shape in shape_entries(known)]
    return found


def uncertain_defaults(scenario: Scenario) -> list[tuple[str, Entry]]:
    """Those of `defaults_used` that are one number with a range."""
    return [
        (path, known)
        for path, known in defaults_used(scenario)
        if known.numeric and known.low is not None
    ]


def value_at(scenario: Scenario, path: str, known: Entry, x: float) -> Any:
    """What to give `with_values` at `path` for the entry's default to be `x` (in the entry's unit).

    A whole number is rounded. A relative default is scaled from the value it has in this
    scenario, and rounded up when it is a count; one that the scenario keeps as a multiple is
    replaced, its scatter kept.
    Raises ScenarioError when the scenario has nothing at `path`.
    """
    if not known.of:
        return known.at(round(x) if known.whole else x)
    said = _said(scenario, path)
    if isinstance(said, dict):
        return {**said, "median": x}
    factor = x / known.value
    if isinstance(said, int):
        return max(1, math.ceil(said * factor - 1e-9))
    number, unit = said.split(" ", 1)
    start = float(_said(scenario, known.beyond).split(" ", 1)[0]) if known.beyond else 0.0
    return f"{start + (float(number) - start) * factor!r} {unit}"


def _said(scenario: Scenario, path: str) -> Any:
    found = look_up(scenario.resolved(), path.split("."))
    if found is ABSENT:
        raise ScenarioError("this scenario has no such value", file=scenario.source, key=path)
    return found
