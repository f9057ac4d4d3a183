"""From a file, a text or a table to a `Scenario`; and a scenario with some values changed."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.messages import translate
from soundergate.scenario.paths import put
from soundergate.scenario.schema import Scenario

LARGEST_FILE = 1_000_000  # bytes; a scenario is a page or two


def load(path: str | Path) -> Scenario:
    """The scenario in a TOML file. Raises ScenarioError for anything wrong with it."""
    path = Path(path)
    return loads(_text_of(path), str(path))


def loads(text: str, name: str = "<text>") -> Scenario:
    """The scenario in a TOML text; `name` stands for the file in messages."""
    return from_table(_tables(text, name), name)


def from_table(table: Mapping[str, Any], name: str = "<table>") -> Scenario:
    """The scenario in a parsed table, such as `Scenario.raw` or `Scenario.resolved()`."""
    raw = copy.deepcopy(dict(table))
    try:
        scenario = Scenario.model_validate(raw)
    except ValidationError as error:
        raise translate(error, raw, name) from None
    scenario._raw = raw
    scenario._source = name
    return scenario


def with_values(scenario: Scenario | Mapping[str, Any], values: Mapping[str, Any]) -> Scenario:
    """The scenario with the values at some dotted paths replaced, validated again.

    Values are written as in the file ("8 ft", 3, {kind = ...}). On a list of tables a path means
    every entry (`opening.width`), or one by number, counted from 1 (`opening.1.width`); a kind
    narrows it (`opening.gate.drop.friction`, see `paths`). What the file leaves to the defaults
    may be changed too, also one parameter of what varies (`entry.clock.median`). A plain value
    keeps the register's scatter.
    Raises ScenarioError, also for a path that leads nowhere.
    """
    if not isinstance(scenario, Scenario):
        scenario = from_table(scenario)
    raw = copy.deepcopy(scenario.raw)
    for path, value in values.items():
        put(raw, path, value, scenario.source)
    return from_table(raw, scenario.source)


def read_value(text: str) -> Any:
    """A value typed on the command line: TOML where it parses as such, else plain text.

    `8`, `true`, `"8 ft"`, `{kind = "drop"}` and `8 ft` all do what they look like.
    """
    try:
        found = tomllib.loads(f"value = {text}")
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return text
    return found["value"] if set(found) == {"value"} else text


def _text_of(path: Path) -> str:
    name = str(path)
    try:
        if path.is_dir():
            raise ScenarioError("is a directory", file=name, hint="name a scenario file (TOML)")
        if path.exists() and not path.is_file():
            raise ScenarioError("is not an ordinary file", file=name)
        data = path.read_bytes() if path.stat().st_size <= LARGEST_FILE else None
    except FileNotFoundError:
        raise ScenarioError("there is no such file", file=name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ScenarioError(f"cannot be read: {reason}", file=name) from None
    if data is None:
        raise ScenarioError(f"larger than {LARGEST_FILE} bytes: not a scenario", file=name)
    return _decoded(data, name)


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ScenarioError(
            f"not UTF-8 text (line {line})", file=name, hint="save the file as UTF-8"
        ) from None


def _tables(text: str, name: str) -> dict[str, Any]:
    try:
        tables = tomllib.loads(text)
    except (RecursionError, ValueError) as error:  # a TOMLDecodeError is a ValueError
        raise ScenarioError(
            f"not valid TOML: {_toml_trouble(error, text)}",
            file=name,
            hint='text stands in "quotes", and each key on a line of its own',
        ) from None
    if not tables:
        raise ScenarioError(
            "the file is empty",
            file=name,
            hint="a scenario needs [sounder], [[opening]] and [trigger]; `soundergate example` "
            "prints complete ones",
        )
    return tables


def _toml_trouble(error: Exception, text: str) -> str:
    """What the parser found wrong, with line and column also at the end of the text."""
    if isinstance(error, RecursionError):
        return "nested too deeply"
    if not isinstance(error, tomllib.TOMLDecodeError):
        return "a number has too many digits"
    lines = text.split("\n")
    end = f"(at line {len(lines)}, column {len(lines[-1]) + 1}, where the text ends)"
    return str(error).replace("(at end of document)", end)
