"""Values drawn for the keys of a scenario file from its own JSON Schema.

What a key may hold is read from what `soundergate schema` prints, so that a new key is tried
without anyone thinking of it. A value is drawn in a temper: "calm" stays near the default, "bold"
reaches some orders of magnitude from it, "wild" takes the ends of what can be written.
"""

from __future__ import annotations

import random
import re
from functools import cache
from typing import Any

from soundergate.scenario.json_schema import json_schema
from soundergate.scenario.units import DIMENSIONS

Node = dict[str, Any]

HUGE = (0.0, 1e-300, 1e-12, 1e-6, 1e6, 1e12, 1e300)
"""Magnitudes with which nobody reckons."""
DECADES = {"calm": 0.3, "bold": 3.0, "wild": 300.0}
"""How far from its default a number is moved, in powers of ten."""
MOST_ITEMS = {"calm": 2, "bold": 3, "wild": 12}
FACTORED = re.compile(r"default: ([\d.e+-]+) x ")


@cache
def schema() -> Node:
    """The schema of a scenario file."""
    return json_schema()


def settled(node: Node) -> Node:
    """A node with what it refers to written out; what stands beside a reference counts."""
    while "$ref" in node:
        own = {key: value for key, value in node.items() if key != "$ref"}
        node = schema()["$defs"][node["$ref"].rsplit("/", 1)[1]] | own
    return node


def choices(node: Node) -> list[Node]:
    """The kinds that a node may be, itself if there are none."""
    node = settled(node)
    kinds = node.get("oneOf") or node.get("anyOf")
    return [settled(kind) for kind in kinds] if kinds else [node]


def kind_of(node: Node, table: Any) -> Node:
    """The kind of table that a node's value is, by its own words (kind, puller, link, ...)."""
    kinds = [one for one in choices(node) if one.get("type") == "object"]

    def fits(kind: Node) -> int:
        known = kind.get("properties", {})
        same = [table.get(key) == one["const"] for key, one in known.items() if "const" in one]
        return sum(same) - 3 * (len(same) - sum(same)) + len(table.keys() & known.keys())

    return max(kinds, key=fits) if kinds else settled(node)


class Drawer:
    """Draws values from one source of chance, in one temper that it may change."""

    def __init__(self, rng: random.Random, temper: str = "calm") -> None:
        self.rng, self.temper = rng, temper

    def value(self, node: Node, near: Any = None) -> Any:
        """A value that the schema allows; ``near`` is what stands there now."""
        node = settled(node)
        if near is None:
            near = node.get("default")
        if "const" in node:
            return node["const"]
        if "enum" in node:
            return self.rng.choice(node["enum"])
        if "oneOf" in node or "anyOf" in node:
            return self._one_of(node, near)
        return self._plain(node, near)

    def _one_of(self, node: Node, near: Any) -> Any:
        kind = self.rng.choice(choices(node))
        if near is not None and kind.get("type") == "object" and not isinstance(near, dict):
            near = None
        if near is not None and kind.get("type") != "object" and isinstance(near, dict):
            near = next((v for k, v in near.items() if k not in ("dist", "sigma")), None)
        if isinstance(near, dict) and "dist" in kind.get("properties", {}):
            times = [v for v in near.values() if isinstance(v, str) and v[:1].isdigit()]
            near = dict.fromkeys(("mean", "median", "scale", "high", "fixed"), (times or [None])[0])
        return self.value(kind, near)

    def _plain(self, node: Node, near: Any) -> Any:
        match node.get("type"):
            case "object":
                return self.table(node, near if isinstance(near, dict) else {})
            case "array":
                return self._list(node, near)
            case "boolean":
                return self.rng.random() < 0.5
            case "integer":
                return self._whole(node, near)
            case "number":
                return self._number(node, near)
            case "string":
                return self._text(node, near)
        return near

    def table(self, node: Node, near: dict[str, Any]) -> dict[str, Any]:
        """A table: what it must hold, and some of what it may."""
        known, must = node.get("properties", {}), set(node.get("required", ()))
        few = min(1.0, {"calm": 2.0, "bold": 4.0, "wild": 6.0}[self.temper] / (len(known) or 1))
        if "minProperties" in node:  # parameters of a distribution go together
            must, few = set(known), 0.0
            if self.rng.random() < 0.1:
                must = {self.rng.choice([*known])}
        return {
            key: self.value(part, near.get(key))
            for key, part in known.items()
            if key in must or "const" in settled(part) or self.rng.random() < few
        }

    def _list(self, node: Node, near: Any) -> list[Any]:
        if isinstance(near, list) and near and self.temper != "wild":
            return [self.value(node["items"], item) for item in near]
        low = node.get("minItems", 0)
        most = min(node.get("maxItems", 99), MOST_ITEMS[self.temper])
        return [self.value(node["items"]) for _ in range(self.rng.randint(low, max(low, most)))]

    def _factor(self) -> float:
        return 10.0 ** self.rng.uniform(-DECADES[self.temper], DECADES[self.temper])

    def _wild(self, low: float, high: float) -> float:
        ends = [x for x in (low, high) if abs(x) < 1e300]
        return self.rng.choice([*HUGE, *ends, *ends, *ends])

    def _number(self, node: Node, near: Any) -> float:
        low = node.get("minimum", node.get("exclusiveMinimum", 0.0))
        high = node.get("maximum", node.get("exclusiveMaximum", 1e300))
        if self.temper == "wild":
            return float(self._wild(low, high))
        if high <= 1.0 and self.rng.random() < 0.5:
            return self.rng.choice([low, high, self.rng.uniform(low, high)])
        start = near if isinstance(near, int | float) and near else self.rng.choice([0.1, 0.5, 1.0])
        return min(max(float(f"{start * self._factor():.4g}"), low), high)

    def _whole(self, node: Node, near: Any) -> int:
        low, high = node.get("minimum", 0), node.get("maximum", 10**30)
        if self.temper == "wild":
            return self.rng.choice([low, low, low + 1, high, high, 7, 99, 200, 10**9, 10**25])
        start = near if isinstance(near, int) and near else self.rng.choice([1, 2, 3])
        least = low if self.rng.random() < 0.2 else low + 1
        return min(max(round(start * self._factor()), least), high)

    def _text(self, node: Node, near: Any) -> str:
        if "pattern" not in node:
            some = [*node.get("examples", ()), *([near] if isinstance(near, str) else ())]
            return str(self.rng.choice(some)) if some else "words"
        written = near if isinstance(near, str) else self.rng.choice(node.get("examples", ["1 ft"]))
        factored = FACTORED.search(node.get("description", ""))
        if near is None and factored and "length" in node.get("description", ""):
            written = "3 ft"
        return self.quantity(written)

    def quantity(self, written: str) -> str:
        """A quantity like the one that is written."""
        found = re.match(r"\s*([-+]?[\d.]+(?:e[-+]?\d+)?)\s*(.*)", written)
        if found is None or "/" in written.split(" ")[0]:
            return written
        size, unit = float(found[1]), found[2]
        if self.temper == "wild":
            largest = [d.largest for d in DIMENSIONS.values() if unit in d.units or unit == d.si]
            size = self._wild(0.0, (largest or [1e9])[0])
            return f"{self.rng.choice([size, size, size, -size, 1.0, 3.0])!r} {unit}"
        if size == 0.0:
            size = self.rng.choice([0.0, 1.0])
        return f"{size * self._factor():.4g} {unit}"


def places(node: Node, table: dict[str, Any], path: tuple[Any, ...] = ()) -> list[Any]:
    """(path, node) of every key that a table has or might have, its inner tables' too."""
    found: list[Any] = []
    for key, part in kind_of(node, table).get("properties", {}).items():
        found.append(((*path, key), part))
        inner = table.get(key)
        if isinstance(inner, dict):
            found += places(part, inner, (*path, key))
        elif isinstance(inner, list):
            items = settled(part).get("items")
            for number, item in enumerate(inner):
                if items and isinstance(item, dict):
                    found += places(items, item, (*path, key, number))
    return found


def at(table: Any, path: tuple[Any, ...]) -> Any:
    """What stands at a path; None if nothing does."""
    for key in path:
        try:
            table = table[key]
        except (KeyError, IndexError, TypeError):
            return None
    return table


def put(table: Any, path: tuple[Any, ...], value: Any) -> None:
    """Set what stands at a path whose last step may be new."""
    for step in path[:-1]:
        if isinstance(table, dict):
            table = table.setdefault(step, {})
        else:
            table = table[step]
    table[path[-1]] = value
