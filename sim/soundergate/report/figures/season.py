"""Campaigns as pictures: the share caught night by night, and what assumptions move."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from soundergate.report import style
from soundergate.report.figures.estimates import wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.seasons.setups import SetupSeason
    from soundergate.seasons.unknowns import Moved

_NAMES = {
    "campaign.escaped_wary": "share of escaped pigs\nthat enter no more",
    "campaign.onlooker_wary": "share of onlookers\nthat enter no more",
    "campaign.move_away": "chance that the group\nmoves away",
    "campaign.quiet_nights": "nights without visits\nafter a failed closure",
}


def caught_by_night(setups: Sequence[SetupSeason], ax: Axes | None = None) -> Axes:
    """Mean share of the group caught by the end of each set night, with its interval."""
    with style.sheet():
        ax = style.axes_of(ax, 3.2)
        last = max(len(setup.caught_by_night) for setup in setups)
        ends = []
        for number, setup in enumerate(setups):
            colour, line, mark = style.SERIES[number % len(style.SERIES)]
            means = 100 * np.array([mean for mean, _ in setup.caught_by_night])
            low, high = (100 * np.array([i[k] for _, i in setup.caught_by_night]) for k in (0, 1))
            nights = np.arange(1, len(means) + 1)
            ax.plot(
                nights, means, color=colour, linestyle=line, marker=mark, linewidth=1.8,
                markersize=5,
            )  # fmt: skip
            ax.fill_between(nights, low, high, color=colour, alpha=0.2, linewidth=0)
            ends.append((setup.name, nights[-1], means[-1]))
        ax.set_xlim(0.8, last + 0.2)
        ax.set_xticks(range(1, last + 1, max(1, last // 12)))
        ax.set_ylim(0, 100)
        ax.set_xlabel("nights set")
        ax.set_ylabel("caught so far (% of the group)")
        ax.grid(axis="y")
        _name_ends(ax, ends)
    return ax


def _name_ends(ax: Axes, ends: Sequence[tuple[str, float, float]]) -> None:
    """Names beside the last points, kept apart."""
    names = [wrapped(name, 26) for name, _, _ in ends]
    lines = max(name.count("\n") + 1 for name in names)
    places = style.spread([height for _, _, height in ends], 6.0 * lines, 3.0, 97.0)
    for name, (_, night, height), place in zip(names, ends, places, strict=True):
        ax.annotate(
            name,
            (night, height),
            xytext=(1.02, place),
            textcoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": style.RULE, "linewidth": 0.6},
        )


def assumptions_moved(moved: Sequence[Moved], ax: Axes | None = None) -> Axes:
    """Share caught with each assumption at the ends of its plausible range."""
    with style.sheet():
        ax = style.axes_of(ax, 0.9 + 0.55 * len(moved))
        middle = 100 * moved[0].base["fraction_caught"].estimate
        ax.axvline(middle, color=style.INK, linewidth=1.0, linestyle=(0, (4, 2)))
        for row, one in enumerate(moved):
            low, high = (100 * e.estimate for e in one.figure("fraction_caught"))
            ax.plot([low, high], [row, row], color=style.BLUE, linewidth=6, solid_capstyle="butt")
            for value, at, to_left in ((one.entry.low, low, low <= high),
                                       (one.entry.high, high, high < low)):  # fmt: skip
                ax.annotate(
                    f"{value:g}",
                    (at, row),
                    xytext=(-5 if to_left else 5, 0),
                    textcoords="offset points",
                    ha="right" if to_left else "left",
                    va="center",
                    fontsize=8,
                )
        ax.set_yticks(range(len(moved)), [_NAMES.get(one.key, one.key) for one in moved])
        ax.set_ylim(len(moved) - 0.5, -0.5)
        ax.margins(x=0.15)
        ax.set_xlabel("caught (% of the group); dashed: as it is")
        ax.grid(axis="x")
        style.note_above(ax, "numbers: the assumption at that end")
    return ax
