"""Dotted paths into a scenario: `opening.width`, `opening.0.gate.mass`, `entry.clock.median`."""

from __future__ import annotations

from typing import Any

from soundergate.scenario.distributions import Duration, Spread
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario
from soundergate.scenario.table import Table


def put(raw: dict[str, Any], scenario: Scenario, path: str, value: Any) -> None:
    """Set `value` at `path` in `raw` (in place); `scenario` knows what `raw` leaves unsaid.

    Raises ScenarioError when the path leads through something that is no table or list, or to
    a list entry that is not there. Unknown keys are left to the validation that follows.
    """
    parts = path.split(".")
    if not all(parts):
        raise ScenarioError(
            "not a dotted path",
            file=scenario.source,
            key=path or "(empty path)",
            hint="such as opening.width or trigger.height",
        )
    _put(raw, scenario, parts, value, (scenario.source, path))


def _put(node: Any, model: Any, parts: list[str], value: Any, where: tuple[str, str]) -> None:
    head, rest = parts[0], parts[1:]
    if isinstance(node, list):
        _put_in_list(node, model, parts, value, where)
    elif not isinstance(node, dict):
        raise ScenarioError(
            f"this path leads nowhere: nothing is called {head!r} there",
            file=where[0],
            key=where[1],
            hint="name a key that the file could have",
        )
    elif not rest:
        node[head] = value
    else:
        below = _attribute(model, head)
        _open_up(node, head, model, below)
        _put(node[head], below, rest, value, where)


def _put_in_list(
    items: list[Any], model: Any, parts: list[str], value: Any, where: tuple[str, str]
) -> None:
    head, rest = parts[0], parts[1:]
    if not head.isdecimal():
        for number, item in enumerate(items):
            _put(item, _item(model, number), parts, value, where)
        return
    number = int(head)
    if number >= len(items):
        raise ScenarioError(
            f"there is no entry {head}: the list has {len(items)}, counted from 0",
            file=where[0],
            key=where[1],
        )
    if rest:
        _put(items[number], _item(model, number), rest, value, where)
    else:
        items[number] = value


def _open_up(node: dict[str, Any], key: str, parent: Any, below: Any) -> None:
    """Make `node[key]` a table that can take one changed value beside what holds by default."""
    if key in node:
        if isinstance(below, Spread) and not isinstance(node[key], dict):
            node[key] = {"median": node[key], "sigma": 0}
        return
    said = parent.model_dump(mode="json")[key] if isinstance(below, (Duration, Spread)) else {}
    node[key] = said if isinstance(said, dict) else {}


def _attribute(model: Any, name: str) -> Any:
    return getattr(model, name, None) if isinstance(model, Table) else None


def _item(model: Any, number: int) -> Any:
    return model[number] if isinstance(model, tuple) and number < len(model) else None
