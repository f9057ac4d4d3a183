"""One case of the fuzz from its seed: which inputs there are and what stands in them."""

from __future__ import annotations

import copy
import random
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from fuzz_schema import DECADES, Drawer, at, choices, kind_of, places, put, schema, settled
from fuzz_text import ODD, broken, inline, misspelt, toml, torn

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.examples import names, text
from soundergate.scenario.loading import from_table
from soundergate.scenario.register import register

KINDS = {
    "scenario": 64, "path": 13, "vary": 8, "study": 8, "season": 2, "record": 3, "store": 2,
}  # fmt: skip
"""Kinds of input, and of a hundred cases how many are of each: few of those that take long."""

TEMPERS = {"calm": 32, "bold": 14, "wild": 12, "edge": 16, "broken": 20, "torn": 6}
"""How a table is changed: by values that could be meant, or by what cannot be. "edge" keeps of bold
and wild changes those with which the file still loads, and goes to the very bounds that are named
where it does not: extremes that are taken, several together."""


@dataclass(frozen=True)
class Case:
    """What a user gives. ``scenario`` is the text of a scenario file; ``more`` goes with it."""

    seed: int
    kind: str
    temper: str
    scenario: str
    more: dict[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        told = [f"--- seed {self.seed}: {self.kind}, {self.temper}", self.scenario]
        for name, value in self.more.items():
            told += [f"--- {name}", value if isinstance(value, str) else repr(value)]
        return "\n".join(told)


def case(seed: int) -> Case:
    """The case of this seed: the same on every machine."""
    rng = random.Random(seed)
    kind = rng.choices([*KINDS], [*KINDS.values()])[0]
    temper = rng.choices([*TEMPERS], [*TEMPERS.values()])[0]
    return _MAKERS[kind](seed, kind, temper, rng)


@cache
def _examples() -> dict[str, dict[str, Any]]:
    return {name: tomllib.loads(text(name)) for name in names()}


def base(rng: random.Random) -> dict[str, Any]:
    """A whole scenario: an example, two of them in one, or one drawn from the schema alone."""
    chance = rng.random()
    if chance < 0.1:
        drawn = Drawer(rng).value(schema() | {"type": "object"})
        drawn["sounder"] = {"sows": 1, **drawn["sounder"]}
        return drawn
    table = copy.deepcopy(rng.choice([*_examples().values()]))
    if chance < 0.5:
        other = copy.deepcopy(rng.choice([*_examples().values()]))
        for name in rng.sample(sorted(other), min(2, len(other))):
            table[name] = other[name]
    return table


def retuned(table: dict[str, Any], rng: random.Random, temper: str) -> dict[str, Any]:
    """The table with some keys given other values that the schema allows."""
    table = copy.deepcopy(table)
    draw = Drawer(rng, temper)
    for _ in range(rng.choice([1, 2, 3, 5, 8]) if temper != "wild" else rng.choice([1, 1, 2, 3])):
        found = places(schema(), table)
        sections = sorted({path[0] for path, _ in found})
        section = rng.choice(sections)
        if section in ("opening", "trigger") and rng.random() < 0.5:
            section = rng.choice(sections)  # so that steel is not all that is tried
        path, node = rng.choice([one for one in found if one[0][0] == section])
        near = at(table, path)
        if len(path) == 1 and isinstance(near, dict) and path[0] != "trigger":
            continue
        if len(path) == 1 and path[0] == "opening":
            put(table, path, _openings(near, rng))
        elif isinstance(near, dict) and len(choices(node)) > 1 and rng.random() < 0.5:
            put(table, path, near | draw.table(kind_of(node, near), near))
        else:
            put(table, path, draw.value(node, near))
    return table


def _openings(near: Any, rng: random.Random) -> list[Any]:
    """Fewer or more ways in, of the examples' or those that are there."""
    some = [*near, *rng.choice([*_examples().values()])["opening"]]
    return [copy.deepcopy(rng.choice(some)) for _ in range(rng.choice([1, 2, 3]))]


def edged(table: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """The table with extremes that are taken."""
    for _ in range(rng.choice([1, 2, 4, 7])):
        tried = retuned(table, rng, rng.choice(["bold", "wild"]))
        for _ in range(3):
            error = refusal(tried)
            if error is None:
                table = tried
                break
            if not _to_the_bound(tried, error, rng):
                break
    return table


def refusal(table: dict[str, Any]) -> ScenarioError | None:
    """Why a table is no scenario; None if it is one."""
    try:
        from_table(table)
    except ScenarioError as error:
        return error
    return None


BOUND = re.compile(r"(above|at least|below|at most) (-?[\d.]+(?:e[-+]?\d+)?)( [^\s,;]+)?")


def _to_the_bound(table: dict[str, Any], error: ScenarioError, rng: random.Random) -> bool:
    """Set what was refused to a bound that the message names, or just within it."""
    bounds = BOUND.findall(f"{error.problem} {error.hint}")
    path = tuple(int(step) - 1 if step.isdigit() else step for step in (error.key or "").split("."))
    if not bounds or at(table, path) is None:
        return False
    how, size, unit = rng.choice(bounds)
    number = float(size)
    within = {"above": 1 + 1e-9, "below": 1 - 1e-9}.get(how, 1.0)
    number = number * within if number else rng.choice([1e-300, 1e-9, 1e-3]) * (within > 1)
    if isinstance(at(table, path), str):
        put(table, path, f"{number!r}{unit}")
    else:
        put(table, path, int(number) if isinstance(at(table, path), int) else number)
    return True


def changed(table: dict[str, Any], rng: random.Random, temper: str) -> dict[str, Any]:
    """The table after what this temper does to it."""
    if temper in ("broken", "torn"):
        table = retuned(table, rng, "calm") if rng.random() < 0.3 else table
        return broken(table, rng, rng.choice([1, 1, 1, 2, 4])) if temper == "broken" else table
    return edged(table, rng) if temper == "edge" else retuned(table, rng, temper)


def scenario_text(rng: random.Random, temper: str) -> str:
    """A scenario file."""
    written = toml(changed(base(rng), rng, temper))
    return torn(written, rng) if temper == "torn" else written


def _scenario(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    return Case(seed, kind, temper, scenario_text(rng, temper))


def _season(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    """A scenario whose weeks, prices and property are changed, and little else."""
    table = copy.deepcopy(_examples()["weeks"] if rng.random() < 0.6 else base(rng))
    draw = Drawer(rng, plain(temper, rng) if temper not in ("broken", "torn") else "calm")
    for name in ("campaign", "costs", "population", "training"):
        if rng.random() < 0.7:
            whole = kind_of(schema()["properties"][name], {})
            near = table.get(name, {})
            table[name] = near | draw.table(whole, near)
    if temper == "broken":
        part = {k: v for k, v in table.items() if k in ("campaign", "costs", "population")}
        table |= broken(part, rng, rng.choice([1, 1, 2])) if part else {}
    written = toml(table)
    written = torn(written, rng) if temper == "torn" else written
    vary = [_vary(rng, table)] if rng.random() < 0.3 else []
    a_year = rng.choice([None, None, 0, 1, 6, 0.5, 10_000, -1, 1e300, float("nan")])
    return Case(seed, kind, temper, written, {"vary": vary, "campaigns_a_year": a_year})


def dotted(rng: random.Random, table: dict[str, Any]) -> tuple[str, Any]:
    """A dotted path and the schema of what stands there (None for a path that leads nowhere)."""
    chance = rng.random()
    if chance < 0.25:
        return rng.choice(sorted(register())), None
    path, node = rng.choice(places(schema(), table))
    steps = [str(step + 1) if isinstance(step, int) else step for step in path]
    if rng.random() < 0.5:
        steps = [step for step in steps if not step.isdigit()]
    if chance > 0.85:
        place = rng.randrange(len(steps))
        steps[place] = rng.choice(
            [misspelt(steps[place], rng), "0", "1", "13", "-1", "drop", "person", "median", "any"]
        )
        node = None
    return ".".join(steps), node


def plain(temper: str, rng: random.Random) -> str:
    """The temper of a single value."""
    return temper if temper in DECADES else rng.choice(["bold", "wild", "wild"])


def _value(rng: random.Random, node: Any, temper: str) -> Any:
    if node is None or temper in ("broken", "torn"):
        return copy.deepcopy(rng.choice(ODD))
    return Drawer(rng, plain(temper, rng)).value(settled(node))


def _path(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    table = base(rng)
    values = {}
    for _ in range(rng.choice([1, 1, 2, 4])):
        path, node = dotted(rng, table)
        values[path] = _value(rng, node, temper)
    return Case(seed, kind, temper, toml(table), {"values": values})


def _vary(rng: random.Random, table: dict[str, Any], temper: str = "calm") -> str:
    path, node = dotted(rng, table)
    some = [_value(rng, node, temper) for _ in range(rng.choice([1, 2, 2, 3]))]
    written = [v if isinstance(v, str) and rng.random() < 0.7 else inline(v) for v in some]
    told = f"{path}={','.join(written)}"
    if temper in ("broken", "torn"):
        return rng.choice(
            [told, told, path, f"={path}", f"{path}=", f"{told},", told.replace("=", "==", 1),
             told.replace(",", ",,"), f"{path}={{", f"{path}=[,]", f"{path}='", "", "=", ",",
             f"{path}={','.join(map(str, range(300)))}", told[::-1], f"{told}]", f" {told} "]
        )  # fmt: skip
    return told


def _varied(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    table = base(rng)
    vary = [_vary(rng, table, temper) for _ in range(rng.choice([1, 1, 2, 3]))]
    return Case(seed, kind, temper, toml(table), {"vary": vary})


def _study(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    """A study file beside the scenario ``base.toml``."""
    table = base(rng)
    value_temper = "calm" if temper in ("broken", "torn") else temper

    def values() -> dict[str, Any]:
        found = {}
        for _ in range(rng.choice([0, 1, 1, 2])):
            path, node = dotted(rng, table)
            found[path] = _value(rng, node, value_temper)
        return found

    words = ["one", "two", "three", "four"]
    study: dict[str, Any] = {"base": "base.toml", "nights": rng.choice([1, 2, 3, 8])}
    maybe: dict[str, Callable[[], Any]] = {
        "title": lambda: "Invented",
        "set": values,
        "seed": lambda: rng.choice([0, 1, 7, 2**63 - 1, 2**64, -1]),
        "level": lambda: rng.choice([0.5, 0.95, 0.999, 0, 1, 1e-300]),
        "against": lambda: rng.choice(["one", "two", ["one", "two"], "nobody", [], ["one"] * 3]),
        "measures": lambda: rng.choice([["caught"], ["caught", "whole_group"], [], ["pigs"]]),
        "save_nights": lambda: rng.random() < 0.5,
        "arm": lambda: [
            {"name": name, "set": values()}
            | ({"file": rng.choice(["base.toml", "none.toml", "", "."])} if chance < 0.1 else {})
            for name in words[: rng.choice([1, 2, 2, 4])]
            for chance in [rng.random()]
        ],
        "across": lambda: [{"name": name, "set": values()} for name in ("dry", "wet")],
        "factors": lambda: {
            path: [_value(rng, node, value_temper) for _ in range(rng.choice([1, 2]))]
            for path, node in [dotted(rng, table)]
        },
        "robust": lambda: (
            {"worlds": rng.choice([2, 3]), "nights": rng.choice([1, 2])}
            | ({"only": rng.choice([["entry"], ["entry.clock"], [], ["zebra"]])})
        ),
    }
    likely = {"arm": 0.8, "across": 0.15, "factors": 0.4, "robust": 0.12}
    for name, make in maybe.items():
        if rng.random() < likely.get(name, 0.25):
            study[name] = make()
    if rng.random() < 0.1:
        study["precision"] = rng.choice([0.4, {"caught": 5.0}, 0, -1, "x", {"pigs": 1}, {}])
    study = broken(study, rng, rng.choice([1, 1, 2])) if temper == "broken" else study
    written = toml(study)
    return Case(
        seed, kind, temper, toml(table),
        {"study": torn(written, rng) if temper == "torn" else written},
    )  # fmt: skip


def _record(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    """A run.json with so many things done to it: made when it is played, from this seed."""
    of = rng.choice(["run", "compare", "study"])
    return Case(seed, kind, temper, "", {"of": of, "times": rng.choice([0, 1, 1, 2, 4])})


def _store(seed: int, kind: str, temper: str, rng: random.Random) -> Case:
    """Stores of several runs mixed: made when it is played, from this seed."""
    return Case(seed, kind, temper, "", {"times": rng.choice([1, 1, 2, 3])})


_MAKERS: dict[str, Callable[[int, str, str, random.Random], Case]] = {
    "scenario": _scenario,
    "path": _path,
    "vary": _varied,
    "study": _study,
    "season": _season,
    "record": _record,
    "store": _store,
}
