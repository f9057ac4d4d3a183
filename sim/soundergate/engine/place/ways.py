"""A straight way and a straight piece of line: on which side, whether they meet, and where.

Shared by both engines. Metres from the middle of the corral, seen from above. The carrying line of
a piece parts the ground in two; an animal keeps the side on which it last stood as a whole number,
so that one that stops on the very line, give or take a rounding, neither touches it twice nor walks
through it untouched.
"""

from __future__ import annotations

import math

from soundergate.engine.compiled.decorators import compiled_as

LEAST_SHARE = 2.0**-60
"""Stands for the very beginning of a way that starts on the line: a meeting is at 0 < s <= 1."""


@compiled_as("f8(f8, f8, f8, f8)")
def distance(x0: float, y0: float, x1: float, y1: float) -> float:
    """Metres from one place to another."""
    dx = x1 - x0
    dy = y1 - y0
    return math.sqrt(dx * dx + dy * dy)


@compiled_as("f8(f8, f8, f8, f8, f8, f8)")
def off(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> float:
    """How far a place lies off the line through a and b, times the length of the piece (m^2).

    Positive to the left of one who walks from a to b.
    """
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax)


@compiled_as("i8(f8, f8, f8, f8, f8, f8)")
def side_of(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> int:
    """1 to the left of the line from a to b, 0 to the right of it and on it."""
    return 1 if off(x, y, ax, ay, bx, by) > 0.0 else 0


@compiled_as("f8(f8, f8, f8, f8, f8, f8, f8, f8, i8)")
def passes(
    x0: float, y0: float, x1: float, y1: float, ax: float, ay: float, bx: float, by: float,
    side: int,
) -> float:  # fmt: skip
    """Share of the way 0 to 1 at which it passes the line through a and b; inf if it does not.

    ``side`` is the side from which it comes, which decides where its first place lies on the line
    within a rounding.
    """
    end = off(x1, y1, ax, ay, bx, by)
    if (1 if end > 0.0 else 0) == side:
        return math.inf
    start = off(x0, y0, ax, ay, bx, by)
    if (1 if start > 0.0 else 0) != side or start == end:
        return LEAST_SHARE
    share = start / (start - end)
    share = share if share < 1.0 else 1.0
    return share if share > LEAST_SHARE else LEAST_SHARE


@compiled_as("b1(f8, f8, f8, f8, f8, f8, f8, f8, f8)")
def on_piece(
    x0: float, y0: float, x1: float, y1: float, ax: float, ay: float, bx: float, by: float,
    share: float,
) -> bool:  # fmt: skip
    """Whether a way is between the ends a and b of the piece at this share of it."""
    px = x0 + (x1 - x0) * share
    py = y0 + (y1 - y0) * share
    ux = bx - ax
    uy = by - ay
    along = (px - ax) * ux + (py - ay) * uy
    return 0.0 <= along <= ux * ux + uy * uy


@compiled_as("f8(f8, f8, f8, f8)")
def share_gone(started: float, takes: float, met: float, now: float) -> float:
    """Share of a way that is behind an animal now, which has met something at ``met`` of it.

    A way that takes no time is behind it as far as that.
    """
    if takes <= 0.0:
        return met
    share = (now - started) / takes
    share = share if share > met else met
    return share if share < 1.0 else 1.0


@compiled_as("f8(f8, f8, f8)")
def between(start: float, end: float, share: float) -> float:
    """A coordinate at this share of a way."""
    return start + (end - start) * share
