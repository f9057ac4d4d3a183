"""What a lighter load on the latch costs in time, on one picture."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from math import degrees, pi
from typing import TYPE_CHECKING

import numpy as np

from soundergate.report import style
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.advice.trade_off import TradeOff

_NAMES = {
    "top-hinged": "top-hinged gate, by its set angle (90° is level)",
    "drop": "drop gate, by its counterweight",
}
_LOOKS = {"top-hinged": 0, "drop": 1}


def trade_off(curves: Mapping[str, TradeOff], units: Units = SI, ax: Axes | None = None) -> Axes:
    """Load on the latch against the time to shut, a curve a kind of gate over its setting.

    ``curves`` as `mechanics.advice.trade_off.both_ways` gives them. Low and to the left is better:
    little to hold, soon shut. The file's own gate is ringed; what does not shut is named below.
    """
    sign, unit = units.forces
    with style.sheet():
        ax = style.axes_of(ax, 4.6)
        times = [t for swept in curves.values() for t in swept.shut_time[swept.shuts()]]
        top = 1.12 * max(float(np.nanmax(swept.holding_load)) for swept in curves.values()) / unit
        ax.set_xlim(0, 1.12 * max(times, default=1.0))
        ax.set_ylim(0, top)
        lost: list[str] = []
        taken: list[_Place] = []
        for kind, swept in curves.items():
            _draw(ax, kind, swept, unit)
            _name_points(ax, kind, swept, units, taken)
            lost += _lost(kind, swept, units)
        ax.set_xlabel("time from the gate moving until it is shut (s)" + _not_drawn(lost))
        ax.set_ylabel(f"load on the latch ({sign})")
        ax.grid()
        ax.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.04), ncols=2)
        ax.set_title(_OPEN_MARKS, fontsize=8, fontweight="normal")
    return ax


_OPEN_MARKS = (
    "Open mark: releases in fewer than 9 of 10 tries, or sticks open in more than 1 of 10."
)


def _not_drawn(lost: Sequence[str]) -> str:
    if not lost:
        return ""
    return "\n" + textwrap.fill(
        f"Not drawn, for it sticks open more than once in 3: {'; '.join(lost)}.", 95
    )


def _draw(ax: Axes, kind: str, swept: TradeOff, unit: float) -> None:
    colour, line, mark = style.SERIES[_LOOKS.get(kind, 2)]
    shuts = swept.shuts()
    time, load = swept.shut_time[shuts], swept.holding_load[shuts] / unit
    ax.plot(time, load, line, color=colour, linewidth=1.6, label=_NAMES.get(kind, kind))
    sure = swept.relied_on()
    for good, face in ((True, colour), (False, style.PAPER)):
        keep = sure[shuts] == good
        ax.plot(
            time[keep],
            load[keep],
            mark,
            color=colour,
            markerfacecolor=face,
            markersize=6.5,
            zorder=3,
        )
    own = swept.own()
    if own is not None and shuts[own]:
        ax.plot(
            swept.shut_time[own],
            swept.holding_load[own] / unit,
            "o",
            color=style.INK,
            markerfacecolor="none",
            markersize=14,
            markeredgewidth=1.8,
            zorder=4,
        )


_Place = tuple[float, float, float]
"""Where a name stands, in pixels: from the left, from below, and how far it reaches."""


def _name_points(ax: Axes, kind: str, swept: TradeOff, units: Units, taken: list[_Place]) -> None:
    """The setting beside some points, so far apart that no two names meet; the file's own first."""
    own, unit = swept.own(), units.forces.size
    drawn = [int(k) for k in np.flatnonzero(swept.shuts())]
    for k in sorted(drawn, key=lambda k: (k != own, k)):
        point = (float(swept.shut_time[k]), float(swept.holding_load[k]) / unit)
        x, y = ax.transData.transform(point)
        words = _setting(kind, float(swept.value[k]), units) + (" (this gate)" if k == own else "")
        reach = 5.2 * len(words) + 14
        if any(abs(y - b) < 17 and x < a + c and a < x + reach for a, b, c in taken):
            continue
        taken.append((x, y, reach))
        left = kind == "top-hinged" and swept.value[k] < 0.5 * pi - 1e-9
        ax.annotate(
            words,
            point,
            (-8, 0) if left else (10, 8) if k == own else (7, 3),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center" if left else "bottom",
            fontsize=7.5,
        )


def _setting(kind: str, value: float, units: Units) -> str:
    if kind == "top-hinged":
        return f"{degrees(value):.0f}°"
    return units.mass(value) if value else "no counterweight"


def _lost(kind: str, swept: TradeOff, units: Units) -> list[str]:
    """The settings that are not drawn, in words."""
    names = [_setting(kind, float(value), units) for value in swept.value[~swept.shuts()]]
    return [f"{kind} with {', '.join(names)}"] if names else []
