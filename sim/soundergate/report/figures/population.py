"""Populations in pictures: the share that must go to stop growth, and what years of removal do."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.report import style
from soundergate.seasons.population.outlook import OVER_RANGES
from soundergate.seasons.population.published import Reading, readings
from soundergate.seasons.population.removal_share import BASES, stopping_shares

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.seasons.population.outlook import Outlook
    from soundergate.seasons.population.projection import Projection

_ARRIVALS = (0.0, 0.25, 0.5)
_LEAST, _MOST = 1.0, 3.2
"""Growth factors drawn; what lies beyond is named below the axis."""

_LEADER: dict[str, Any] = {"arrowstyle": "-", "color": style.MUTED, "linewidth": 0.7}
_SHORT = {
    BASES[0]: "share after births",
    BASES[1]: "share all year",
    BASES[2]: "share before births",
    f"{BASES[0]}, as if all were removed": "share after births",
    "growth without removal": "growth",
    "steady growth": "growth",
}


def stopping_curves(result: Outlook, ax: Axes | None = None) -> Axes:
    """Share to remove a year against the growth factor, a line an immigration.

    Published figures stand on the line of the file's own arrivals, as in the tables, each in every
    way it may be meant; a bar joins the ends of one that is a range. The ring is the file's own
    setting.
    """
    own, timing = result.dynamics, result.dynamics.timing
    with style.sheet():
        ax = style.axes_of(ax, 5.4)
        ax.set_xlim(_LEAST, _MOST)
        ax.set_ylim(0, 100)
        _draw_arrivals(ax, sorted({*_ARRIVALS, own.immigration}), timing)
        marked, beyond = _split([one for one in readings(own.immigration, timing) if one.for_plans])
        _draw_published(ax, marked)
        if _LEAST <= own.growth_factor <= _MOST and math.isfinite(result.share):
            _draw_own(ax, own.growth_factor, 100 * result.share)
        else:
            beyond.append(f"this file (growth factor {own.growth_factor:g})")
        beside = textwrap.wrap(f"not drawn: {'; '.join(beyond)}", 96) if beyond else []
        words = "growth factor a year without removal (pigs a year later for each pig now)"
        ax.set_xlabel("\n".join([words, *beside]))
        ax.set_ylabel("remove each year to stop growth\n(% of the pigs there then)")
        ax.grid()
        style.note_above(
            ax, f"{timing}; published figures read with {100 * own.immigration:g} % arriving a year"
        )
    return ax


def _draw_arrivals(ax: Axes, arrivals: Sequence[float], timing: Any) -> None:
    factor = np.linspace(_LEAST, _MOST, 221)
    ends: list[tuple[str, float]] = []
    for i, (colour, line, mark) in zip(arrivals, style.SERIES, strict=False):
        share = 100 * stopping_shares(factor, i, timing)
        look: dict[str, Any] = {"color": colour, "linestyle": line, "linewidth": 1.8}
        ax.plot(factor, share, marker=mark, markevery=(8, 44), markersize=4.5, **look)
        if np.isfinite(share[-1]):
            ends.append((f"{100 * i:g} %" + (" arrive" if not ends else ""), float(share[-1])))
    heights = [height for _, height in ends]
    places = style.spread(heights, 3.4, 0.0, 100.0)
    off = (sum(places) - sum(heights)) / max(len(ends), 1)  # they were all moved up
    for (words, _), place in zip(ends, places, strict=True):
        at = (1.01, place - off)
        frame: Any = ("axes fraction", "data")
        ax.annotate(words, at, xycoords=frame, va="center", fontsize=8, annotation_clip=False)


def _split(found: Sequence[Reading]) -> tuple[list[Reading], list[str]]:
    """Readings that are on the axis, and the names of those that are not."""

    def drawn(one: Reading) -> bool:
        low, high = one.growth_factor
        return _LEAST <= low <= high <= _MOST and all(map(math.isfinite, one.share))

    return [one for one in found if drawn(one)], [_name(one) for one in found if not drawn(one)]


def _name(one: Reading) -> str:
    memory = ", from memory" if one.figure.status == "from memory" else ""
    return f"{one.figure.name}: {_SHORT.get(one.read_as, one.read_as)}{memory}"


def _draw_published(ax: Axes, found: Sequence[Reading]) -> None:
    """Marks on the line, and below it a column of names in the order of the marks."""
    ordered = sorted(found, key=lambda one: sum(one.growth_factor))
    centres = [(sum(one.growth_factor) / 2, 50 * sum(one.share)) for one in ordered]
    places = style.spread([0.8 * share - 10 for _, share in centres], 4.6, 3.0, 50.0)
    frame: Any = ("axes fraction", "data")
    for one, (x, y), place in zip(ordered, centres, places, strict=True):
        shares = [100 * share for share in one.share]
        ax.plot(one.growth_factor, shares, color=style.INK, linewidth=4.5, zorder=3)
        # of names that lie below each other at the right, a line must pass left of those above
        start = (0, 0.5) if x < 2.2 else (0.8, 1) if one is ordered[-1] else (0.1, 1)
        face = style.PAPER if one.figure.status == "from memory" else style.INK
        ax.plot(x, y, "X", color=style.INK, markerfacecolor=face, markersize=8, zorder=4)
        ax.annotate(
            f"{_name(one)}, {y:.0f} %",
            (x, y),
            (0.5 if x < 2.2 else 0.985, place),
            textcoords=frame,
            ha="left" if x < 2.2 else "right",
            va="center",
            fontsize=7.5,
            arrowprops={**_LEADER, "relpos": start, "shrinkB": 4},
            bbox={"boxstyle": "round,pad=0.1", "facecolor": style.PAPER, "edgecolor": "none"},
        )


def _draw_own(ax: Axes, factor: float, share: float) -> None:
    look: dict[str, Any] = {
        "color": style.ORANGE,
        "markerfacecolor": "none",
        "markeredgewidth": 2.2,
    }
    ax.plot(factor, share, "o", markersize=13, zorder=5, **look)
    left = factor > 1.6
    ax.annotate(
        f"this file, {share:.0f} %",
        (factor, share),
        (-10 if left else 0, 12 if left else 30),
        textcoords="offset points",
        ha="right" if left else "center",
        fontsize=8.5,
        fontweight="bold",
        arrowprops={"arrowstyle": "-", "color": style.ORANGE, "shrinkB": 7},
        bbox={"boxstyle": "round,pad=0.15", "facecolor": style.PAPER, "edgecolor": "none"},
    )


_CLEARED = "cleared: none left when a year's removal was over; others may come before the count"
_MANY = 300
"""Pigs above which a scale by tens shows more than an even one."""

_BANDS: tuple[dict[str, Any], ...] = (
    {"facecolor": style.PALE_BLUE, "edgecolor": style.BLUE, "hatch": "|||"},
    {"facecolor": style.PALE_ORANGE, "edgecolor": style.ORANGE, "hatch": "////"},
    {"facecolor": "none", "edgecolor": style.MUTED},
    {"facecolor": "none", "edgecolor": style.INK},
)
_RATES = ("growth as in the file", "growth anywhere in its range")
"""At which growth, and arrivals, a projection is played."""


def projections(plays: Mapping[str, Projection], ax: Axes | None = None) -> Axes:
    """Pigs at each count by name of the play: median, middle half (dense) and 9 runs of 10 (light).

    Those over ranges of growth have the edges of nine tenths alone: compare each with its like.

    Where there are many the scale goes by tens above ten, so that none and thousands both show.
    """
    from matplotlib.ticker import MaxNLocator

    with style.sheet():
        ax = style.axes_of(ax, 4.6)
        top = max(float(one.quantiles[-1].max()) for one in plays.values())
        if top > _MANY:
            ax.set_yscale("symlog", linthresh=10, linscale=0.6)
        for (name, one), look, band in zip(plays.items(), style.SERIES, _BANDS, strict=False):
            _draw_play(ax, name, one, look, band)
        ax.set_ylim(0, 1.3 * max(top, 10.0))
        ax.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
        ax.xaxis.set_major_locator(MaxNLocator(integer=True))
        ax.set_xlabel("count at the end of year" + (f"\n{_CLEARED}" if any(plays) else ""))
        ax.set_ylabel("pigs there (growth without limit)")
        ax.grid()
        if any(plays):
            ax.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.05), ncols=1)
        runs = next(iter(plays.values())).runs
        style.note_above(
            ax,
            f"line: median of {runs:,} runs; bands: half and nine tenths; thin edges: nine tenths",
        )
    return ax


def _draw_play(
    ax: Axes, name: str, one: Projection, look: tuple[str, str, str], band: dict[str, Any]
) -> None:
    year = np.arange(one.years + 1)
    lowest, low, median, high, highest = one.quantiles
    colour, line, mark = look
    if "hatch" in band:
        ax.fill_between(year, lowest, highest, linewidth=0.8, **{**band, "hatch": None}, alpha=0.45)
        ax.fill_between(year, low, high, linewidth=0.8, **band)
    else:
        ax.fill_between(year, lowest, highest, linewidth=0.8, linestyle=line, **band)
    words = f"{_named(name)}: {_chance(one.share_eliminated())}" if name else None
    ax.plot(year, median, line, marker=mark, color=colour, linewidth=2, markersize=5, label=words)


def _named(play: str) -> str:
    """What is done, and at which growth, so that like is held against like."""
    what = play.removesuffix(OVER_RANGES)
    return f"{what}, {_RATES[what != play]}"


def _chance(share: float) -> str:
    if share in (0.0, 1.0):
        return "cleared in no run" if share == 0 else "cleared in every run"
    return f"cleared at least once in {100 * share:.2g} % of runs"
