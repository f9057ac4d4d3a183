"""From a file, a text or a table to a `Scenario`; and a scenario with some values changed."""

from __future__ import annotations

import copy
import os
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, TypeAlias

from pydantic import ValidationError

from soundergate.scenario.about import is_about
from soundergate.scenario.errors import ScenarioError, shortened
from soundergate.scenario.given import FROM_DICT, path_of, table_of
from soundergate.scenario.messages import translate
from soundergate.scenario.paths import put
from soundergate.scenario.schema import Scenario

LARGEST_FILE = 1_000_000  # bytes; a scenario is a page or two
LONGEST_LINE = 10_000  # characters; what is one key of many parts takes the parser very long
DEEPEST = 16  # tables and lists in one another; a scenario has four or five


Given: TypeAlias = Scenario | Mapping[str, Any] | str | os.PathLike[str]
"""A scenario, the tables of its file as a dict, or the path of the file."""


def load(scenario: Given) -> Scenario:
    """The scenario in a file, or in a dict of the same tables.

    Parameters
    ----------
    scenario : path, dict or Scenario
        The path of a TOML file, or what such a file holds as a dict, which is copied and never
        changed: quantities are texts with their unit ("8 ft"). A Scenario is returned as it is.

    Returns
    -------
    Scenario
        Checked, frozen, in SI.

    Raises
    ------
    ScenarioError
        For anything wrong with it, naming the file ("<dict>" for a dict), key, value and what
        would do.

    Example
    -------
    >>> import soundergate
    >>> trap = soundergate.load({
    ...     "sounder": {"sows": 2, "piglets": 6},
    ...     "opening": [{"width": "4 ft", "height": "4 ft", "gate": {"kind": "drop"}}],
    ...     "trigger": {"kind": "person"},
    ... })
    >>> round(trap.opening[0].width, 4)
    1.2192
    """
    if isinstance(scenario, Scenario):
        return scenario
    if isinstance(scenario, Mapping):
        return _from_tables(scenario, FROM_DICT, "the dict is empty")
    path = path_of(scenario)
    return loads(text_of(path), str(path))


def loads(text: str, name: str = "<text>") -> Scenario:
    """The scenario in a TOML text; `name` stands for the file in messages."""
    return _from_tables(tables_of(text, name), name, "the file is empty")


def _from_tables(tables: Mapping[str, Any], name: str, empty: str) -> Scenario:
    if not tables:
        raise ScenarioError(
            empty,
            file=name,
            hint="a scenario needs [sounder], [[opening]] and [trigger]; `soundergate example` "
            "prints complete ones",
        )
    return from_table(tables, name)


def from_table(table: Mapping[str, Any], name: str = "<table>") -> Scenario:
    """The scenario in a parsed table, such as `Scenario.raw` or `Scenario.resolved()`."""
    check_depth(table, name, ScenarioError)
    raw = table_of(table, name)
    try:
        scenario = Scenario.model_validate(raw)
    except ValidationError as error:
        raise translate(error, raw, name) from None
    scenario.came_from(raw, name)
    if _says_about(raw):
        from soundergate.scenario.assumptions import unknowns_of

        unknowns_of(scenario)  # refuses what there is no range around
    return scenario


def _says_about(raw: Any) -> bool:
    return is_about(raw) or any(
        _says_about(part) for _, part in _items(raw) if isinstance(part, Mapping | list)
    )


def with_values(scenario: Given, values: Mapping[str, Any]) -> Scenario:
    """The scenario with the values at some dotted paths replaced, validated again.

    Values are written as in the file ("8 ft", 3, {kind = ...}). On a list of tables a path means
    every entry (`opening.width`), or one by number, counted from 1 (`opening.1.width`); a kind
    narrows it (`opening.gate.drop.friction`, see `paths`). What the file leaves to the defaults
    may be changed too, also one parameter of what varies (`entry.clock.median`). A plain value
    keeps the register's scatter.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`; it is not changed.
    values : dict
        From dotted path to value.

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        For a scenario or a value that cannot be, also for a path that leads nowhere.

    Example
    -------
    >>> wider = with_values("trap.toml", {"opening.width": "8 ft"})
    >>> round(wider.opening[0].width, 4)
    2.4384
    """
    scenario = load(scenario)
    if not isinstance(values, Mapping):
        raise ScenarioError(
            "is no dict of values",
            file=scenario.source, key="values", value=values,
            hint='wanted such as {"opening.width": "8 ft"}',
        )  # fmt: skip
    raw = copy.deepcopy(scenario.raw)
    check_depth(values, scenario.source, ScenarioError)
    for path, value in table_of(values, scenario.source).items():
        if path.count(".") >= DEEPEST:
            raise ScenarioError("leads nowhere: too many names", file=scenario.source, key=path)
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


def text_of(
    path: str | os.PathLike[str], what: str = "scenario", wrong: type[ScenarioError] = ScenarioError
) -> str:
    """The text of a file that a person wrote; ``what`` it is to be stands in messages.

    Only an ordinary file of believable size is opened: a pipe would wait for ever, and a device
    may have no end. Raises ``wrong`` for any other.
    """
    path, name = Path(path), str(path)
    try:
        if path.is_dir():
            raise wrong("is a directory", file=name, hint=f"name a {what} file (TOML)")
        if path.exists() and not path.is_file():
            raise wrong("is not an ordinary file", file=name)
        data = path.read_bytes() if path.stat().st_size <= LARGEST_FILE else None
    except FileNotFoundError:
        raise wrong("there is no such file", file=name) from None
    except (OSError, ValueError) as error:
        if isinstance(error, ScenarioError):
            raise
        reason = getattr(error, "strerror", None) or error
        raise wrong(f"cannot be read: {reason}", file=name) from None
    if data is None:
        raise wrong(f"larger than {LARGEST_FILE} bytes: not a {what}", file=name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise wrong(
            f"not UTF-8 text (line {line})", file=name, hint="save the file as UTF-8"
        ) from None


def tables_of(text: str, name: str, wrong: type[ScenarioError] = ScenarioError) -> dict[str, Any]:
    """A TOML text as tables. Raises ``wrong`` with line and column for what is none."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            raise wrong(f"line {number} has more than {LONGEST_LINE} characters", file=name)
    try:
        tables = tomllib.loads(text)
    except (RecursionError, ValueError) as error:  # a TOMLDecodeError is a ValueError
        trouble, hint = _toml_trouble(error, text)
        raise wrong(f"not valid TOML: {trouble}", file=name, hint=hint) from None
    check_depth(tables, name, wrong)
    return tables


def check_depth(table: Any, name: str, wrong: type[ScenarioError], key: str | None = None) -> None:
    """What is nested too deeply for anything that looks through it later."""
    level = [(key, table)]
    for _ in range(DEEPEST):
        level = [
            (lead or str(part), item)
            for lead, value in level
            for part, item in _items(value)
            if isinstance(item, Mapping | list | tuple)
        ]
        if not level:
            return
    raise wrong(
        "nested too deeply", file=name, key=level[0][0], hint=f"the most is {DEEPEST} levels"
    )


def _items(value: Any) -> Iterable[tuple[Any, Any]]:
    if isinstance(value, Mapping):
        return value.items()
    return enumerate(value) if isinstance(value, list | tuple) else ()


_TWICE = ("Cannot overwrite", "Cannot declare", "Cannot mutate", "Duplicate")
"""How the parser's words begin for a key or a table that is there already."""


def _toml_trouble(error: Exception, text: str) -> tuple[str, str | None]:
    """What the parser found wrong, with line and column also at the end of the text; what to do."""
    if isinstance(error, RecursionError):
        return "nested too deeply", None
    if not isinstance(error, tomllib.TOMLDecodeError):
        return "a number has too many digits", None
    lines = text.rstrip("\n").split("\n")
    end = f"(at line {len(lines)}, column {len(lines[-1]) + 1}, where the text ends)"
    told = str(error).replace("(at end of document)", end)
    if (signs := _foreign_signs(told, lines)) is not None:
        return f"{signs[0]} {told[told.rindex('(at line') :]}", signs[1]
    if told.startswith(_TWICE) and (place := re.search(r"\(at line (\d+), ", told)):
        line = lines[min(int(place[1]), len(lines)) - 1]
        key = shortened(line.partition("=")[0].strip())
        return f"{key} stands there twice {told[place.start() :]}", "keep one of them"
    return told, 'text stands in "quotes", and each key on a line of its own'


def _foreign_signs(told: str, lines: list[str]) -> tuple[str, str] | None:
    """What a word processor, feet and inches or a decimal comma did to a line; what to write."""
    place = re.search(r"\(at line (\d+), column", told)
    line = lines[min(int(place[1]), len(lines)) - 1] if place else ""
    key, _, said = (part.strip() for part in line.partition("="))
    if re.search("[\u2018\u2019\u201c\u201d\u201e]", said):
        plain = re.sub("[\u2018\u2019\u201c\u201d\u201e]", '"', said)
        return "curly quotes", f"write straight ones: {shortened(f'{key} = {plain}')}"
    if re.search(r'^"[^"]*\d"\s*"', said) or re.search(r"^'[^']*\d'\s*\d", said):
        return (
            "feet or inches by a quote sign end the text",
            f"write {key} = \"7 ft 6 in\", or inches as {key} = '7 in'",
        )
    if comma := re.search(r"^(\d+),(\d+)\b", said):
        return "a comma in a number", f"write {key} = {comma[1]}.{comma[2]}"
    return None
