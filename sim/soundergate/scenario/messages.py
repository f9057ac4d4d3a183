"""Pydantic's list of validation errors turned into one ScenarioError in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from soundergate.scenario.about import ABOUT, is_about
from soundergate.scenario.errors import Problem, ScenarioError
from soundergate.scenario.variants import TAG_MARK

_MISSING_HINTS = {
    "sounder": "start with a table [sounder] and say how many sows, boars, juveniles and piglets",
    "opening": "start a table [[opening]] with width, height and gate",
    "trigger": 'start a table [trigger] with kind = "line", "bait", "counter", "person" or "none"',
    "width": 'such as width = "4 ft"',
    "height": 'such as height = "3 ft"',
    "gate": 'such as gate = {kind = "drop", sheet = "14 gauge"}',
}
# Remarks that repeat an error already reported for another key.
_CONSEQUENCES = {"default_factory_not_called"}


def said(first: Mapping[str, Any]) -> str:
    """What pydantic says of one error, without the lead that it puts before a validator's words."""
    cause = first.get("ctx", {}).get("error")
    return str(cause if isinstance(cause, Exception) else first["msg"])


def translate(error: ValidationError, raw: Any, file: str | None) -> ScenarioError:
    """The first error of `error` with its key and value as written, and how many more there are."""
    found = [e for e in error.errors(include_url=False) if e["type"] not in _CONSEQUENCES]
    first = found[0]
    path = [
        str(part + 1) if isinstance(part, int) else part
        for part in first["loc"]
        if not str(part).startswith(TAG_MARK)
    ]
    more = len(found) - 1
    cause = first.get("ctx", {}).get("error")
    if isinstance(cause, Problem):
        return _from_problem(cause, path, raw, file, more)
    key = ".".join(map(str, path))
    if first["type"] == "missing":
        return ScenarioError(
            "this key is required",
            file=file,
            key=key,
            more=more,
            hint=_MISSING_HINTS.get(str(path[-1])),
        )
    path, value = _about(path, look_up(raw, path))
    key = ".".join(map(str, path))
    if first["type"] == "tuple_type":
        hint = "write [[opening]]" if key == "opening" else None
        return ScenarioError(
            "must be a list", file=file, key=key, value=value, hint=hint, more=more
        )
    return ScenarioError(said(first), file=file, key=key, value=value, more=more)


def _from_problem(
    problem: Problem, path: list[Any], raw: Any, file: str | None, more: int
) -> ScenarioError:
    if problem.key.startswith("."):
        path = problem.key[1:].split(".")
    elif problem.key:
        path = [*path, *problem.key.split(".")]
    if problem.has_value:
        value = problem.value
    else:
        path, value = _about(path, look_up(raw, path))
    # a table that is wrong as a whole is named, and not written out
    table = isinstance(value, dict) and not problem.of_value
    fields: dict[str, Any] = {} if value is ABSENT or table else {"value": value}
    key = ".".join(map(str, path)) or None
    return ScenarioError(problem.text, file=file, key=key, hint=problem.hint, more=more, **fields)


def _about(path: list[Any], value: Any) -> tuple[list[Any], Any]:
    """Path and value of what is stated about, where that is what stands there."""
    return ([*path, ABOUT], value[ABOUT]) if is_about(value) else (path, value)


ABSENT: Any = object()


def look_up(raw: Any, path: list[Any]) -> Any:
    """What stands at `path` in the file as written; ABSENT when nothing does.

    Entries of lists are counted from 1.
    """
    for part in path:
        try:
            if isinstance(raw, list):
                raw = raw[int(part) - 1] if int(part) >= 1 else ABSENT
            else:
                raw = raw[part]
        except (KeyError, IndexError, TypeError, ValueError):
            return ABSENT
    return raw
