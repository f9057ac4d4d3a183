"""How a trap fills: the number inside over time, over some nights that are played again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from soundergate.report import style
from soundergate.report.quantities import group_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.engine.trace.trace import Trace


def inside_over_time(
    traces: Sequence[Trace], ax: Axes | None = None, quantiles: tuple[float, float] = (0.1, 0.9)
) -> Axes:
    """Number inside over the time since each night's first arrival: mean and quantiles.

    A tick along the top marks the release of each night that had one. Nights without an arrival
    are left out. After the night's last event the number stays what it was.
    """
    nights = nights_with_pigs(traces)
    with style.sheet():
        ax = style.axes_of(ax, 2.8)
        if not nights:
            ax.text(0.5, 0.5, "no animal came", transform=ax.transAxes, ha="center")
            return ax
        last = end_of_course(nights)
        draw_course(ax, nights, last, quantiles)
        sizes = [t.group_size for t in nights]
        ax.set_ylim(0, max(sizes) * 1.12)
        ax.set_xlim(0, last / 60)
        ax.set_xlabel("time since the first arrival (min)")
        ax.set_ylabel(f"animals inside ({group_words(min(sizes), max(sizes))})")
        ax.legend(loc="lower left", bbox_to_anchor=(0, 1.06), ncols=4)
    return ax


def nights_with_pigs(traces: Sequence[Trace]) -> list[Trace]:
    """The nights on which an animal came."""
    return [t for t in traces if any(event.kind == "arrives" for event in t.events)]


def end_of_course(nights: Sequence[Trace]) -> float:
    """Seconds since the first arrival after which little happens inside."""
    moves = [t.inside_steps()[-1][0] - t.first_arrival for t in nights]
    return max(float(np.quantile(moves, 0.9)) * 1.15, 60.0)


def draw_course(
    ax: Axes,
    nights: Sequence[Trace],
    last: float,
    quantiles: tuple[float, float] = (0.1, 0.9),
    points: int = 600,
) -> None:
    """The curves, marks and grid of `inside_over_time`, up to `last` seconds."""
    minutes, inside = _courses(nights, last, points)
    low, high = np.quantile(inside, quantiles, axis=0)
    at = _changes(low, high)
    ax.fill_between(
        minutes[at],
        low[at],
        high[at],
        step="post",
        facecolor=style.PALE_BLUE,
        edgecolor=style.BLUE,
        linewidth=0.5,
        alpha=0.7,
        label=f"{100 * quantiles[0]:.0f} to {100 * quantiles[1]:.0f} % of nights",
    )
    mean = inside.mean(axis=0)
    at = _changes(mean)
    ax.step(minutes[at], mean[at], where="post", color=style.BLUE, linewidth=2, label="mean")
    releases = [
        (t.release_time - t.first_arrival) / 60 for t in nights if t.release_time is not None
    ]
    _release_rug(ax, releases, len(nights), last / 60)
    size = max(t.group_size for t in nights)
    ax.axhline(size, color=style.MUTED, linestyle=":", linewidth=0.9)
    ax.grid()


def _courses(nights: Sequence[Trace], last: float, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Minutes (points,) since the first arrival and the number inside (nights, points) at each."""
    grid = np.linspace(0.0, last, points)
    inside = np.empty((len(nights), len(grid)))
    for row, trace in enumerate(nights):
        times, counts = zip(*trace.inside_steps(), strict=True)
        since = np.asarray(times) - trace.first_arrival
        inside[row] = np.asarray(counts)[np.searchsorted(since, grid, side="right") - 1]
    return grid / 60, inside


def _changes(*curves: np.ndarray) -> np.ndarray:
    """Where any of some steps changes, and both ends: all that a drawing of them needs."""
    changed = np.any([np.diff(curve, prepend=np.nan) != 0 for curve in curves], axis=0)
    changed[-1] = True
    return np.flatnonzero(changed)


def _release_rug(ax: Axes, releases: Sequence[float], nights: int, last: float) -> None:
    """A tick above the axes for each release (min) up to `last`, a line at the median of all."""
    if not releases:
        return
    shown = [time for time in releases if time <= last]
    ax.plot(
        shown,
        np.full(len(shown), 1.03),
        "|",
        color=style.ORANGE,
        markersize=8,
        transform=ax.get_xaxis_transform(),
        clip_on=False,
        label=f"release ({len(releases)} of {nights} nights)",
    )
    middle = float(np.median(releases))
    ax.axvline(middle, color=style.INK, linestyle="--", linewidth=1.2, label="median release")
