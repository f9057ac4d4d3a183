"""Which defaults a scenario rests on, and how to say another plausible value for one of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import ABSENT, look_up
from soundergate.scenario.register import (
    Entry,
    entry,
    form_of,
    registered_id,
    scatter_id,
    shape_entries,
    typed,
)
from soundergate.scenario.schema import Scenario
from soundergate.scenario.spread_fields import FIXED, unsaid
from soundergate.scenario.table import Table
from soundergate.scenario.units import DIMENSIONS, format_quantity, parse_quantity, split_quantity

_DIGITS = 12
"""Digits of a length or an angle that a person is to type: enough for what feet and inches make."""
_ROUNDING = 1e-14
"""A half turn in degrees is read as radians of fifteen digits, not to the last bit."""


def tables(scenario: Scenario) -> Iterator[tuple[str, Table]]:
    """Every table of the scenario with its dotted path ("" for the top), outermost first.

    Entries of lists are counted from 1, as in `with_values`.
    """
    yield from _tables("", scenario)


def _tables(path: str, value: Any) -> Iterator[tuple[str, Table]]:
    if isinstance(value, Table):
        yield path, value
        for name in type(value).model_fields:
            yield from _tables(f"{path}.{name}".lstrip("."), getattr(value, name))
    elif isinstance(value, tuple):
        for number, item in enumerate(value, 1):
            yield from _tables(f"{path}.{number}", item)


def defaults_used(scenario: Scenario) -> list[tuple[str, Entry]]:
    """The defaults this scenario rests on: (dotted path, register entry), in schema order.

    A default that varies comes with the entries of its shape (`entry.clock`, then
    `entry.clock.sigma`). A file that states one of them rests on the other still: with
    `clock = "45 s"` the scatter is the register's.
    """
    parts = {id(part) for part in scenario.trigger.parts} - {id(scenario.trigger)}
    found: list[tuple[str, Entry]] = []
    for path, table in tables(scenario):
        for name, field in type(table).model_fields.items():
            if getattr(table, name) is None or (id(table) in parts and name == "false_release"):
                continue  # the false release of the whole trigger counts, not that of a part
            full = f"{path}.{name}".lstrip(".")
            known, scatters = registered_id(field), scatter_id(field)
            stated = name in table.model_fields_set
            if known and not stated:
                found.append((full, entry(known)))
            if scatters:
                value = getattr(table, name)
                left = _left_to_the_register(scenario, full, scatters, value) if stated else None
                if known and left and form_of(scatters).key in left:
                    found.append((full, entry(known)))
                found += [
                    (f"{full}.{key}", shape)
                    for key, shape in shape_entries(scatters)
                    if left is None or key in left
                ]
    return found


def _left_to_the_register(
    scenario: Scenario, path: str, scatters: str, value: Duration | LogNormal
) -> list[str]:
    """The parameters of a stated quantity that the file leaves to the register, by key."""
    if value == Duration.fixed(0.0) or (isinstance(value, LogNormal) and value.median == 0.0):
        return []  # nothing scatters round nothing
    said = look_up(scenario.raw, path.split("."))
    return [] if said is ABSENT else unsaid(said, form_of(scatters))


def uncertain_defaults(scenario: Scenario) -> list[tuple[str, Entry]]:
    """Those of `defaults_used` that are one number with a range."""
    return [
        (path, known)
        for path, known in defaults_used(scenario)
        if known.numeric and known.low is not None
    ]


def value_at(scenario: Scenario, path: str, known: Entry, x: float) -> Any:
    """What to give `with_values` at `path` for the entry's default to be `x` (in the entry's unit).

    A whole number is rounded. What varies keeps the scatter that it has in this scenario. Any other
    relative default is scaled from the value it has in this scenario, and rounded up when it is a
    count.
    Raises ScenarioError when the scenario has nothing at `path`.
    """
    if known.dist:
        said = look_up(scenario.raw, path.split("."))
        partly = said if isinstance(said, dict) and FIXED not in said else {}
        return {**known.at(x), **partly, form_of(known.id).key: known.at(x)[form_of(known.id).key]}
    if not known.of:
        return known.at(round(x) if known.whole else x)
    said = _said(scenario, path)
    factor = x / known.value
    if isinstance(said, int):
        return max(1, math.ceil(said * factor - 1e-9))
    number, unit = said.split(" ", 1)
    start = float(_said(scenario, known.beyond).split(" ", 1)[0]) if known.beyond else 0.0
    return f"{start + (float(number) - start) * factor!r} {unit}"


def typed_at(scenario: Scenario, path: str, known: Entry, digits: int | None = None) -> str:
    """What to type at `path` for the default that this scenario has there, in words: "18.2 ft".

    A relative default is what it comes to here, in the unit of its example when that says the
    value but for rounding (1e-14), and in the SI unit otherwise. With `digits` it is rounded to so
    many, always in the unit of the example. Raises ScenarioError when the scenario has nothing at
    `path`.
    """
    if known.example is None:
        return known.write
    said = _said(scenario, path)
    if not isinstance(said, str):
        return typed(said)
    unit = split_quantity(known.example)[1]
    number, si_unit = split_quantity(said)
    told = format_quantity(float(number), unit, digits or _DIGITS)
    kind = next(name for name, one in DIMENSIONS.items() if one.si == si_unit)
    same = math.isclose(parse_quantity(told, kind), float(number), rel_tol=_ROUNDING)
    return told if digits or same else said


def _said(scenario: Scenario, path: str) -> Any:
    found = look_up(scenario.resolved(), path.split("."))
    if found is ABSENT:
        raise ScenarioError("this scenario has no such value", file=scenario.source, key=path)
    return found
