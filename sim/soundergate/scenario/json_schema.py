"""JSON Schema of a scenario file as the user writes it, for editors and for checking by machine.

The cross-checks between tables (a rod in its bore, an opening in its corral) are not in it;
loading makes them.
"""

from __future__ import annotations

from typing import Any

from soundergate.scenario.fields import SHARED
from soundergate.scenario.register import register
from soundergate.scenario.schema import Scenario

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The schema (JSON-able): quantities are strings with a unit, defaults as they would be said.

    A default that multiplies another quantity is told in the description instead.
    """
    schema = Scenario.model_json_schema()
    shared: dict[str, Any] = {}
    schema = _tidied(schema, shared)
    schema["$defs"] |= shared
    return {"$schema": DIALECT, **schema, "title": "soundergate scenario"}


def _tidied(node: Any, shared: dict[str, Any]) -> Any:
    """A copy with defaults told, shared parts moved to `shared`, and generated titles dropped."""
    if isinstance(node, list):
        return [_tidied(item, shared) for item in node]
    if not isinstance(node, dict):
        return node
    node = _without_null(node)
    told = {} if isinstance(node.get("properties"), dict) else _default_of(node)
    tidy = {
        key: _tidied(item, shared)
        for key, item in node.items()
        if key not in ("register", "scatter", SHARED)
        and not (key == "title" and isinstance(item, str))
    }
    if SHARED in node:
        name = str(node[SHARED])
        shared[name] = {k: v for k, v in tidy.items() if k not in ("default", "minItems")}
        tidy = {"$ref": f"#/$defs/{name}"}
    return {**tidy, **told}


def _without_null(node: dict[str, Any]) -> dict[str, Any]:
    """TOML has no null: a key is there or it is not."""
    kept = {key: item for key, item in node.items() if key != "default" or item is not None}
    choices = [item for item in kept.get("anyOf", []) if item != {"type": "null"}]
    if len(choices) == 1:
        del kept["anyOf"]
        return {**choices[0], **kept}
    return kept


def _default_of(node: dict[str, Any]) -> dict[str, Any]:
    """What the register says of a field: its default, and in words its origin."""
    if not isinstance(node.get("register"), str):
        return {}
    entry = register()[node["register"]]
    words = f"{entry.note} [{entry.origin}]"
    if entry.of:
        return {"description": f"{words}; default: {entry.value:g} x {entry.of}"}
    return {"description": words, "default": entry.said()}
