"""Gates side by side: load against time, every gate with every latch, wider and wider openings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite, isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.report import style
from soundergate.report.figures import wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.model import OpeningSetup
    from soundergate.mechanics.pairs import Pair, Pairs
    from soundergate.mechanics.sweep import WidthSweep


def trade_off(
    openings: Mapping[str, OpeningSetup], units: str = "metric", ax: Axes | None = None
) -> Axes:
    """Load on the latch against the time to shut, one mark an opening by name.

    Low and to the left is better: little to hold, soon shut. A gate that does not shut stands as a
    cross at the right edge; an open mark is one that releases in fewer than 9 of 10 tries.
    """
    unit, sign = style.units(units).force
    with style.sheet():
        ax = style.axes_of(ax, 3.6)
        times = [o.curve.shut_time for o in openings.values()]
        edge = 1.15 * max([t for t in times if isfinite(t)], default=1.0)
        loads = [o.holding_load / unit for o in openings.values()]
        for opening, time, load in zip(openings.values(), times, loads, strict=True):
            _trade_mark(ax, opening, min(time, edge), load)
        top = 1.12 * max([*loads, 1e-9])
        ax.set_xlim(0, 1.03 * edge)
        ax.set_ylim(0, top)
        _trade_labels(ax, list(openings), [min(t, edge) for t in times], loads, top)
        ax.set_xlabel("time from the gate moving until it is shut (s)")
        ax.set_ylabel(f"load on the latch ({sign})")
        ax.grid()
        ax.set_title(
            "Open mark: releases in fewer than 9 of 10 tries. Cross: does not shut.",
            fontsize=8,
            fontweight="normal",
        )
    return ax


def _trade_mark(ax: Axes, opening: OpeningSetup, time: float, load: float) -> None:
    if not opening.curve.shuts:
        ax.plot(time, load, "X", color=style.ORANGE, markersize=9, clip_on=False)
        return
    face = style.BLUE if opening.release_probability >= 0.9 else style.PAPER
    ax.plot(time, load, "o", color=style.BLUE, markerfacecolor=face, markersize=8)


def _trade_labels(
    ax: Axes, names: list[str], times: list[float], loads: list[float], top: float
) -> None:
    places = style.spread(loads, 0.075 * top, 0.03 * top, 0.97 * top)
    for name, time, load, place in zip(names, times, loads, places, strict=True):
        ax.annotate(
            name,
            xy=(time, load),
            xytext=(1.02, place),
            textcoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            arrowprops={"arrowstyle": "-", "color": style.MUTED, "linewidth": 0.5},
            annotation_clip=False,
        )


def pairs_figure(pairs: Pairs) -> Figure:
    """Every gate with every latch: how soon after the trigger each bars a median juvenile.

    Pairs that do not hold, release or shut surely enough have no bar but the reason.
    """
    rows = pairs.pairs
    with style.sheet():
        figure = style.new_figure(1.1 + 0.3 * max(len(rows), 1))
        ax = figure.subplots()
        for number, pair in enumerate(rows):
            _pair_row(ax, -number, pair)
        ax.set_yticks([-k for k in range(len(rows))], [f"{p.gate}, {p.latch}" for p in rows])
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        ax.set_ylim(0.6 - max(len(rows), 1), 0.6)
        ends = [p.shut_time for p in rows if p.feasible]
        ax.set_xlim(0, 1.02 * max(ends, default=1.0))
        ax.set_xlabel("time since the trigger (s)")
        ax.grid(axis="x")
        _pair_legend(figure)
    return figure


_PARTS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("until the gate moves", {"facecolor": style.GREY, "edgecolor": style.MUTED}),
    ("until a juvenile no longer passes", {"facecolor": style.BLUE, "edgecolor": style.BLUE}),
    (
        "until it is shut",
        {"facecolor": style.PALE_BLUE, "edgecolor": style.BLUE, "hatch": "////"},
    ),
)


def _pair_row(ax: Axes, row: float, pair: Pair) -> None:
    beside: Any = {"va": "center", "fontsize": 8, "annotation_clip": False}
    if not pair.feasible:
        ax.annotate(
            wrapped(pair.why, 78, 2), (0, row), (4, 0), textcoords="offset points", **beside
        )
        return
    left = 0.0
    for end, (_, look) in zip(
        (pair.release_time, pair.juvenile_time, pair.shut_time), _PARTS, strict=True
    ):
        ax.barh(row, max(end - left, 0.0), 0.6, left, linewidth=0.6, **look)
        left = max(end, left)
    share = f"releases {100 * pair.release_probability:.1f} %"
    margin = "" if isnan(pair.margin) else f"margin {pair.margin:.1f}, "
    ax.annotate(f"{margin}{share}", (1.015, row), xycoords=("axes fraction", "data"), **beside)


def _pair_legend(figure: Figure) -> None:
    from matplotlib.patches import Patch

    handles = [Patch(label=words, linewidth=0.6, **look) for words, look in _PARTS]
    figure.legend(handles=handles, loc="outside upper right", ncols=3)


def width_sweep(swept: WidthSweep, units: str = "metric") -> Figure:
    """What a wider opening does to the gate's mass, the pulls, the release and the closing."""
    shown = style.units(units)
    length, length_sign = shown.length
    mass, mass_sign = shown.mass
    force, force_sign = shown.force
    animal = bool((swept.pull_available == 0).all())
    series = {"mass": swept.mass / mass, "needed": swept.pull_required / force}
    labels = {"mass": f"mass of the\ngate ({mass_sign})", "needed": f"pull needed\n({force_sign})"}
    if not animal:
        series["margin"] = swept.margin
        labels["margin"] = "margin (pull there\n/ pull needed)"
    series["release"] = 100 * swept.release_probability
    labels["release"] = "releases\n(% of tries)"
    series["time"] = swept.shut_time
    labels["time"] = "moving until\nshut (s)"
    return sweep(
        swept.width / length,
        series,
        f"width of the opening ({length_sign})",
        labels,
        ~np.isfinite(swept.shut_time),
    )


def sweep(
    x: Sequence[float] | np.ndarray,
    series: Mapping[str, Sequence[float] | np.ndarray],
    x_label: str,
    y_labels: Mapping[str, str] | None = None,
    bad: Sequence[bool] | np.ndarray | None = None,
) -> Figure:
    """Small panels above one another, one a quantity, over a common swept value.

    Where `bad` is True (a gate that jams, say) the mark is a cross and the value is not joined.
    """
    with style.sheet():
        figure = style.new_figure(0.6 + 1.5 * len(series))
        axes: Any = figure.subplots(len(series), 1, sharex=True, squeeze=False)[:, 0]
        values = np.asarray(x, dtype=float)
        broken = np.zeros(len(values), dtype=bool) if bad is None else np.asarray(bad, dtype=bool)
        for ax, (name, heights) in zip(axes, series.items(), strict=True):
            y = np.asarray(heights, dtype=float)
            good = ~broken & np.isfinite(y)
            ax.plot(values, np.where(good, y, np.nan), "o-", color=style.BLUE, linewidth=1.8)
            lost = np.flatnonzero(~good)
            if lost.size:
                floor = np.where(np.isfinite(y[lost]), y[lost], 0.0)
                ax.plot(values[lost], floor, "X", color=style.ORANGE, markersize=8, clip_on=False)
            ax.set_ylabel((y_labels or {}).get(name, name), fontsize=8)
            ax.set_ylim(0, 1.15 * max(np.max(y[np.isfinite(y)], initial=0.0), 1e-9))
            ax.grid()
        axes[-1].set_xlabel(x_label)
        if broken.any():
            axes[0].set_title("Cross: jams or hangs", fontsize=8, fontweight="normal")
    return figure
