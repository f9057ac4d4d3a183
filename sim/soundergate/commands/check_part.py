"""One part of what `check` tells: sentences, tables, pictures; and how its cells are worded."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.sentences import percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Table:
    """Title, columns and rows, all text; ``right`` numbers the columns of figures."""

    title: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    unbroken: Sequence[int] = (0,)
    right: Sequence[int] = ()


_FIGURE = re.compile(r"([<>]?-?[\d.]+)(?: (\S+))?")


def slim(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """The table with a unit that all figures of a column share moved to its head.

    "22.5 lbf" becomes "22.5" below "load" and "(lbf)", so that the table fits a narrow window.
    """
    heads, cells, right = list(columns), [list(row) for row in rows], []
    for place in range(len(heads)):
        figures = [_FIGURE.fullmatch(row[place]) for row in cells]
        found = [match for match in figures if match]
        units = {match[2] for match in found}
        if not found or len(units) > 1:
            continue
        right.append(place)
        unit = units.pop()
        whole = f"{heads[place]} ({unit})" if unit else heads[place]
        heads[place] = whole.replace(" ", "\n", 1)
        for row, match in zip(cells, figures, strict=True):
            row[place] = match[1] if match else row[place]
    words = [place for place in range(len(heads)) if place not in right]
    return Table(title, heads, cells, words, right)


@dataclass(frozen=True)
class Part:
    """The answer in sentences, its tables, the same in SI for other programs, and its pictures."""

    key: str
    answer: tuple[str, ...]
    tables: tuple[Table, ...]
    data: Any
    draw: Callable[[], dict[str, Figure]] = field(repr=False)


def titled(title: str, name: str) -> str:
    return f"{title}, {name}" if name else title


def file_stem(stem: str, name: str) -> str:
    return f"{stem}_{name.split()[-1]}" if name else stem


def sentence(text: str, name: str) -> str:
    return f"{name.capitalize()}: {text}" if name else text[:1].upper() + text[1:]


def shown_share(share: float) -> str:
    """A probability in few letters: ">99.9 %"."""
    return percent(share).replace("over ", ">").replace("under ", "<")


def shown_seconds(time: float, never: str) -> str:
    return f"{time:.2f} s" if isfinite(time) else never


def not_built(why: Sequence[str], settings: Sequence[str]) -> list[str]:
    """A sentence for each reason why some settings cannot be built, naming them."""
    reasons: dict[str, list[str]] = {}
    for reason, setting in zip(why, settings, strict=True):
        if reason:
            reasons.setdefault(reason, []).append(setting)
    return [f"Not at {', '.join(named)}: {reason}." for reason, named in reasons.items()]
