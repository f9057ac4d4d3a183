"""The two clock expressions, and the look-ups of a closing curve. Nothing else makes a time.

A process has one clock a class of animal. The clock's reading H grows at `speed` a second; a
decision is due when H reaches the decision's threshold. Speeds change only in the one place where
an event settles, so a reading between events is a straight line and a due time is exact.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from soundergate.engine.compiled.decorators import compiled_as, inlined_as

Floats = NDArray[np.float64]


@inlined_as("f8(f8, f8, f8, f8)")
def reading(t0: float, h0: float, speed: float, now: float) -> float:
    """H(now) of a clock that read h0 at t0."""
    value = h0 + speed * (now - t0)
    return value if speed != 0.0 else h0


@inlined_as("f8(f8, f8, f8, f8, f8)")
def due_time(t0: float, h0: float, speed: float, threshold: float, now: float) -> float:
    """When the clock reaches the threshold: never if it stands still, and never before now."""
    goes = speed > 0.0
    when = t0 + (threshold - h0) / (speed if goes else 1.0)
    when = t0 if threshold <= h0 else when
    when = when if when > now else now
    return when if goes and threshold < math.inf else math.inf


@compiled_as("f8(f8[::1], f8)")
def look_up(row: Floats, x: float) -> float:
    """Linear interpolation in a table over an even grid on 0 to 1, ends held.

    Parameters
    ----------
    row : ndarray[G] of float
    x : float
    """
    last = row.shape[0] - 1
    if x <= 0.0:
        return row[0]
    if x >= 1.0:
        return row[last]
    position = x * last
    j = int(position)
    low = row[j]
    high = row[j + 1]
    if low == high or low == math.inf:
        return low
    return low + (position - j) * (high - low)


@compiled_as("f8(f8[:, ::1], f8, f8)")
def look_up_from(table: Floats, start: float, x: float) -> float:
    """The same in a table whose row is the clearance from which the gate was let go at rest.

    Parameters
    ----------
    table : ndarray[G, G] of float
    start, x : float, shares of the full clearance
    """
    last = table.shape[0] - 1
    if start <= 0.0 or x >= start:
        return 0.0
    if start >= 1.0:
        return look_up(table[last], x)
    position = start * last
    i = int(position)
    low = look_up(table[i], x)
    high = look_up(table[i + 1], x)
    if low == high or high == math.inf:
        return high
    if low == math.inf:
        return low
    return low + (position - i) * (high - low)


@compiled_as("i8(f8, f8, f8)")
def first_look(start: float, frame: float, now: float) -> int:
    """The number of the first look, at start + j * frame, that is not before now."""
    if now <= start:
        return 0
    j = math.floor((now - start) / frame)
    while start + j * frame < now:
        j += 1
    while j > 0 and start + (j - 1) * frame >= now:
        j -= 1
    return j


@compiled_as("f8(f8[:, ::1], i8, f8, f8)")
def release_from(rule: Floats, seen: int, began: float, now: float) -> float:
    """The first instant from now on at which a person who counts ``seen`` would release.

    Parameters
    ----------
    rule : ndarray[K, 2] of float
        Seconds since watching began, and the least count to release at from then on (tonight's).
    """
    needed = math.inf
    later = math.inf
    for step in range(rule.shape[0]):
        at = began + rule[step, 0]
        if at <= now:
            needed = rule[step, 1]
        elif seen >= rule[step, 1] and at < later:
            later = at
    return now if seen >= needed else later


@compiled_as("f8(f8[:, ::1], i8, f8, f8, f8)")
def acting_look(rule: Floats, seen: int, began: float, frame: float, now: float) -> float:
    """Time of the first look from now on at which the person would release, as things stand.

    A rule may ask for more again later on, so a look after the rule is first met may miss it.
    """
    when = release_from(rule, seen, began, now)
    for _ in range(rule.shape[0] + 1):
        if when == math.inf:
            break
        look = began + first_look(began, frame, when) * frame
        when = release_from(rule, seen, began, look)
        if when == look:
            return look
    return math.inf
