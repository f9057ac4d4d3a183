"""What Python hands over in place of a file: the same tables, in types that a file can hold.

A path, a dict or a `Scenario` say the same thing. A dict is copied before anything looks at it, so
that no call changes it. NumPy's numbers become Python's, tuples lists, and paths texts; what no
TOML file could hold (None, bytes, an array, a data frame) is refused by its key.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping
from numbers import Integral, Real
from typing import Any

from soundergate.scenario.errors import ScenarioError, as_written, show

FROM_DICT = "<dict>"
"""What stands for the file in messages about a dict."""
_TIMES = (datetime.datetime, datetime.date, datetime.time)
_HOLDS = "wanted text, a number, true or false, a list or a table"


def table_of(
    given: Mapping[Any, Any], file: str | None, wrong: type[ScenarioError] = ScenarioError
) -> dict[str, Any]:
    """A copy of tables in types that a file can hold. Raises ``wrong`` naming file, key, value."""
    return {
        _key(key, "", file, wrong): value_of(value, file, _under("", key), wrong)
        for key, value in given.items()
    }


def value_of(
    value: Any, file: str | None, key: str, wrong: type[ScenarioError] = ScenarioError
) -> Any:
    """The same of one value, which stands at the dotted ``key``."""
    if isinstance(value, Mapping):
        return {
            _key(name, key, file, wrong): value_of(item, file, _under(key, name), wrong)
            for name, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [
            value_of(item, file, _under(key, str(number)), wrong)
            for number, item in enumerate(value, 1)
        ]
    if isinstance(value, (bool, *_TIMES)):
        return value
    if isinstance(value, str):
        return str(value)
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value)
    if type(value).__name__ == "bool":  # NumPy's, which is no Python bool
        return bool(value)
    if isinstance(value, os.PathLike) and isinstance(path := os.fspath(value), str):
        return path
    hint = "leave the key out to take its default" if value is None else _HOLDS
    raise wrong(f"{_a(value)} cannot stand in a file", file=file, key=key, value=value, hint=hint)


def is_path(given: Any) -> bool:
    """Whether it is a path as text."""
    return isinstance(given, str) or (
        isinstance(given, os.PathLike) and isinstance(given.__fspath__(), str)
    )


def path_of(
    given: Any, what: str = "scenario", wrong: type[ScenarioError] = ScenarioError
) -> str | os.PathLike[str]:
    """A path as it is. Raises ``wrong``, saying what would do, for what leads to no ``what``."""
    if is_path(given):
        if not os.fspath(given):
            raise wrong("is an empty path", key=what, value="", hint=_wanted(what))
        return given
    raise wrong(f"{_a(given)} is no {what}", key=what, value=given, hint=_wanted(what))


def _wanted(what: str) -> str:
    made = ", or a Scenario" if what == "scenario" else ""
    return f"wanted the path of a {what} file, a dict of its tables{made}"


def _a(value: Any) -> str:
    return "None" if value is None else f"a value of type {type(value).__name__}"


def _key(key: Any, above: str, file: str | None, wrong: type[ScenarioError]) -> str:
    if isinstance(key, str):
        return str(key)
    raise wrong(
        f"a key is text, and this one is {_a(key)}",
        file=file, key=_under(above, key), hint=f'wanted such as "{show(key, 20)}" in quotes',
    )  # fmt: skip


def _under(above: str, key: Any) -> str:
    name = as_written(key) if isinstance(key, str) else show(key)
    return f"{above}.{name}" if above else name
