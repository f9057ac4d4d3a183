#!/usr/bin/env python3
"""The tables of the studies' READMEs, as results_demo has the numbers.

    python experiments/tables.py            print the tables of every study
    python experiments/tables.py update     write them into the READMEs

A table stands in a README between the lines <!-- table: NAME --> and <!-- end -->.
"""

from __future__ import annotations

import csv
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
RESULTS = HERE.parent / "results_demo"
MARK = re.compile(r"<!-- table: (\S+) -->\n.*?<!-- end -->", re.DOTALL)
ARMS = (
    ("fraction_caught", 100, "caught, % of the group"),
    ("whole_group", 100, "whole group, % of nights"),
    ("released", 100, "gate closed, % of nights"),
    ("escaped", 1, "escaped, pigs a night"),
)


def rows_of(name: str, file: str) -> list[dict[str, str]]:
    """The rows of a CSV file of a study's results."""
    with (RESULTS / name / file).open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def arms(name: str) -> str:
    """One row an arm: what it catches, with intervals."""
    found: dict[str, dict[str, dict[str, str]]] = {}
    for row in rows_of(name, "summary.csv"):
        found.setdefault(row["arm"], {})[row["measure"]] = row
    body = [
        [arm, *(_cell(measures[measure], factor) for measure, factor, _ in ARMS)]
        for arm, measures in found.items()
    ]
    return _table(["setup", *(words for _, _, words in ARMS)], body)


def worlds(name: str) -> str:
    """One row a pair: in how many plausible worlds the first catches more, and by how much."""
    body = [
        [
            _pair(row["a"], row["b"]),
            f"{100 * float(row['share']):.0f} % ({_range(row['low'], row['high'], 100, 0)})",
            f"{100 * float(row['clear_more']):.0f} %",
            f"{100 * float(row['clear_less']):.0f} %",
            f"{_signed(row['mean'])} ({_signed(row['mean_low'])} to {_signed(row['mean_high'])})",
            f"{_signed(row['q05'])} to {_signed(row['q95'])}",
        ]
        for row in rows_of(name, "robust.csv")
        if row["measure"] == "fraction_caught"
    ]
    head = ["difference", "catches more in", "clearly more", "clearly less"]
    return _table([*head, "mean, points of the group", "nine worlds of ten"], body)


def unknowns(name: str) -> str:
    """The unknowns most worth knowing before one chooses between all setups of a study."""
    body = [
        [f"`{row['unknown']}`", f"{100 * float(row['evppi']):.2f}", _yes(row["shown"])]
        for row in rows_of(name, "unknowns.csv")[:5]
        if 100 * float(row["evppi"]) >= 0.005
    ]
    return _table(["unknown", "worth, points of the group", "more than chance"], body)


CAMPAIGNS = (
    ("fraction_caught", 100, "caught, % of the group"),
    ("whole_group", 100, "whole group, % of campaigns"),
    ("moved_away", 100, "moved away, % of campaigns"),
    ("nights", 1, "nights"),
    ("visits", 1, "visits"),
)


def season(name: str) -> str:
    """One row a setup: what its campaigns catch and take, and what a pig costs, with intervals."""
    found: dict[str, dict[str, dict[str, str]]] = {}
    for row in rows_of(name, "summary.csv"):
        found.setdefault(row["setup"], {})[row["measure"]] = row
    record = json.loads((RESULTS / name / "season.json").read_text(encoding="utf-8"))
    costs = {one["name"]: one["costs"] for one in record["setups"]}
    body = [
        [
            setup,
            *(_cell(measures[measure], factor) for measure, factor, _ in CAMPAIGNS),
            _cell(costs[setup]["cost_per_pig"], 1),
        ]
        for setup, measures in found.items()
    ]
    money = next(iter(costs.values()))["currency"]
    return _table(["setup", *(words for _, _, words in CAMPAIGNS), f"{money} a pig"], body)


TABLES: dict[str, Callable[[str], str]] = {
    "arms": arms, "worlds": worlds, "unknowns": unknowns, "season": season,
}  # fmt: skip


def filled(text: str) -> str:
    """A README with each of its tables as results_demo has the numbers now."""

    def table(found: re.Match[str]) -> str:
        kind, name = found[1].split(":")
        return f"<!-- table: {found[1]} -->\n\n{TABLES[kind](name)}\n<!-- end -->"

    return MARK.sub(table, text)


def _pair(a: str, b: str) -> str:
    """The two of a difference; what they share is said once."""
    ours, theirs = a.split(", "), b.split(", ")
    shared = [one for one, other in zip(ours, theirs, strict=False) if one == other]
    left, right = (", ".join(p for p in parts if p not in shared) for parts in (ours, theirs))
    return f"{', '.join(shared)}: {left} − {right}" if shared else f"{a} − {b}"


def _cell(row: dict[str, str], factor: float) -> str:
    digits = 1 if factor == 100 else 2
    span = _range(row["low"], row["high"], factor, digits)
    return f"{factor * float(row['estimate']):.{digits}f} ({span})"


def _range(low: str, high: str, factor: float, digits: int) -> str:
    return " to ".join(f"{factor * float(end):.{digits}f}" for end in (low, high))


def _signed(value: str) -> str:
    return f"{100 * float(value):+.2f}".replace("-", "−")


def _yes(value: str) -> str:
    return {"True": "yes", "False": "no"}[value]


def _table(head: list[str], body: list[list[str]]) -> str:
    lines = [head, ["---"] * len(head), *body]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def main(arguments: list[str]) -> int:
    if arguments not in ([], ["update"]):
        print(__doc__)
        return 2
    for readme in sorted(HERE.glob("*/README.md")):
        text = readme.read_text(encoding="utf-8")
        if arguments:
            readme.write_text(filled(text), encoding="utf-8")
        for found in MARK.finditer(filled(text)):
            print(found[0])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
