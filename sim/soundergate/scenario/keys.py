"""Every key that a scenario file may hold, in the order of a file, with what is known of it.

Meanings stand in `meanings.toml`, defaults and ranges in `register.toml`, limits in the fields.
"""

from __future__ import annotations

import difflib
import inspect
import typing
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from pydantic.fields import FieldInfo

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.fields import Choice, Flag, Number, Spec, Text, Whole
from soundergate.scenario.gates.base import Material
from soundergate.scenario.meanings import meaning, moved_by
from soundergate.scenario.measured import Readings
from soundergate.scenario.paths import CHOOSING, table_classes
from soundergate.scenario.register import Entry, register, registered_id, scatter_id
from soundergate.scenario.schema import Scenario
from soundergate.scenario.spread_fields import DurationField, SpreadField
from soundergate.scenario.toml_table import Table
from soundergate.scenario.units import DIMENSIONS

SEVERAL = ", or a list of several readings"
"""What `Key.takes` ends in where one value or several will do."""
_ALIKE = ("other", "trigger.any", "trigger.all")
"""Lists of tables whose keys stand elsewhere already: under sounder, and under trigger."""


@dataclass(frozen=True)
class Key:
    """A key, or a table (`table` says how its head is written).

    `id` is that of the register where it has one; in it stand the kinds of table that have the key
    and that `with_values` takes as a path. `path` is the same without kinds. `takes` says in words
    what may stand there, `limits` within what bounds, and `choices` are the words to choose from.
    """

    id: str
    path: str
    means: str
    takes: str
    dimension: str = ""
    units: tuple[str, ...] = ()
    limits: str = ""
    choices: tuple[Any, ...] = ()
    required: bool = False
    varies: bool = False
    table: str = ""
    moves: tuple[str, ...] = ()
    default: Any = None  # of a key without an entry; None: it has none
    entry: Entry | None = None
    spec: Spec | None = None
    several: bool = False

    @property
    def name(self) -> str:
        return self.path.rpartition(".")[2]

    @property
    def place(self) -> str:
        """The path of the table that the key stands in."""
        return self.path.rpartition(".")[0]

    @property
    def kinds(self) -> tuple[str, ...]:
        """The words for the kinds of table that have it; none if all have."""
        inner = self.id.removesuffix(self.name).removeprefix(self.place).strip(".")
        return tuple(inner.split(".")) if inner else ()


@cache
def scenario_keys() -> tuple[Key, ...]:
    """All keys of a scenario file, each once, in the order of a file."""
    found: dict[str, Key] = {}
    for key in _of(Scenario, ""):
        known = found.get(key.id)
        if known is None:
            found[key.id] = key
        elif key.choices:
            both = dict.fromkeys(known.choices + key.choices)
            entry, required = known.entry or key.entry, known.required and key.required
            found[key.id] = replace(known, choices=tuple(both), entry=entry, required=required)
    return tuple(found.values())


def _of(cls: type[Table], path: str) -> Iterator[Key]:
    fields = [(name, list(table_classes(field.annotation)))
              for name, field in cls.model_fields.items()]  # fmt: skip
    for name, inner in sorted(fields, key=lambda one: bool(one[1])):  # TOML: tables come last
        full = f"{path}.{name}".lstrip(".")
        yield _key(cls, name, full, bool(inner))
        if full not in _ALIKE:
            for one in inner:
                yield from _of(one, full)


def key_id(cls: type[Table], name: str, path: str) -> str:
    """The id of a field of a table at `path`: the register's, or the path with its kind."""
    field = cls.model_fields[name]
    if name in CHOOSING:
        return _choosing_id(cls, name, path)
    known = registered_id(field) or scatter_id(field)
    if known:
        return known
    declared = next(one for one in cls.__mro__ if name in inspect.get_annotations(one))
    return ".".join(part for part in (path, *_kinds(declared), name) if part)


def _choosing_id(cls: type[Table], name: str, path: str) -> str:
    """A key that chooses among kinds has one id whatever it chooses."""
    if name in ("kind", "puller"):
        return f"{path}.{name}"
    return f"{path}.{_kinds(cls)[0]}.{name}"


def _kinds(declared: Any) -> list[str]:
    """The words that tables of this class alone say, the kind first; else its family."""
    fields = getattr(declared, "model_fields", {})
    words = [str(word) for key in CHOOSING if key in fields for word in literals(fields[key])]
    return words or [str(getattr(declared, "family", ""))]


def literals(field: FieldInfo) -> tuple[Any, ...]:
    """The words that a choosing field of one kind of table may be."""
    is_one = typing.get_origin(field.annotation) is typing.Literal
    return typing.get_args(field.annotation) if is_one else ()


def _key(cls: type[Table], name: str, path: str, holds_tables: bool) -> Key:
    field = cls.model_fields[name]
    known = key_id(cls, name, path.rpartition(".")[0])
    spec = spec_of(field)
    entry = register().get(registered_id(field) or "")
    several = _is_list(field.annotation) and not isinstance(spec, Readings)
    words = literals(field)
    choices = words or (spec.options if isinstance(spec, Choice) else ())
    head = (f"[[{path}]]" if several else f"[{path}]") if holds_tables else ""
    kind = getattr(spec, "dimension", None) or ""
    return Key(
        id=known,
        path=path,
        means=meaning(known) or "",
        takes=head or _takes(spec, choices, several),
        dimension=kind,
        units=DIMENSIONS[kind].units if kind and not isinstance(spec, Material) else (),
        limits=_limits(spec),
        choices=choices,
        required=field.is_required(),
        varies=isinstance(spec, SpreadField | DurationField),
        table=head,
        moves=moved_by(known),
        entry=entry,
        spec=spec,
        several=several,
    )


def spec_of(field: FieldInfo) -> Spec | None:
    """What the field accepts, found inside None-able and listed types too."""
    for one in field.metadata:
        if isinstance(one, Spec):
            return one
    return next(_specs(field.annotation), None)


def _specs(annotation: Any) -> Iterator[Spec]:
    yield from (one for one in getattr(annotation, "__metadata__", ()) if isinstance(one, Spec))
    for part in typing.get_args(annotation):
        yield from _specs(part)


def _is_list(annotation: Any) -> bool:
    parts = (annotation, *typing.get_args(annotation))
    return any(typing.get_origin(part) is tuple for part in parts)


def _takes(spec: Spec | None, choices: tuple[Any, ...], several: bool) -> str:
    one = _one(spec, choices)
    return f"a list, each {one}" if several else one


def _one(spec: Spec | None, choices: tuple[Any, ...]) -> str:
    if choices:
        return "one of the choices"
    if isinstance(spec, Readings):
        return _one(spec.one, ()) + SEVERAL
    if isinstance(spec, Material):
        return "such as " + " or ".join(f'"{one}"' for one in (*spec.examples, spec.quantity))
    if isinstance(spec, Flag):
        return "true or false"
    if isinstance(spec, Text):
        return "text in quotes"
    if isinstance(spec, Number | Whole):
        return "a plain number" if spec.what == "a number" else spec.what
    kind = "time" if isinstance(spec, DurationField) else getattr(spec, "dimension", None)
    return DIMENSIONS[kind].with_article if kind else "a plain number"


def _limits(spec: Spec | None) -> str:
    said = []
    spec = getattr(spec, "one", spec)
    for name, words in (
        ("above", "above"),
        ("at_least", "at least"),
        ("below", "below"),
        ("at_most", "at most"),
    ):
        limit = getattr(spec, name, None)
        if limit is not None and not (name == "above" and getattr(spec, "at_least", None)):
            said.append(f"{words} {limit if isinstance(limit, str) else f'{limit:.12g}'}")
    return " and ".join(said)


def narrowed(keys: Sequence[Key], names: Iterable[str]) -> list[Key]:
    """The keys that the names mean: `gate`, `trigger.person`, `friction`, each with what is in it.

    Raises ScenarioError for a name that no key has, with the nearest ones.
    """
    names = list(names)
    wanted = [[part.strip().casefold() for part in name.split(".")] for name in names]
    for name, parts in zip(names, wanted, strict=True):
        if not any(_is_of(key, parts) for key in keys):
            raise ScenarioError("no key is called so", key=name, hint=_near(keys, name))
    return [key for key in keys if any(_is_of(key, parts) for parts in wanted)]


def _is_of(key: Key, parts: list[str]) -> bool:
    return any(_holds(full.casefold().split("."), parts) for full in {key.id, key.path})


def _holds(full: list[str], parts: list[str]) -> bool:
    """Whether the parts stand in the name in this order; kinds between them may be left out."""
    left = iter(full)
    return all(part in left for part in parts)


def _near(keys: Sequence[Key], name: str) -> str:
    words = {part for key in keys for part in key.id.split(".")}
    whole = {known for key in keys for known in (key.id, key.path)}
    last = name.rpartition(".")[2].casefold()
    near = difflib.get_close_matches(name.casefold(), sorted(words | whole), 3, 0.55)
    near += difflib.get_close_matches(last, sorted(words), 3, 0.55)
    if near:
        return f"did you mean {' or '.join(dict.fromkeys(near[:3]))}?"
    tables = ", ".join(key.path for key in keys if key.table and "." not in key.path)
    return f"the tables are {tables}"
