"""Every default of the scenario, with its origin, range and source: `register.toml`, read once.

An entry's id is the dotted key of the scenario. Where the default depends on what is chosen, the
choice is part of the id: `opening.gate.drop.friction`, `trigger.person.modem.command_delay`. A
default that varies by itself (a duration, a friction) has a second entry for its scatter, such
as `entry.clock.sigma`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from pydantic import Field
from pydantic.fields import FieldInfo

ORIGINS = (
    "standard",
    "published",
    "handbook",
    "common practice",
    "memory",
    "assumption",
    "invented",
)
CITED_ORIGINS = ("standard", "published", "handbook")
# How what we do not know is spread between low and high. A choice has no range.
RANGES = ("uniform", "log-uniform", "choice")

# Shape parameters that go with a default which varies, and the key its value is written under.
_SHAPES: dict[str, tuple[str, tuple[str, ...]]] = {
    "exponential": ("mean", ()),
    "lognormal": ("median", ("sigma",)),
    "gamma": ("mean", ("cv",)),
    "weibull": ("scale", ("shape",)),
}


@dataclass(frozen=True)
class Entry:
    """One default and where it comes from.

    `value`, `low` and `high` are in `unit` ("" for a plain number). `distribution` says how
    plausible values lie between low and high. `dist` names the distribution by which the
    quantity varies from animal to animal or night to night ("" when it does not): `value` is
    then its median (lognormal), mean (exponential, gamma) or scale (weibull). `of` names the
    quantity that a relative default multiplies ("" when it is not relative), `beyond` the key of
    the quantity that the product is counted from ("" for zero).
    """

    id: str
    value: Any
    unit: str
    low: Any
    high: Any
    distribution: str
    origin: str
    citation: str
    note: str
    dist: str = ""
    of: str = ""
    beyond: str = ""

    @property
    def numeric(self) -> bool:
        """True when the value is one number and so has a range."""
        return isinstance(self.value, (int, float)) and not isinstance(self.value, bool)

    @property
    def whole(self) -> bool:
        """True when only whole numbers will do (nights, bends, a wire gauge)."""
        numbers = (self.value, self.low, self.high)
        return self.numeric and not self.unit and all(isinstance(n, int) for n in numbers)

    def at(self, value: Any) -> Any:
        """The default as a scenario file would say it, with `value` (in `unit`) in its place.

        The result suits `with_values`, e.g. `{"entry.clock": register()["entry.clock"].at(60)}`.
        """
        said = f"{value!r} {self.unit}" if self.unit and not self.of else value
        if not self.dist:
            return said
        shape = {key: known.said() for key, known in shape_entries(self.id)}
        return {"dist": self.dist, _SHAPES[self.dist][0]: said, **shape}

    def said(self) -> Any:
        """The default as a scenario file would say it."""
        return self.at(self.value)

    def as_dict(self) -> dict[str, Any]:
        """The entry as `sources` prints it; JSON-able."""
        names = ["id", "value", "unit", "low", "high", "distribution", "origin", "citation", "note"]
        told = {name: _jsonable(getattr(self, name)) for name in names}
        return {**told, "unit": f"times {self.of}"} if self.of else told


def _jsonable(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return "never" if value > 0 else None
    return value


@cache
def register() -> Mapping[str, Entry]:
    """All entries by id, in the order of the file (read-only)."""
    text = (resources.files(__package__) / "register.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    return MappingProxyType({name: _entry(name, table) for name, table in tables.items()})


def _entry(name: str, table: dict[str, Any]) -> Entry:
    blank = {"unit": "", "low": None, "high": None, "citation": "", "note": ""}
    return Entry(**{**blank, **table, "id": name})


def entry(name: str) -> Entry:
    """The entry with this id; KeyError when the register has none."""
    try:
        return register()[name]
    except KeyError:
        raise KeyError(f"register.toml has no entry {name!r}") from None


def shape_entries(name: str) -> list[tuple[str, Entry]]:
    """The entries for the shape of a default that varies, by key: [("sigma", ...)] for most."""
    dist = entry(name).dist
    return [(key, entry(f"{name}.{key}")) for key in _SHAPES[dist][1]] if dist else []


def default(name: str) -> Any:
    """The default with this id as a scenario file would say it: "26 ft", 7, {dist = ...}.

    A relative default (`Entry.of`) is the bare multiple. Raises KeyError for an unknown id.
    """
    return entry(name).said()


def from_register(name: str) -> Any:
    """A pydantic field whose default is the register's; checked like any value a user writes."""
    return Field(
        default_factory=lambda: default(name),
        validate_default=True,
        json_schema_extra={"register": name},
    )


def settled_from(name: str) -> Any:
    """A pydantic field left open by the user, settled later from the register if it is needed.

    The table that knows the other quantities settles it (`Table.settle`). What is relative to
    another quantity always holds a value after loading; what only one choice of several needs
    (a material, a share to wait for) may stay None.
    """
    return Field(default=None, validate_default=False, json_schema_extra={"register": name})


def registered_id(field: FieldInfo) -> str | None:
    """The register id that a field's default comes from; None when it has none."""
    extra = field.json_schema_extra
    known = extra.get("register") if isinstance(extra, dict) else None
    return known if isinstance(known, str) else None


def all_defaults() -> Any:
    """A pydantic field for a table that may be left out: every key then has its default."""
    return Field(default_factory=dict, validate_default=True)
