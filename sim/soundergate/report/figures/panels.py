"""Several setups side by side as small panels that share their axes, one panel a setup."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.report import style
from soundergate.report.figures.course import draw_course, end_of_course, nights_with_pigs
from soundergate.report.figures.estimates import draw_catches, wrapped
from soundergate.report.quantities import group_words, tally_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.engine.trace.trace import Trace
    from soundergate.studies.estimate import RunResult

MOST_PANELS = 24
_COLUMNS = 3


def caught_panels(arms: Mapping[str, Outcomes | RunResult]) -> Figure:
    """Share of nights by number caught, a panel an arm; hatched where that was the whole group."""
    from matplotlib.ticker import MaxNLocator

    tallies = {name: tally_of(item) for name, item in arms.items()}
    with _grid(list(tallies)) as (figure, panels):
        tallest = [
            draw_catches(ax, tally, 0.8) for ax, tally in zip(panels, tallies.values(), strict=True)
        ]
        for ax, tally in zip(panels, tallies.values(), strict=True):
            mean, whole = tally.moments["caught"].mean, tally.moments["whole_group"].mean
            _note(ax, f"mean {mean:.1f}; whole group {100 * whole:.0f} %")
            ax.set_ylim(0, max(1.3 * max(tallest), 1.0))
        smallest = min(tally.smallest_group for tally in tallies.values())
        group = group_words(smallest, max(tally.largest_group for tally in tallies.values()))
        for ax in panels:
            ax.xaxis.set_major_locator(MaxNLocator(nbins=6, integer=True))
        figure.supxlabel(f"animals caught in a night ({group})", fontsize=9)
        figure.supylabel("share of nights (%)", fontsize=9)
        figure.suptitle(
            "Hatched: nights that catch the whole group. Dashed: mean.",
            fontsize=8,
            color=style.MUTED,
        )
    return figure


def filling_panels(arms: Mapping[str, Sequence[Trace]]) -> Figure:
    """Number inside over the time since the first arrival, a panel an arm, with the releases."""
    with _grid(list(arms), above=14) as (figure, panels):  # the releases stand between
        nights = {name: nights_with_pigs(traces) for name, traces in arms.items()}
        last = max((_end(some) for some in nights.values() if some), default=60.0)
        sizes = [t.group_size for some in nights.values() for t in some]
        for ax, some in zip(panels, nights.values(), strict=True):
            ax.set_ylim(0, 1.3 * max(sizes, default=1))
            ax.set_xlim(0, last / 60)
            if not some:
                ax.text(0.5, 0.5, "no animal came", transform=ax.transAxes, ha="center")
                continue
            draw_course(ax, some, last, points=80)
            released = sum(t.release_time is not None for t in some)
            _note(ax, f"released on {released} of {len(some)} nights")
        figure.supxlabel("time since the first arrival (min)", fontsize=9)
        figure.supylabel("animals inside", fontsize=9)
        figure.suptitle(
            "Line: mean. Band: 10 to 90 % of nights. Ticks: releases, dashed their median. "
            "Dotted: the whole group.",
            fontsize=8,
            color=style.MUTED,
        )
    return figure


def _end(nights: Sequence[Trace]) -> float:
    """Seconds by which nearly all releases are well past; all of the course if there are none."""
    releases = [t.release_time - t.first_arrival for t in nights if t.release_time is not None]
    if not releases:
        return end_of_course(nights)
    return max(1.5 * float(np.quantile(releases, 0.9)), 60.0)


@contextmanager
def _grid(names: Sequence[str], above: float = 6) -> Iterator[tuple[Figure, list[Axes]]]:
    """A figure with a titled panel a name, axes shared; numbers stand at the outer panels only.

    `above` is the room between a panel and its title, in points.
    """
    columns = min(_COLUMNS, len(names))
    rows = math.ceil(len(names) / columns)
    lines = max(wrapped(name, 30, 2).count("\n") + 1 for name in names)
    with style.sheet():
        figure = style.new_figure(0.75 + rows * (1.05 + 0.14 * lines + above / 72))
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).ravel()
        for ax, name in zip(grid, names, strict=False):
            ax.set_title(wrapped(name, 30, 2), fontsize=8, pad=above)
        for ax in grid[len(names) :]:
            ax.set_visible(False)
        for ax in grid[max(len(names) - columns, 0) : len(names)]:
            ax.tick_params(labelbottom=True)
        yield figure, list(grid[: len(names)])


def _note(ax: Axes, words: str) -> None:
    ax.text(
        0.98,
        0.97,
        words,
        transform=ax.transAxes,
        ha="right",
        va="top",
        fontsize=7.5,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 1},
        zorder=5,
    )
