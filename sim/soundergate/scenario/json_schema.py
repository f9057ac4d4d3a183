"""JSON Schema of a scenario file as the user writes it, for editors and for checking by machine.

The cross-checks between tables (a rod in its bore, an opening in its corral) are not in it;
loading makes them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from soundergate.scenario.about import ABOUT
from soundergate.scenario.fields import SHARED
from soundergate.scenario.keys import key_id
from soundergate.scenario.meanings import meaning, sentence
from soundergate.scenario.paths import table_classes
from soundergate.scenario.register import UNKNOWN, register, shape_entries
from soundergate.scenario.schema import Scenario
from soundergate.scenario.toml_table import Table

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The schema (JSON-able): quantities are strings with a unit, defaults as they would be said.

    A default that multiplies another quantity is told in the description instead.
    """
    schema = Scenario.model_json_schema()
    _tell(schema)
    often = {key for key, count in Counter(_ids(schema)).items() if count > 1}
    shared: dict[str, Any] = {}
    schema = _tidied(schema, shared, often)
    schema["$defs"] |= shared
    return {"$schema": DIALECT, **schema, "title": "soundergate scenario"}


_ID = "x-id"


def _tell(schema: dict[str, Any]) -> None:
    """Mark each property with the id of its key."""
    told: set[type[Table]] = set()

    def of(cls: type[Table], path: str) -> None:
        if cls in told:
            return
        told.add(cls)
        node = schema if cls is Scenario else schema["$defs"][cls.__name__]
        for name, field in cls.model_fields.items():
            node["properties"][name][_ID] = key_id(cls, name, path)
            for inner in table_classes(field.annotation):
                of(inner, f"{path}.{name}".lstrip("."))

    of(Scenario, "")


def _ids(node: Any) -> Iterator[str]:
    """The name of each part that may be shared, in every table that has it."""
    if isinstance(node, list):
        for item in node:
            yield from _ids(item)
    elif isinstance(node, dict):
        if _name_of(node):
            yield _name_of(node)
        for item in node.values():
            yield from _ids(item)


def _name_of(node: dict[str, Any]) -> str:
    """What a key's part is shared under; "" for one that is no key, or that says a table's kind."""
    name = node.get("register") or ("" if "const" in node else node.get(_ID))
    return name if isinstance(name, str) else ""


def _tidied(node: Any, shared: dict[str, Any], often: set[str]) -> Any:
    """A copy with defaults told, shared parts moved to `shared`, and generated titles dropped.

    Shared are the quantities, and the fields that several tables have: those of the keys `often`.
    """
    if isinstance(node, list):
        return [_tidied(item, shared, often) for item in node]
    if not isinstance(node, dict):
        return node
    node = _without_null(node)
    told = {} if isinstance(node.get("properties"), dict) else _default_of(node)
    tidy = {
        key: _tidied(item, shared, often)
        for key, item in node.items()
        if key not in ("register", "scatter", _ID, SHARED)
        and not (key == "title" and isinstance(item, str))
    }
    if SHARED in node:
        name = _in_a_reference(node[SHARED])
        shared[name] = {k: v for k, v in tidy.items() if k not in ("default", "minItems")}
        tidy = {"$ref": f"#/$defs/{name}"}
    if _may_be_about(node):
        tidy = {"anyOf": [tidy, _about(node["register"], shared)]}
    tidy |= told
    if _name_of(node) in often:
        name = _in_a_reference(_name_of(node))
        if shared.setdefault(name, tidy) == tidy:
            return {"$ref": f"#/$defs/{name}"}
    return tidy


def _may_be_about(node: dict[str, Any]) -> bool:
    """Whether this is the field of something that nobody knows."""
    name = node.get("register")
    return isinstance(name, str) and register()[name].role == UNKNOWN


def _about(name: str, shared: dict[str, Any]) -> dict[str, Any]:
    """What is stated about: its middle, and of what varies the scatter beside it."""
    shapes = {key: {"type": "number"} for key, _ in shape_entries(name)}
    numbers = {"type": "array", "items": {"type": "number"}}
    middle = {"anyOf": [{"type": "number"}, {"type": "string"}, numbers]}
    key = "_and_".join([ABOUT, *shapes])
    shared[key] = {
        "type": "object",
        "properties": {ABOUT: middle, **shapes},
        "required": [ABOUT],
        "additionalProperties": False,
    }
    return {"$ref": f"#/$defs/{key}"}


def _in_a_reference(name: str) -> str:
    """The name without blanks, which no URI may hold (RFC 3986, 2)."""
    return name.replace(" ", "_")


def _without_null(node: dict[str, Any]) -> dict[str, Any]:
    """TOML has no null: a key is there or it is not."""
    kept = {key: item for key, item in node.items() if key != "default" or item is not None}
    choices = [item for item in kept.get("anyOf", []) if item != {"type": "null"}]
    if len(choices) == 1:
        del kept["anyOf"]
        return {**choices[0], **kept}
    return kept


def _default_of(node: dict[str, Any]) -> dict[str, Any]:
    """What the key means; and of the register its default, and in words its origin."""
    words = meaning(node.get(_ID, ""))
    means = sentence(words) if words else ""
    if not isinstance(node.get("register"), str):
        return {"description": means} if means else {}
    entry = register()[node["register"]]
    words = f"{means} {entry.note} [{entry.origin}]".strip()
    if entry.of:
        return {"description": f"{words}; default: {entry.value:g} x {entry.of}"}
    return {"description": words, "default": entry.said()}
