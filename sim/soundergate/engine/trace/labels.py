"""A night that is written down, in words: names, times, and how it ended."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any


def labels(classes: Iterable[str]) -> list[str]:
    """Names for animals of the given classes in order: "sow 1", "sow 2", "juvenile 1"."""
    seen: Counter[str] = Counter()
    names = []
    for name in classes:
        seen[name] += 1
        names.append(f"{name} {seen[name]}")
    return names


def clock(seconds: float) -> str:
    """Time since the trap was set as h:mm:ss.s, for example 5025.34 s as "1:23:45.3"."""
    tenths = round(abs(seconds) * 10)
    minutes, tenths = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    sign = "-" if seconds < 0 and (hours or minutes or tenths) else ""
    return f"{sign}{hours}:{minutes:02d}:{tenths // 10:02d}.{tenths % 10}"


def outcome_words(row: Mapping[str, Any]) -> str:
    """The outcome of a night in one sentence, from its row."""
    size, caught = int(row["group_size"]), int(row["caught"])
    during, after = int(row["escaped_during"]), int(row["escaped_after"])
    parts = [f"{caught} of {size} caught"]
    if during + after and not row.get("released", True):
        parts.append(f"{during + after} went in and got out again")
    elif during + after:
        parts.append(" and ".join(_escape_words(during, after)))
    if row["escaped_before"]:
        when = " before the release" if row.get("released", True) else ""
        parts.append(f"{int(row['escaped_before'])} went in and left{when}")
    if row["never_entered"]:
        parts.append(f"{int(row['never_entered'])} never went in")
    return "; ".join(parts) + "."


def _escape_words(during: int, after: int) -> list[str]:
    said = [f"{during} escaped before it was shut"] if during else []
    return [*said, f"{after} got out after it was shut"] if after else said
