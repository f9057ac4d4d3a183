"""Every default of the scenario, with its origin, range and source: `register.toml`, read once.

An entry's id is the dotted key of the scenario. Where the default depends on what is chosen, the
choice is part of the id: `opening.gate.drop.friction`, `trigger.person.modem.command_delay`. A
default that varies by itself (a duration, a friction) has a second entry for its scatter, such
as `entry.clock.sigma`; that of a value that may be stated only (`opening.gate.drop.drag.sigma`)
stands alone. `paths` takes every id as a path.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from importlib import resources
from types import MappingProxyType
from typing import Any

from pydantic import Field
from pydantic.fields import FieldInfo

from soundergate.scenario.errors import show
from soundergate.scenario.plausible import around, each, quantile

ORIGINS = (
    "standard",
    "published",
    "handbook",
    "common practice",
    "memory",
    "assumption",
    "invented",
)
UNKNOWN, DECISION, CHOICE = "unknown", "decision", "choice"
SPREADS = ("log-normal", "logit-normal", "normal")
"""How plausible values of an unknown lie (`plausible`)."""

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

    `value`, `low` and `high` are in `unit` ("" for a plain number). `distribution` is "choice",
    "decision" (low to high are worth trying), or how plausible values of an unknown lie: `value` is
    their median, 5 % lie below `low` and 5 % above `high`, a share `none` is exactly 0, and none
    lies outside `support` (0 to 1 where they are logit-normal, any number else).

    `dist` names the distribution by which the quantity varies from animal to animal or night to
    night ("" when it does not): `value` is then its median (lognormal), mean (exponential, gamma)
    or scale (weibull). `of` names the quantity that a relative default multiplies ("" when it is
    not relative), `beyond` the key of the quantity that the product is counted from ("" for zero).
    `example` is a value that can be written where the multiple cannot: "18 ft", 7.
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
    example: Any = None
    none: float = 0.0
    support: tuple[float, float] | None = None

    @property
    def role(self) -> str:
        """Whether nobody knows it, somebody decides (or sees) it, or it is one of several kinds."""
        return UNKNOWN if self.distribution in SPREADS else self.distribution

    def quantile(self, share: float) -> Any:
        """The value, in `unit`, below which a ``share`` of plausible values lies, 0 < share < 1.

        A list moves as one, and of whole numbers the nearest is taken. A decision goes from the low
        end at 0.05 to the high one at 0.95 in equal steps, or in equal ratios above 0. Raises
        ValueError for a share outside 0 to 1.
        """
        if not 0.0 < share < 1.0:
            raise ValueError(f"share is {share}; it must lie between 0 and 1")
        found = each(self.value, lambda *of: self._quantile(share, *of), self.low, self.high)
        if not self.whole:
            return found
        least, most = self.support or (min(1, self.low), math.inf)
        return int(min(max(round(found), least), most))

    def _quantile(self, share: float, middle: float, low: float, high: float) -> float:
        if self.role == UNKNOWN:
            return quantile(middle, low, high, share, *self._spread)
        if share <= 0.05 or share >= 0.95:
            return low if share <= 0.05 else high
        way = (share - 0.05) / 0.9
        return float(low * (high / low) ** way) if low > 0 else low + way * (high - low)

    @property
    def _spread(self) -> tuple[str, tuple[float, float], float]:
        return self.distribution, self.support or (0.0, 1.0), self.none

    def about(self, centre: Any) -> Entry:
        """The same unknown with the register's relative range around another median, in `unit`.

        Raises ValueError for one round which there can be no such range.
        """
        distribution, support, none = self._spread
        ends = each(
            centre,
            lambda x, middle, low, high: around(
                x, middle, low, high, distribution, support, none
            ),
            self.value, self.low, self.high,
        )  # fmt: skip
        low, high = ends if not isinstance(centre, list) else map(list, zip(*ends, strict=True))
        none = 0.0 if self.none >= 0.5 else self.none
        if self.whole:  # it is still one that whole numbers are drawn of
            low, high = (round(end) for end in (low, high))  # type: ignore[arg-type]
        return replace(self, value=centre, low=low, high=high, none=none)

    @property
    def write(self) -> str:
        """What can be typed at this id: the default, or the example where that is a multiple."""
        how = form(self.id)
        return typed(how.value if how else self.said() if self.example is None else self.example)

    @property
    def numeric(self) -> bool:
        """True when the value is one number and so has a range."""
        return isinstance(self.value, (int, float)) and not isinstance(self.value, bool)

    @cached_property
    def whole(self) -> bool:
        """True when only whole numbers will do (nights, bends, a wire gauge)."""
        numbers = (self.value, self.low, self.high)
        return self.numeric and not self.unit and all(isinstance(n, int) for n in numbers)

    def at(self, value: Any) -> Any:
        """The default as a scenario file would say it, with `value` (in `unit`) in its place.

        The result suits `with_values`, e.g. `{"entry.clock": register()["entry.clock"].at(60)}`.
        """
        said = self.plain(value)
        if not self.dist:
            return said
        shape = {key: known.said() for key, known in shape_entries(self.id)}
        return {"dist": self.dist, _SHAPES[self.dist][0]: said, **shape}

    def plain(self, value: Any) -> Any:
        """The same of the value alone, which of what varies is its median, mean or scale."""
        return f"{value!r} {self.unit}" if self.unit and not self.of else value

    def said(self) -> Any:
        """The default as a scenario file would say it."""
        return self.at(self.value)

    def as_dict(self) -> dict[str, Any]:
        """The entry as `sources` prints it; JSON-able. `write` can be typed at this id."""
        names = ["id", "value", "unit", "low", "high", "distribution", "origin", "citation", "note"]
        told = {name: _jsonable(getattr(self, name)) for name in names}
        told |= {"role": self.role, "none": self.none, "write": self.write}
        return {**told, "unit": f"times {self.of}"} if self.of else told


def typed(value: Any) -> str:
    """A value as it is typed after KEY=, text without its quotes."""
    return value if isinstance(value, str) and value else show(value, 200)


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
    return Entry(
        **{
            **blank,
            **table,
            "id": name,
            "support": tuple(table["support"]) if "support" in table else None,
        }
    )


def entry(name: str) -> Entry:
    """The entry with this id; KeyError when the register has none."""
    try:
        return register()[name]
    except KeyError:
        raise KeyError(f"register.toml has no entry {name!r}") from None


def shape_entries(name: str) -> list[tuple[str, Entry]]:
    """The entries for the shape of a quantity that varies, by key: [("sigma", ...)] for most.

    Of one that must be stated the register has the scatter only.
    """
    dist = entry(name).dist if name in register() else "lognormal"
    return [(key, entry(f"{name}.{key}")) for key in _SHAPES[dist][1]] if dist else []


@dataclass(frozen=True)
class Form:
    """How a quantity varies: the distribution, its parameters' keys, and what the register has.

    `key` names the parameter that a plain value stands for (median, mean or scale), `value` is
    the register's own as a file would say it (None where it must be stated), `shapes` the others.
    """

    dist: str
    key: str
    value: Any
    shapes: tuple[tuple[str, float], ...]

    @cached_property
    def whole(self) -> dict[str, Any]:
        """All parameters by key, as a file would say them; without `key` if it has no default."""
        said = {} if self.value is None else {self.key: self.value}
        return {**said, **dict(self.shapes)}


@cache
def form(name: str) -> Form | None:
    """How the quantity with this id varies by the register; None for one that does not vary.

    Raises KeyError for an id of which the register has neither value nor scatter.
    """
    if name not in register():
        return Form("lognormal", "median", None, (("sigma", entry(f"{name}.sigma").value),))
    known = entry(name)
    if not known.dist:
        return None
    key = _SHAPES[known.dist][0]
    shapes = tuple((shape, one.value) for shape, one in shape_entries(name))
    return Form(known.dist, key, known.at(known.value)[key], shapes)


def form_of(name: str) -> Form:
    """`form` of a quantity that is known to vary. Raises KeyError for one that does not."""
    found = form(name)
    if found is None:
        raise KeyError(f"{name!r} does not vary by the register")
    return found


@dataclass(frozen=True)
class Stated:
    """A value as a file says it, on its way to a field that knows the register's `form`."""

    said: Any
    form: Form


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


def scatters_like(name: str) -> Any:
    """A pydantic field without a default, of which the register has the scatter alone."""
    return Field(default=None, json_schema_extra={"scatter": name})


def scatter_id(field: FieldInfo) -> str | None:
    """The id under which the register says how a field varies; None when it does not."""
    extra = field.json_schema_extra
    alone = extra.get("scatter") if isinstance(extra, dict) else None
    if isinstance(alone, str):
        return alone
    known = registered_id(field)
    return known if known and form(known) else None


def all_defaults() -> Any:
    """A pydantic field for a table that may be left out: every key then has its default."""
    return Field(default_factory=dict, validate_default=True)
