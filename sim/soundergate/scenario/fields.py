"""Field types of the scenario: each reads one written value, refuses a bad one in plain words.

A field is declared `width: Annotated[float, Quantity("length", above=0)]`. Python sees the SI
number; the file says "4 ft"; `model_dump(mode="json")` says it in SI with the unit, losslessly.
"""

from __future__ import annotations

import difflib
import math
import unicodedata
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from soundergate.scenario.errors import Problem, show
from soundergate.scenario.units import dimension, read_quantity

# Marks a JSON schema that many fields share, with the name it is shared under.
SHARED = "x-shared"
QUANTITY_PATTERN = r"^\s*[-+−]?\s*[.0-9].*[^0-9.\s].*$"


class Spec:
    """What a field accepts. Subclasses give `read`, `write` and `json_type`."""

    def read(self, value: Any) -> Any:
        raise NotImplementedError

    def write(self, value: Any) -> Any:
        return value

    def json_type(self) -> dict[str, Any]:
        raise NotImplementedError

    def _read(self, value: Any) -> Any:
        """As `read`; a table in the place of a value is shown as any other wrong value is."""
        try:
            return self.read(value)
        except Problem as problem:
            problem.of_value = not problem.key
            raise

    def _write(self, value: Any) -> Any:
        return None if value is None else self.write(value)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self._read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                self._write, when_used="json"
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return self.json_type()


@dataclass(frozen=True)
class Quantity(Spec):
    """A number with a unit, within physical bounds given as written quantities ("0 ft").

    `why` says what is wrong with a value below the lower bound.
    """

    dimension: str
    above: str | None = None
    at_least: str | None = None
    below: str | None = None
    at_most: str | None = None
    why: str = ""

    def read(self, value: Any) -> float:
        si = read_quantity(value, self.dimension)
        return self.bounded(si)

    def bounded(self, si: float) -> float:
        """The value itself when within bounds; Problem otherwise."""
        for limit, broken, words in (
            (self.above, lambda x, y: x <= y, "above"),
            (self.at_least, lambda x, y: x < y, "at least"),
            (self.below, lambda x, y: x >= y, "below"),
            (self.at_most, lambda x, y: x > y, "at most"),
        ):
            if limit is not None and broken(si, read_quantity(limit, self.dimension)):
                kind = dimension(self.dimension)
                low = words in ("above", "at least")
                what = (self.why if low else "") or f"out of range for {kind.with_article}"
                raise Problem(what, hint=f"it must be {words} {limit}")
        return si

    def write(self, value: float) -> str:
        return f"{value!r} {dimension(self.dimension).si}"

    def json_type(self) -> dict[str, Any]:
        kind = dimension(self.dimension)
        return {
            SHARED: self.dimension,
            "type": "string",
            "pattern": QUANTITY_PATTERN,
            "description": f"{self.dimension} with its unit ({', '.join(kind.units)})",
            "examples": [kind.example],
        }


@dataclass(frozen=True)
class Number(Spec):
    """A plain number without a unit; bounds are inclusive unless `above` or `below` is used."""

    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None
    what: str = "a number"

    def read(self, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = "write it without quotes and without a unit" if isinstance(value, str) else None
            raise Problem(f"must be {self.what}{_range_words(self)}", hint=hint)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise Problem(f"must be finite: {self.what}{_range_words(self)}")
        if not _within(number, self):
            raise Problem(f"out of range: {self.what} must be {_range_words(self).strip(', ')}")
        return number

    def json_type(self) -> dict[str, Any]:
        names = {"at_least": "minimum", "at_most": "maximum",
                 "above": "exclusiveMinimum", "below": "exclusiveMaximum"}  # fmt: skip
        limits = {names[n]: getattr(self, n) for n in names if getattr(self, n) is not None}
        return {"type": "number", **limits}


@dataclass(frozen=True)
class Whole(Spec):
    """A whole number within inclusive bounds."""

    at_least: int | None = None
    at_most: int | None = None
    above: None = None
    below: None = None
    what: str = "a whole number"

    def read(self, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise Problem(
                f"must be {self.what}{_range_words(self)}",
                hint="write it without quotes, point or unit",
            )
        if not _within(value, self):
            raise Problem(f"out of range: must be {_range_words(self).strip(', ')}")
        return value

    def json_type(self) -> dict[str, Any]:
        limits = {"minimum": self.at_least, "maximum": self.at_most}
        return {"type": "integer", **{k: v for k, v in limits.items() if v is not None}}


def _within(value: float, spec: Any) -> bool:
    return not (
        (spec.at_least is not None and value < spec.at_least)
        or (spec.at_most is not None and value > spec.at_most)
        or (spec.above is not None and value <= spec.above)
        or (spec.below is not None and value >= spec.below)
    )


def _range_words(spec: Any) -> str:
    words = [f"at least {spec.at_least:g}" if spec.at_least is not None else "",
             f"above {spec.above:g}" if spec.above is not None else "",
             f"at most {spec.at_most:g}" if spec.at_most is not None else "",
             f"below {spec.below:g}" if spec.below is not None else ""]  # fmt: skip
    said = " and ".join(word for word in words if word)
    return f", {said}" if said else ""


@dataclass(frozen=True)
class Flag(Spec):
    """true or false."""

    def read(self, value: Any) -> bool:
        if not isinstance(value, bool):
            raise Problem("must be true or false, without quotes")
        return value

    def json_type(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(frozen=True)
class Text(Spec):
    """Text of at most `longest` characters, shown as the user wrote it."""

    longest: int = 200

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise Problem("must be text in quotes")
        if len(value) > self.longest:
            raise Problem(f"too long: at most {self.longest} characters")
        _refuse_control(value)
        return value

    def json_type(self) -> dict[str, Any]:
        return {"type": "string", "maxLength": self.longest}


_CONTROL = {"Cc", "Zl", "Zp"}
"""Unicode categories of what no line of print can show: controls, line and paragraph breaks."""

_TURNS = {0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
"""Characters that turn the direction of writing (Unicode 15, property Bidi_Control): they would
show a name, and what stands beside it, as other than it is. Letters of any script are welcome."""


def _refuse_control(text: str) -> None:
    """Problem that names the first control character of a text and its place."""
    for place, sign in enumerate(text, 1):
        if ord(sign) in _TURNS:
            raise Problem(
                f"holds a character that turns the direction of writing (U+{ord(sign):04X}) at "
                f"place {place}, which shows text as other than it is",
                hint="leave it out",
            )
        if unicodedata.category(sign) in _CONTROL:
            raise Problem(
                f"holds a control character (U+{ord(sign):04X}) at place {place}, which no page or "
                "picture can show",
                hint="write it as one line of plain text",
            )


@dataclass(frozen=True)
class Choice(Spec):
    """One of a few words or numbers."""

    options: tuple[Any, ...]

    def read(self, value: Any) -> Any:
        check_choice(value, self.options)
        return value

    def json_type(self) -> dict[str, Any]:
        return {"enum": list(self.options)}


def check_choice(value: Any, options: tuple[Any, ...], key: str = "") -> None:
    """Problem that lists the choices, and the nearest, unless `value` is one of `options`."""
    if any(type(value) is type(option) and value == option for option in options):
        return
    known = ", ".join(show(option) for option in options)
    words = [option for option in options if isinstance(option, str)]
    near = difflib.get_close_matches(value.lower(), words, n=1) if isinstance(value, str) else []
    hint = f"did you mean {show(near[0])}?" if near else None
    raise Problem(f"not one of the choices: {known}", hint=hint, key=key, value=value)
