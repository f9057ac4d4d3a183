"""One part of what `check` tells: sentences, tables, pictures; and how its cells are worded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite, isnan
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.numbers_in_words import percent
from soundergate.report.words.numbers import NONE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.report.tables.table import Table


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


def share_cell(share: float) -> str:
    """A probability in few letters: ">99.9 %"."""
    return percent(share).replace("over ", ">").replace("under ", "<")


def ratio_cell(ratio: float) -> str:
    return NONE if isnan(ratio) else f"{ratio:.3g}"


def seconds_cell(time: float, never: str) -> str:
    return f"{time:.2f} s" if isfinite(time) else never


def not_built(why: Sequence[str], settings: Sequence[str]) -> list[str]:
    """A sentence for each reason why some settings cannot be built, naming them."""
    reasons: dict[str, list[str]] = {}
    for reason, setting in zip(why, settings, strict=True):
        if reason:
            reasons.setdefault(reason, []).append(setting)
    return [f"Not at {', '.join(named)}: {reason}." for reason, named in reasons.items()]
