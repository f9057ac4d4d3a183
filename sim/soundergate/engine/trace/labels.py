"""A night that is written down, in words: names, times, and how it ended."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from soundergate.engine import codes


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


def outcome_words(
    row: Mapping[str, Any], standing: Iterable[str] = (), a_way_stays_open: bool = False
) -> str:
    """The outcome of a night in one sentence, from its row.

    ``standing`` holds the fates of those that stand in the open trap at the check: their fate
    counts them among the escaped, but none of them has got out.
    """
    still = Counter(standing)
    size, caught, released = int(row["group_size"]), int(row["caught"]), row.get("released", True)
    during = int(row["escaped_during"]) - still[codes.ESCAPED_DURING]
    after, before = int(row["escaped_after"]), int(row["escaped_before"])
    before -= still[codes.ESCAPED_BEFORE]
    parts = [f"{caught} of {size} caught"]
    if still:
        number = still.total()
        stand, are = ("stands", "is") if number == 1 else ("stand", "are")
        parts.append(f"{number} {stand} in the open trap at the check and {are} not caught")
    if during + after and not released:
        parts.append(f"{during + after} went in and got out again")
    elif during + after:
        parts.append(" and ".join(_escape_words(during, after, a_way_stays_open)))
    if before:
        # where a way stays open, one that came in after the release may have left by it
        when = " before the release" if released and not a_way_stays_open else ""
        parts.append(f"{before} went in and left{when}")
    if row["never_entered"]:
        parts.append(f"{int(row['never_entered'])} never went in")
    return "; ".join(parts) + "."


def _escape_words(during: int, after: int, a_way_stays_open: bool) -> list[str]:
    how = "got out after the release" if a_way_stays_open else "escaped before it was shut"
    said = [f"{during} {how}"] if during else []
    return [*said, f"{after} got out after it was shut"] if after else said
