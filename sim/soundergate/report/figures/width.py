"""What a wider opening does to its gate, latch and closing: small panels over one width."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.report import style
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.advice.sweep import WidthSweep
    from soundergate.mechanics.model import Array


@dataclass(frozen=True)
class _Panel:
    """One quantity, or two that share an axis, with a line to compare them with."""

    label: str
    series: tuple[tuple[str, Array], ...]
    level: tuple[str, float] | None = None
    top: float | None = None


def width_sweep(swept: WidthSweep, units: Units = SI, own: float | None = None) -> Figure:
    """Mass, load, pulls, margin, release and closing time over the width of the opening.

    ``own`` is the width (m) of the file's opening, marked by a line. A cross stands where the gate
    does not shut.
    """
    length_sign, length = units.lengths
    panels = _panels(swept, units)
    with style.sheet():
        figure = style.new_figure(0.9 + 1.2 * len(panels))
        axes: Any = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
        shuts = np.isfinite(swept.shut_time)
        for ax, panel in zip(axes, panels, strict=True):
            _draw(ax, swept.width / length, panel, shuts)
            if own is not None:
                ax.axvline(own / length, color=style.MUTED, linestyle=":", linewidth=1.4)
        axes[-1].set_xlabel(f"width of the opening ({length_sign})")
        axes[0].set_title(_title(swept, units, own, shuts), fontsize=9)
    return figure


def _title(swept: WidthSweep, units: Units, own: float | None, shuts: Any) -> str:
    widest = swept.widest()
    if widest is None:
        words = "None of these widths shuts in 9 of 10 tries."
    else:
        words = f"Shuts in at least 9 of 10 tries up to {units.length(widest)} wide."
    marks = ["Dotted: this opening."] if own is not None else []
    unbuilt = " or cannot be built as the file says" if any(swept.why) else ""
    marks += [] if shuts.all() else [f"Cross: does not shut{unbuilt}."]
    return "\n".join([words, " ".join(marks)]) if marks else words


def _panels(swept: WidthSweep, units: Units) -> list[_Panel]:
    mass_sign, mass = units.masses
    force_sign, force = units.forces
    powered = bool((swept.pull_available > 0).any())
    pulls = [("needed", swept.pull_required / force)]
    if powered:
        pulls.append(("there", swept.pull_available / force))
    shares = (
        ("releases", 100 * swept.release_probability),
        ("sticks open", 100 * swept.hang_probability),
    )
    panels = [
        _Panel(f"mass of the\ngate ({mass_sign})", (("", swept.mass / mass),)),
        _Panel(f"load on the\nlatch ({force_sign})", (("", swept.holding_load / force),)),
        _Panel(f"typical pull\n({force_sign})", tuple(pulls)),
        _Panel("share of tries\n(%)", shares, top=100.0),
        _Panel("moving until\nshut (s)", (("", swept.shut_time),)),
    ]
    if powered:
        margin = _Panel("margin: there\n/ needed", (("", swept.margin),), ("just enough", 1.0))
        panels.insert(3, margin)
    return panels


def _draw(ax: Axes, x: Array, panel: _Panel, shuts: Any) -> None:
    highest = panel.top or 0.0
    ends: list[tuple[str, float]] = []
    for (name, values), look in zip(panel.series, style.SERIES, strict=False):
        colour, line, mark = look
        good = np.isfinite(values) & shuts
        ax.plot(
            *(x, np.where(good, values, np.nan)),
            linestyle=line,
            marker=mark,
            color=colour,
            linewidth=1.8,
            markersize=5,
        )
        lost = np.flatnonzero(~good)
        if lost.size:  # an empty unclipped line would upset the layout
            floor = np.where(np.isfinite(values[lost]), values[lost], 0.0)
            ax.plot(x[lost], floor, "X", color=style.INK, markersize=7, clip_on=False)
        highest = max(highest, float(np.max(values[np.isfinite(values)], initial=0.0)))
        ends.append((name, float(values[-1]) if np.isfinite(values[-1]) else 0.0))
    if panel.level is not None:
        height = panel.level[1]
        ax.axhline(height, color=style.INK, linewidth=1.0, linestyle=(0, (4, 2)))
        ends = [panel.level]
        highest = max(highest, 1.1 * height)
    top = 1.15 * max(highest, 1e-9)
    ax.set_ylim(0, top)
    ax.set_ylabel(panel.label, fontsize=8)
    ax.grid()
    _name_lines(ax, ends, top)


def _name_lines(ax: Axes, ends: list[tuple[str, float]], top: float) -> None:
    """Words at the right edge, each at the height where its line ends."""
    places = style.spread([height for _, height in ends], 0.2 * top, 0.0, top)
    for (words, _), place in zip(ends, places, strict=True):
        if words:
            ax.annotate(
                words,
                (1.015, place),
                xycoords=("axes fraction", "data"),
                va="center",
                fontsize=8,
                annotation_clip=False,
            )
