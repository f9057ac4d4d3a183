"""What was measured, what was wanted, and whether it was met."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table


@dataclass(frozen=True)
class Target:
    """A bound to stay on one side of, and a better one to aim for."""

    bound: float
    at_least: bool = False
    aim: float | None = None

    def holds(self, value: float, bound: float) -> bool:
        """Whether a value lies on the right side of a bound."""
        return value >= bound if self.at_least else value <= bound

    def words(self) -> str:
        """Such as "≤ 2.5 (aim 1.8)"."""
        aim = "" if self.aim is None else f" (aim {_plain(self.aim)})"
        return f"{'≥' if self.at_least else '≤'} {_plain(self.bound)}{aim}"

    def verdict(self, value: float) -> str:
        """met, not met, or met but short of the aim."""
        if not self.holds(value, self.bound):
            return "NOT MET"
        if self.aim is not None and not self.holds(value, self.aim):
            return "met, aim not"
        return "met"


@dataclass
class Section:
    """Rows under one heading, printed as soon as they are all there."""

    title: str
    rows: list[dict[str, Any]] = field(default_factory=list)

    def add(
        self, what: str, value: float, unit: str, target: Target | None = None, note: str = ""
    ) -> None:
        """One measured value."""
        self.rows.append(
            {
                "what": what,
                "value": value,
                "unit": unit,
                "target": "" if target is None else target.words(),
                "verdict": "" if target is None else target.verdict(value),
                "note": note,
            }
        )

    def say(self, what: str, note: str) -> None:
        """A row without a value, such as for what is not installed."""
        self.rows.append({"what": what, "value": None, "unit": "", "target": "", "verdict": "",
                          "note": note})  # fmt: skip

    def show(self) -> None:
        """Print the rows to standard output."""
        table = Table(title=self.title, title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
        table.add_column("", no_wrap=True)
        table.add_column("measured", justify="right", no_wrap=True)
        table.add_column("", no_wrap=True)
        table.add_column("target", no_wrap=True)
        table.add_column("", no_wrap=True)
        table.add_column("", overflow="fold")
        for row in self.rows:
            value = "" if row["value"] is None else _number(row["value"])
            table.add_row(row["what"], value, row["unit"], row["target"], row["verdict"],
                          row["note"])  # fmt: skip
        Console(width=132, highlight=False).print(table)


def _plain(bound: float) -> str:
    return f"{bound:,.0f}" if bound >= 1000 else f"{bound:g}"


def _number(value: float) -> str:
    if isinstance(value, int) or abs(value) >= 10_000:
        return f"{value:,.0f}"
    if abs(value) >= 100:
        return f"{value:.0f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"
