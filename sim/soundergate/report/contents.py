"""What pages show beside tables: pictures, and where numbers come from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.scenario.register import Entry


@dataclass(frozen=True)
class Picture:
    """A figure, what a screen reader says in its place, and the line under it.

    ``name`` is what the file of it beside the page is called, "" if it is for the page alone.
    """

    figure: Figure
    alt: str
    caption: str
    name: str = ""


@dataclass(frozen=True)
class Source:
    """A value that the answer leans on and where it comes from; plain text throughout."""

    name: str
    value: str
    range: str
    origin: str
    citation: str
    note: str = ""


def source_of(name: str, entry: Entry) -> Source:
    """A default of the register as a row of the page; `name` is its place in the scenario."""
    return Source(
        name,
        _with_unit(entry.value, entry.unit) + (f" × {entry.of}" if entry.of else ""),
        "" if entry.low is None else f"{_plain(entry.low)} to {_with_unit(entry.high, entry.unit)}",
        entry.origin,
        entry.citation,
        entry.note,
    )


def _with_unit(value: Any, unit: str) -> str:
    return f"{_plain(value)} {unit}".strip()


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(_plain(item) for item in value)
    if isinstance(value, float) and math.isinf(value):
        return "never"
    return f"{value:g}".replace("-", "−") if isinstance(value, int | float) else str(value)
