"""A lever between puller and latch: force up by its ratio, travel down by the same."""

from __future__ import annotations

from dataclasses import replace

from soundergate.mechanics.model import LatchSolution


def from_puller_end(latch: LatchSolution, ratio: float) -> LatchSolution:
    """The latch as the puller meets it through a lever of ``ratio`` (long arm over short arm).

    The pull needed falls to 1/ratio and the travel grows by ratio, so that no work is gained; the
    pivot's own friction is neglected. A ratio of 1 is a straight line to the latch.

    Raises
    ------
    ValueError : when the ratio is not positive.
    """
    if not ratio > 0.0:
        raise ValueError(f"lever ratio must be positive, got {ratio!r}")
    return replace(
        latch,
        pull_required=latch.pull_required / ratio,
        law=None if latch.law is None else latch.law.scaled(1.0 / ratio),
        trip_travel=latch.trip_travel * ratio,
    )


def longest_ratio(trip_travel: float, stroke: float) -> float:
    """The greatest ratio whose travel a puller of ``stroke`` (m) can still supply.

    ``trip_travel`` (m) is that at the latch; a latch that needs none allows any ratio.
    """
    return stroke / trip_travel if trip_travel > 0.0 else float("inf")
