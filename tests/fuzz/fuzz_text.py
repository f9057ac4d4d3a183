"""Tables as TOML text, and what hands and editors do to text and tables: keys dropped, renamed or
doubled, values of another type, lists for tables, units that are none, nesting without end."""

from __future__ import annotations

import copy
import datetime
import json
import random
import re
from collections.abc import Callable
from typing import Any

BARE = re.compile(r"[A-Za-z0-9_-]+")

ODD = (
    0,
    1,
    -1,
    2,
    10**9,
    10**30,
    -(10**25),
    2**63,
    0.0,
    -0.0,
    0.5,
    1e-300,
    1e300,
    -1e300,
    float("nan"),
    float("inf"),
    float("-inf"),
    True,
    False,
    "",
    " ",
    "x",
    "never",
    "0",
    "1",
    "nan",
    "nan s",
    "inf ft",
    "1e999 ft",
    "-1 ft",
    "1e-300 s",
    "1e300 m",
    "0 ft",
    "0 s",
    "0 lbf",
    "0 kg",
    "4 feet",
    "4 furlong",
    "4 parsec",
    "4 zorkmid",
    "4ft",
    "ft 4",
    "ft",
    "4 ft 3 in",
    "4 ft 3",
    "4 ft lbf",
    "4 ft*lbf/(s*ft)",
    "3 kg*m/s^2",
    "4 ft^2/ft",
    "4 ft ft",
    "--4 ft",
    "+4 ft",
    "4,5 ft",
    "4 ft/0",
    "1/0 ft",
    "1/3 ft",
    "4 'ft'",
    "٤ ft",
    "4 °F",
    "-300 degC",
    "0 degF",
    "90 %",
    "4 ft^99",
    "4 1/s",
    "1 / s",
    "4 m**2",
    "5 V",
    "2 T",
    "1 dozen",
    "4 delta_degC",
    "3 °",
    "4 ft\n",
    "4 \u202eft",
    "x" * 300,
    "9" * 200 + " ft",
    "drop",
    "pin",
    "person",
    "animal",
    "none",
    "solenoid",
    "fixed",
    [],
    {},
    [[]],
    [{}],
    [1, 2, 3],
    ["4 ft"],
    [0.0] * 5,
    [1e300] * 5,
    [{"kind": "line"}] * 30,
    {"kind": "drop"},
    {"kind": "nothing"},
    {"dist": "lognormal"},
    {"fixed": "0 s"},
    {"fixed": 0},
    {"dist": "gamma", "mean": "1 s", "cv": 1e-300},
    {"dist": "gamma", "mean": "1 s", "cv": 1e300},
    {"dist": "gamma", "mean": "1e9 s", "cv": 1e4},
    {"dist": "gamma", "shape": 1e-9, "scale": "1 s"},
    {"dist": "weibull", "shape": 1e-6, "scale": "1 s"},
    {"dist": "weibull", "shape": 0, "scale": "1 s"},
    {"dist": "weibull", "shape": 1e6, "scale": "1e9 s"},
    {"dist": "uniform", "low": "9 s", "high": "1 s"},
    {"dist": "uniform", "low": "0 s", "high": "1e10 s"},
    {"dist": "exponential", "mean": "1e10 s"},
    {"dist": "lognormal", "median": "0 s", "sigma": 3},
    {"dist": "lognormal", "median": "1 s", "sigma": 99},
    {"median": "1e-300 s", "sigma": 0},
    {"sigma": 1e300},
    {"sigma": float("nan")},
    {"fixed": "never"},
    {"dist": "cauchy", "median": "1 s"},
    {"dist": "exponential", "mean": "1 s", "sigma": 1},
    datetime.date(2020, 2, 29),
    datetime.time(7, 30),
    datetime.datetime(2020, 1, 1, 0, 0),
)
"""Values that some key somewhere does not expect."""


def toml(table: dict[str, Any]) -> str:
    """A TOML document: plain keys, then tables and lists of tables under headings."""
    lines = [f"{key(k)} = {inline(v)}" for k, v in table.items() if not _headed(v)]
    for name, value in table.items():
        if not _headed(value):
            continue
        for part in value if isinstance(value, list) else [value]:
            lead, end = ("[[", "]]") if isinstance(value, list) else ("[", "]")
            lines += ["", f"{lead}{key(name)}{end}"]
            lines += [f"{key(k)} = {inline(v)}" for k, v in part.items()]
    return "\n".join(lines) + "\n"


def _headed(value: Any) -> bool:
    listed = isinstance(value, list) and value and all(isinstance(item, dict) for item in value)
    return isinstance(value, dict) or bool(listed)


def key(name: str) -> str:
    """A key as TOML writes it."""
    return name if BARE.fullmatch(name) else _quoted(name)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def inline(value: Any) -> str:
    """A value on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key(k)} = {inline(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(inline, value)) + "]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return repr(value)


Holder = tuple[Any, Any]
"""A table or list, and a key or number in it."""


def holders(value: Any) -> list[Holder]:
    """Every place in a table at which something stands."""
    found: list[Holder] = []
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    for name, item in inside:
        found.append((value, name))
        if isinstance(item, dict | list):
            found += holders(item)
    return found


def misspelt(name: str, rng: random.Random) -> str:
    """A key that somebody meant."""
    place = rng.randrange(len(name)) if name else 0
    return rng.choice(
        [
            name[:place] + name[place + 1 :],
            name[:place] + name[place:][:1] * 2 + name[place + 1 :],
            name.upper(), name + "s", name.replace("_", "-"), name.replace("_", " "), "", ".",
            f"{name}.{name}", f" {name}", name[::-1], "ключ", "\u202e" + name, "a" * 400, "kind",
            "dist", "path", "__class__", "model_fields", "_raw", "_source", "self", "0", "-1",
        ]
    )  # fmt: skip


def _drop(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    del table[place]


def _rename(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    if isinstance(table, dict):
        table[misspelt(str(place), rng)] = table.pop(place)
    else:
        table.insert(rng.randrange(len(table) + 1), table.pop(place))


def _double(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    if isinstance(table, dict):
        table[misspelt(str(place), rng)] = copy.deepcopy(table[place])
    else:
        table += [copy.deepcopy(table[place]) for _ in range(rng.choice([1, 2, 12, 60]))]


def _replace(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    table[place] = copy.deepcopy(rng.choice(ODD))


def _wrap(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    item = table[place]
    wrappers: list[Callable[[], Any]] = [
        lambda: [item],
        lambda: [item, item],
        lambda: {"value": item},
        lambda: {"fixed": item},
        lambda: {"median": item},
        lambda: {"median": item, "sigma": rng.choice([0, 0.5, 3, 1e6])},
        lambda: {"dist": "uniform", "low": item, "high": item},
        lambda: str(item),
    ]
    table[place] = rng.choice(wrappers)()


def _unwrap(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    item = table[place]
    if isinstance(item, dict | list) and item:
        table[place] = rng.choice([*item.values()] if isinstance(item, dict) else item)


def _bury(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    item = table[place]
    for _ in range(rng.choice([1, 3, 14, 17, 60])):
        item = [item] if rng.random() < 0.5 else {rng.choice(["a", "kind", "any", "fixed"]): item}
    table[place] = item


def _move(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    other, there = rng.choice(holders(top))
    other[there] = copy.deepcopy(table[place])


def _negate(table: Any, place: Any, rng: random.Random, top: Any) -> None:
    item = table[place]
    if isinstance(item, str):
        table[place] = rng.choice([f"-{item}", item + "s", item.replace(" ", ""), item.upper(),
                                   item.split(" ")[0], f"{item} {item}", f"{item}/ft"])  # fmt: skip
    elif isinstance(item, int | float):
        table[place] = rng.choice([-item, str(item), f"{item} ft"])


BREAKS = (_drop, _rename, _double, _replace, _replace, _wrap, _unwrap, _bury, _move, _negate)


def broken(table: dict[str, Any], rng: random.Random, times: int) -> dict[str, Any]:
    """The table with so many things done to it."""
    table = copy.deepcopy(table)
    for _ in range(times):
        found = holders(table)
        if not found:
            break
        where = rng.choice(found)
        rng.choice(BREAKS)(*where, rng, table)
    return _without_circles(table)


def _without_circles(value: Any, depth: int = 0) -> Any:
    """What was moved into itself ends somewhere."""
    if depth > 70:
        return 0
    if isinstance(value, dict):
        return {str(k): _without_circles(v, depth + 1) for k, v in value.items()}
    return [_without_circles(v, depth + 1) for v in value] if isinstance(value, list) else value


def torn(text: str, rng: random.Random) -> str:
    """A text with some of its lines doubled, left out, swapped or cut."""
    lines = text.split("\n")
    for _ in range(rng.choice([1, 1, 2, 3])):
        i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
        match rng.randrange(5):
            case 0:
                lines.insert(j, lines[i])
            case 1:
                lines[i], lines[j] = lines[j], lines[i]
            case 2 if len(lines) > 1:
                del lines[i]
            case 3:
                lines[i] = lines[i][: rng.randrange(len(lines[i]) + 1)]
            case _:
                lines[i] = lines[i].replace("=", rng.choice(["==", ":", "", "= ="]), 1)
    return "\n".join(lines)
