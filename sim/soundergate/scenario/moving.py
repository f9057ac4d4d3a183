"""One scenario with many sets of values in the same places, such as plausible worlds.

`with_values` reads a changed scenario from its first key to its last. A `Mould` does so once, with
slots where values will stand, and then reads only what stands in the slots: each by the reader of
its own field, so that limits are the same, and each table that it changes by that table's own
rules. Tables that no slot touches are shared. What cannot be is read again by `with_values`, which
says why.
"""

from __future__ import annotations

import copy
import typing
from collections.abc import Callable, Mapping
from functools import cache
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from soundergate.scenario.errors import Problem
from soundergate.scenario.loading import with_values
from soundergate.scenario.paths import put
from soundergate.scenario.register import Stated, form, registered_id, scatter_id
from soundergate.scenario.schema import Scenario
from soundergate.scenario.toml_table import Table

Filling = Mapping["Slot", Any]
_Maker = Callable[[Filling], Any]


class Slot:
    """A place in values as written, to be filled."""

    def __deepcopy__(self, memo: Any) -> Slot:
        return self


class Mould:
    """A scenario with slots in some values.

    ``values`` are what `with_values` takes, with slots in them; only what varies may be a table.
    ``filled(filling)`` is ``with_values(scenario, values)`` with every slot filled.
    """

    def __init__(self, scenario: Scenario, values: Mapping[str, Any]) -> None:
        self.scenario, self.values = scenario, dict(values)
        raw = copy.deepcopy(scenario.raw)
        for path, value in self.values.items():
            put(raw, path, value, scenario.source)
        self._make = _maker(raw, scenario)

    def filled(self, filling: Filling) -> Scenario:
        """The scenario with these values in its slots. Raises ScenarioError if it cannot be."""
        if self._make is None:
            return self._read_whole(filling)
        try:
            made: Scenario = self._make(filling)
        except (Problem, ValidationError):
            return self._read_whole(filling)
        made.came_from(lambda: self._raw(filling), self.scenario.source)
        return made

    def _read_whole(self, filling: Filling) -> Scenario:
        return with_values(self.scenario, self._said(filling))

    def _raw(self, filling: Filling) -> dict[str, Any]:
        raw = copy.deepcopy(self.scenario.raw)
        for path, value in self._said(filling).items():
            put(raw, path, value, self.scenario.source)
        return raw

    def _said(self, filling: Filling) -> dict[str, Any]:
        return {path: _fill(value, filling) for path, value in self.values.items()}


def _fill(value: Any, filling: Filling) -> Any:
    if isinstance(value, Slot):
        return filling[value]
    if isinstance(value, dict):
        return {key: _fill(part, filling) for key, part in value.items()}
    return value


def _has_slot(value: Any) -> bool:
    if isinstance(value, dict):
        return any(_has_slot(part) for part in value.values())
    if isinstance(value, list):
        return any(_has_slot(part) for part in value)
    return isinstance(value, Slot)


def _maker(written: Any, known: Any) -> _Maker | None:
    """What makes this table (or list of them) anew; None if nothing in it can change.

    ``written`` is the table as written, with slots, and ``known`` as it was read before.
    """
    if isinstance(known, tuple):
        if not any(isinstance(item, Table) for item in known):
            return None
        said = written if isinstance(written, list) else [{}] * len(known)
        return _of_list([_maker(w, k) for w, k in zip(said, known, strict=True)], known)
    if not isinstance(known, Table):
        return None
    return _of_table(written if isinstance(written, dict) else {}, known)


def _of_list(makers: list[_Maker | None], known: tuple[Any, ...]) -> _Maker | None:
    if not any(makers):
        return None
    parts = list(zip(makers, known, strict=True))
    return lambda filling: tuple(item if make is None else make(filling) for make, item in parts)


def _of_table(written: dict[str, Any], known: Table) -> _Maker | None:
    cls, values, makers = type(known), dict(known.__dict__), {}
    opened = False
    for name, field in cls.model_fields.items():
        below = _maker(written.get(name), values[name])
        if below is not None:
            makers[name] = below
        elif _has_slot(written.get(name)):
            if typing.get_origin(field.annotation) is typing.Literal:
                raise ValueError(f"{name} chooses which keys there are, and has no slot")
            makers[name] = _reader(cls, name, written[name])
        elif name not in known.model_fields_set and _left_open(field):
            opened = opened or values[name] is not None
            values[name] = values[name] if isinstance(values[name], Table) else None
    if not makers and not opened:
        return None
    stated = set(known.model_fields_set) | written.keys()

    def make(filling: Filling) -> Table:
        new = values | {name: one(filling) for name, one in makers.items()}
        made = cls.model_construct(stated.copy(), **new)
        return cls.model_validate(made)  # by its own rules, which settle what was left open

    return make


def _left_open(field: FieldInfo) -> bool:
    """Whether other quantities settle a field that the file leaves out (`settled_from`)."""
    return registered_id(field) is not None and field.default is None


def _reader(cls: type[Table], name: str, written: Any) -> _Maker:
    read, scatters = _read_field(cls, name), scatter_id(cls.model_fields[name])
    how = form(scatters) if scatters else None
    if how is None:
        return lambda filling: read(_fill(written, filling))
    return lambda filling: read(Stated(_fill(written, filling), how))


@cache
def _read_field(cls: type[Table], name: str) -> Callable[[Any], Any]:
    field = cls.model_fields[name]
    kind: Any = field.annotation
    for mark in field.metadata:
        kind = Annotated[kind, mark]
    return TypeAdapter(kind).validate_python
