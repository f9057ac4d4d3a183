"""How a gate closes and is released: curves against bodies, pulls at the latch, one sheet of it."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from soundergate.mechanics.numbers_in_words import percent
from soundergate.report import style
from soundergate.scenario.unit_system import SI, Unit, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.model import ClosingCurve
    from soundergate.mechanics.opening import OpeningSetup


def closing_curves(
    curves: Mapping[str, ClosingCurve],
    bodies: Mapping[str, float] | None = None,
    units: Units = SI,
    ax: Axes | None = None,
) -> Axes:
    """Clear height (or gap) against the time since each gate began to move.

    `bodies` gives by class the clearance (m) that its members need; a dot where a curve crosses
    it is the last instant at which such an animal can still pass.
    """
    sign, unit = units.heights
    with style.sheet():
        ax = style.axes_of(ax, 3.4)
        height = max(curve.height for curve in curves.values())
        last = _last_time(curves)
        for number, (name, curve) in enumerate(curves.items()):
            _draw_curve(ax, name, curve, style.SERIES[number % len(style.SERIES)], unit, last)
        ax.set_xlim(0, last)
        ax.set_ylim(0, 1.1 * height / unit)
        _draw_bodies(ax, curves, bodies or {}, units.heights, height)
        measures = {curve.measure for curve in curves.values()}
        ax.set_ylabel(f"clear {' or '.join(sorted(measures))} ({sign})")
        ax.set_xlabel("time since the gate began to move (s)")
        ax.grid(axis="y")
        if len(curves) > 1:
            ax.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2)
    return ax


def _last_time(curves: Mapping[str, ClosingCurve]) -> float:
    """Time to show, s: all finite closing times and some room after them."""
    times = [curve.time[np.isfinite(curve.time)] for curve in curves.values()]
    longest = max((float(t.max()) for t in times if len(t)), default=0.0)
    return 1.3 * longest if longest > 0 else 1.0


_AT_ONCE = 1e-4
"""Less than this, in s or m/s, is rounding: the opening narrows from rest at once."""


def _draw_curve(
    ax: Axes, name: str, curve: ClosingCurve, look: tuple[str, str, str], unit: float, last: float
) -> None:
    colour, line, _ = look
    keep = np.isfinite(curve.time)
    if not keep.any():
        clear, time = np.array([curve.height]), np.array([0.0])
    else:
        clear, time = curve.clear[keep][::-1], curve.time[keep][::-1]
    ends = np.append(clear, clear[-1])
    times = np.append(time, last)
    if len(time) > 1 and time[0] < _AT_ONCE and curve.speed[-1] < _AT_ONCE:
        times, ends = _rounded_start(times, ends)
    if time[0] > _AT_ONCE:  # it moves without narrowing the opening at first
        times, ends = np.insert(times, 0, 0.0), np.insert(ends, 0, curve.height)
    words = name if curve.shuts else f"{name}: does not shut"
    ax.plot(times, ends / unit, color=colour, linestyle=line, linewidth=2, label=words)
    if not curve.shuts:
        ax.annotate(
            "stays open here",
            (0.99 * last, ends[-1] / unit),
            (0, 4),
            textcoords="offset points",
            ha="right",
            fontsize=8,
            fontweight="bold",
            bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6},
        )


def _rounded_start(times: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The curve with its first piece as a motion from rest, which a straight one is not."""
    share = np.linspace(0.0, 1.0, 9)[1:-1]
    fallen = ends[0] + share**2 * (ends[1] - ends[0])
    return np.insert(times, 1, share * times[1]), np.insert(ends, 1, fallen)


def _draw_bodies(
    ax: Axes,
    curves: Mapping[str, ClosingCurve],
    bodies: Mapping[str, float],
    unit: Unit,
    height: float,
) -> None:
    sign, size = unit
    names = sorted(bodies, key=lambda name: bodies[name])
    gap = 0.15 * height / size if len(curves) == 1 else 0.08 * height / size
    places = style.spread([bodies[n] / size for n in names], gap, 0.0, 1.08 * height / size)
    for name, place in zip(names, places, strict=True):
        needed = bodies[name]
        ax.axhline(needed / size, color=style.MUTED, linewidth=0.8, linestyle=(0, (1, 3)))
        times = [curve.time_to(needed) for curve in curves.values()]
        for time, look in zip(times, style.SERIES, strict=False):
            if isfinite(time) and needed <= height:
                ax.plot(time, needed / size, look[2], color=look[0], markersize=6, zorder=4)
        text = f"{name} needs {needed / size:.0f} {sign}"
        if len(curves) == 1:
            text += f"\n{_passes(times[0], needed, height)}"
        ax.annotate(
            text,
            xy=(1.0, needed / size),
            xytext=(1.02, place),
            xycoords=("axes fraction", "data"),
            textcoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            linespacing=1.1,
            annotation_clip=False,
        )


def _passes(time: float, needed: float, height: float) -> str:
    if needed > height:
        return "does not fit even when set"
    return f"passes until {time:.2f} s" if isfinite(time) else "always passes"


def force_bars(
    openings: Mapping[str, OpeningSetup], units: Units = SI, ax: Axes | None = None
) -> Axes:
    """Pull needed and pull there at each latch: the median as a bar, 5 to 95 % as a line.

    Both are at the puller's end of the lever. Where an animal pulls there is no second bar: what
    it gives is the night's affair.
    """
    sign, _ = units.forces
    with style.sheet():
        ax = style.axes_of(ax, 1.2 + 0.8 * len(openings))
        ends = [_force_row(ax, -row, item, units) for row, item in enumerate(openings.values())]
        ax.set_yticks([-k for k in range(len(openings))], list(openings))
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        ax.set_ylim(0.6 - len(openings), 0.6)
        ax.set_xlim(0, 1.22 * max([*ends, 1e-9]))
        ax.set_xlabel(f"pull at the puller ({sign})")
        ax.grid(axis="x")
    return ax


_FORCE_ROWS = (
    ("needed", "pull_required", 0.17, style.PALE_ORANGE, style.ORANGE, "///"),
    ("there", "pull_available", -0.17, style.BLUE, style.BLUE, ""),
)


def _force_row(ax: Axes, row: float, opening: OpeningSetup, units: Units) -> float:
    """Draw the bars of one opening; return the farthest end of a line, in the unit shown."""
    ends = []
    _, unit = units.forces
    for word, field, shift, colour, edge, hatch in _FORCE_ROWS:
        median = getattr(opening, field) / unit
        if field == "pull_available" and opening.puller == "animal":
            continue
        spread = np.exp(1.6448536269514722 * getattr(opening, f"{field}_sigma"))
        ax.barh(row + shift, median, 0.3, facecolor=colour, edgecolor=edge, hatch=hatch)
        ax.plot(
            [median / spread, median * spread],
            [row + shift] * 2,
            color=style.INK,
            linewidth=1.4,
            marker="|",
            markersize=6,
        )
        ax.annotate(
            f"{word} {units.force(median * unit)}",
            (median * spread, row + shift),
            (5, 0),
            textcoords="offset points",
            va="center",
            fontsize=8,
        )
        ends.append(median * spread)
    _force_words(ax, row, opening)
    return max(ends)


def _force_words(ax: Axes, row: float, opening: OpeningSetup) -> None:
    release = f"releases {percent(opening.release_probability)}"
    if opening.puller == "animal" and opening.odds.by_state:
        text = f"the container pulls\n{release}\n(when it is full)"
    elif opening.puller == "animal":
        text = f"an animal pulls\n{release}\n(a touch of the line)"
    elif isnan(opening.margin):
        text = f"needs no pull\n{release}"
    else:
        text = f"margin {opening.margin:.2f}\n{release}"
    ax.annotate(
        text,
        (1.02, row),
        xycoords=("axes fraction", "data"),
        va="center",
        fontsize=8,
        annotation_clip=False,
    )


def gate_figure(
    opening: OpeningSetup,
    bodies: Mapping[str, float] | None = None,
    units: Units = SI,
    title: str = "",
) -> Figure:
    """One opening on one sheet: the sketch to scale, the pulls at its latch, the closing curve."""
    from soundergate.report.figures.gates.sketch import draw_sketch

    latched = opening.latch_kind != "none"
    heights = [3.6, 1.1, 3.0] if latched else [3.2, 3.0]
    with style.sheet():
        figure = style.new_figure(sum(heights) + 0.5)
        rows = figure.subplots(len(heights), 1, height_ratios=heights)
        draw_sketch(opening, rows[0], units)
        rows[0].set_title(title or opening_words(opening))
        if latched:
            force_bars({"": opening}, units, rows[1])
            rows[1].set_title("Pull at the latch")
        closing_curves({"gate": opening.curve}, bodies, units, rows[-1])
        rows[-1].set_title("How the opening closes" if latched else "How it falls shut again")
    return figure


def opening_words(opening: OpeningSetup) -> str:
    """What stands in an opening: "drop gate, pin latch", or "push panel"."""
    if opening.latch_kind == "none":
        return opening.gate_kind
    return f"{opening.gate_kind} gate, {opening.latch_kind} latch"
