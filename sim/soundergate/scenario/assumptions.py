"""Which defaults a scenario rests on, and how to say another plausible value for one of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from soundergate.scenario.about import ABOUT, is_about
from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import ABSENT, look_up
from soundergate.scenario.register import (
    DECISION,
    UNKNOWN,
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
from soundergate.scenario.toml_table import Table
from soundergate.scenario.units import (
    DIMENSIONS,
    format_quantity,
    from_si,
    parse_quantity,
    split_quantity,
)

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
    found: list[tuple[str, Entry]] = []
    for full, field, value, stated in _fields(scenario):
        known, scatters = registered_id(field), scatter_id(field)
        if known and not stated:
            found.append((full, entry(known)))
        if scatters:
            left = _left_to_the_register(scenario, full, scatters, value) if stated else None
            if known and left and form_of(scatters).key in left:
                found.append((full, entry(known)))
            found += [
                (f"{full}.{key}", shape)
                for key, shape in shape_entries(scatters)
                if left is None or key in left
            ]
    return found


def unknowns_of(scenario: Scenario) -> list[tuple[str, Entry]]:
    """What nobody knows of this scenario: (dotted path, register entry), in schema order.

    What the file states is known, and a quantity stated by a plain value with its scatter. Of one
    stated as ``{about = x}`` the entry has x as its median and the register's range around it.
    """
    around = {
        full: _about(scenario, full, entry(known))
        for full, field, _, stated in _fields(scenario)
        if stated and (known := registered_id(field)) and is_about(_written(scenario, full))
    }
    left = {
        path: known
        for path, known in defaults_used(scenario)
        if known.role == UNKNOWN and not _of_a_plain_value(scenario, path)
    }
    order = {full: place for place, (full, *_) in enumerate(_fields(scenario))}

    def place(path: str) -> tuple[int, int]:
        whole = path if path in order else path.rpartition(".")[0]
        return order[whole], int(path != whole)

    return sorted((left | around).items(), key=lambda item: place(item[0]))


def decided(scenario: Scenario) -> list[tuple[str, Entry]]:
    """What one builds or does, whether the file states it or not: as `unknowns_of`.

    Of what is relative to other quantities the entry's ends are times what the scenario has.
    """
    return [
        (full, entry(known))
        for full, field, _, _ in _fields(scenario)
        if (known := registered_id(field)) and entry(known).role == DECISION
    ]


def _fields(scenario: Scenario) -> Iterator[tuple[str, FieldInfo, Any, bool]]:
    """Path, field, value of every key that counts, and whether the file states it."""
    parts = {id(part) for part in scenario.trigger.parts} - {id(scenario.trigger)}
    for path, table in tables(scenario):
        for name, field in type(table).model_fields.items():
            value = getattr(table, name)
            if value is None or (id(table) in parts and name == "false_release"):
                continue  # the false release of the whole trigger counts, not that of a part
            yield f"{path}.{name}".lstrip("."), field, value, name in table.model_fields_set


def _written(scenario: Scenario, path: str) -> Any:
    return look_up(scenario.raw, path.split("."))


def _of_a_plain_value(scenario: Scenario, path: str) -> bool:
    """Whether this is the scatter of a quantity that the file states by a plain value."""
    said = _written(scenario, path.rpartition(".")[0]) if "." in path else ABSENT
    return isinstance(said, str | int | float)


def _about(scenario: Scenario, path: str, known: Entry) -> Entry:
    """The entry with the value that the scenario has at `path` as its median."""
    said = _said(scenario, path)
    if isinstance(said, dict):
        said = said[FIXED] if FIXED in said else said[form_of(known.id).key]
    try:
        if isinstance(said, str):
            number, si = split_quantity(said)
            said = from_si(parse_quantity(f"{number} {si}", _dimension_of(si)), known.unit)
        return known.about([float(one) for one in said] if isinstance(said, list) else said)
    except (ValueError, OverflowError, ZeroDivisionError):
        raise ScenarioError(
            "there is no plausible range around this",
            file=scenario.source, key=f"{path}.about", value=_written(scenario, path)[ABOUT],
            hint="write the value itself, which then counts as known",
        ) from None  # fmt: skip


def _dimension_of(si_unit: str) -> str:
    return next(name for name, one in DIMENSIONS.items() if one.si == si_unit)


def _left_to_the_register(
    scenario: Scenario, path: str, scatters: str, value: Duration | LogNormal
) -> list[str]:
    """The parameters of a stated quantity that the file leaves to the register, by key."""
    if value == Duration.fixed(0.0) or (isinstance(value, LogNormal) and value.median == 0.0):
        return []  # nothing scatters round nothing
    said = look_up(scenario.raw, path.split("."))
    return [] if said is ABSENT else unsaid(said, form_of(scatters))


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
        partly = {key: value for key, value in partly.items() if key != ABOUT}
        return {**known.at(x), **partly, form_of(known.id).key: known.at(x)[form_of(known.id).key]}
    if not known.of:
        return plain_at(scenario, path, known, x)
    said = _said(scenario, path)
    factor = x / known.value
    if isinstance(said, int):
        return max(1, math.ceil(said * factor - 1e-9))
    number, unit = said.split(" ", 1)
    start = float(_said(scenario, known.beyond).split(" ", 1)[0]) if known.beyond else 0.0
    return f"{start + (float(number) - start) * factor!r} {unit}"


def plain_at(scenario: Scenario, path: str, known: Entry, x: Any) -> Any:
    """The same of what is relative to no other value; of what varies its median, mean or scale."""
    if known.id == "sounder.subgroups":  # a group of three falls into no more than three
        x = min(x, _size_at(scenario, path))
    return known.plain(round(x) if known.whole else x)


def _size_at(scenario: Scenario, path: str) -> int:
    """The animals of the sounder that has its number of subgroups at `path`."""
    at = path.split(".")
    return (scenario.sounder if at[0] == "sounder" else scenario.other[int(at[1]) - 1]).size


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
    same = math.isclose(
        parse_quantity(told, _dimension_of(si_unit)), float(number), rel_tol=_ROUNDING
    )
    return told if digits or same else said


def _said(scenario: Scenario, path: str) -> Any:
    found = look_up(scenario.resolved(), path.split("."))
    if found is ABSENT:
        raise ScenarioError("this scenario has no such value", file=scenario.source, key=path)
    return found
