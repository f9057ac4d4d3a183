"""The seconds around the closing: clear height of every gate, and the bodies that crossed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from soundergate.engine.trace import event_kinds as kinds
from soundergate.report import style
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.engine.trace.trace import Trace, TraceAnimal, TraceEvent

_ZOOM_MARKS = {
    "touches the line": "line touched",
    "line breaks": "line breaks",
    "container falls": "container falls",
    "counter decides": "counter decides",
    "person decides": "person decides",
    "command sent": "command sent",
    "command arrives": "command arrives",
    "trigger acts": "trigger acts",
    "latch fails": "latch fails",
    "gate moves": "gate moves",
    "gate propped": "gate propped",
    "gate shut": "gate shut",
    "lock fails": "lock fails",
}


def draw_closing(trace: Trace, ax: Axes, units: Units = SI) -> None:
    """The seconds around the closing: clear height of every gate, and the bodies that crossed.

    A body is drawn at the clear height it needs, for as long as it was under the gate; one that is
    drawn above the falling curve no longer fits.
    """
    release = trace.release_time
    assert release is not None
    sign, unit = units.heights
    last = max([point[0] for curve in trace.closing for point in curve] + [release])
    span = max(last - release, 0.4)
    low, high = release - 0.35 * span, last + 0.45 * span
    for opening, curve in enumerate(trace.closing):
        _curve(ax, trace, opening, curve, release, unit, (low, high))
    top = 1.12 * _widest(trace) / unit
    spots = _crossings(trace, low, high)[:MOST_CROSSINGS]
    heights = [spot.animal.needed_height / unit for spot in spots]
    places = style.spread(heights, 0.07 * top, 0.04 * top, 0.96 * top)
    for spot, place in zip(spots, places, strict=True):
        _draw_crossing(ax, spot, release, unit, place)
    _needed_heights(ax, trace, unit, sign)
    _event_flags(ax, trace, release, (low, high))
    measure = "gap" if any(o.measure == "gap" for o in trace.corral.openings) else "height"
    ax.set_xlim(low - release, high - release)
    ax.set_ylim(0, top)
    ax.set_xlabel("time since the release (s)")
    ax.set_ylabel(f"clear {measure} ({sign})")
    ax.set_title("The closing", pad=52)
    ax.grid(axis="y")
    if _several(trace):
        ax.legend(loc="lower left", frameon=True, facecolor=style.PAPER, edgecolor="none")


def _several(trace: Trace) -> bool:
    """More than one gate came down; one-way entrances do not."""
    return sum(bool(curve) for curve in trace.closing) > 1


def _widest(trace: Trace) -> float:
    """Clearance of the widest of the gates that came down, when open, m."""
    return max(clear for curve in trace.closing for _, clear in curve)


def _curve(
    ax: Axes,
    trace: Trace,
    opening: int,
    curve: list[tuple[float, float]],
    release: float,
    unit: float,
    window: tuple[float, float],
) -> None:
    _, line, _ = style.SERIES[opening % len(style.SERIES)]
    if not curve:
        return
    points = [(window[0], curve[0][1]), *curve, (window[1], curve[-1][1])]
    ax.plot(
        [time - release for time, _ in points],
        [clear / unit for _, clear in points],
        color=style.INK,
        linewidth=2,
        linestyle=line,
        label=f"gate {opening + 1}" if _several(trace) else "gate",
    )


MOST_CROSSINGS = 12
"""Bodies under a gate that are drawn; more would hide the curve."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """An animal under a gate from `start` to `stop` s and how it ended."""

    animal: TraceAnimal
    start: float
    stop: float
    way: str
    end: str


def _crossings(trace: Trace, low: float, high: float) -> list[Crossing]:
    """Crossings in or out that overlap low..high, s."""
    ordered = trace.in_order()
    found = []
    for animal, state, start, stop in trace.segments():
        if state not in (kinds.CROSSING_IN, kinds.CROSSING_OUT) or stop < low or start > high:
            continue
        ends = {e.kind for e in ordered if e.animal == animal and start <= e.time <= stop}
        end = "is struck" if "is struck" in ends else "turns back" if "turns back" in ends else ""
        found.append(Crossing(trace.animals[animal], start, stop, state, end))
    return found


def _draw_crossing(ax: Axes, spot: Crossing, release: float, unit: float, place: float) -> None:
    """The body as a bar at the height it needs; its name beside it at the height `place`."""
    height = spot.animal.needed_height / unit
    out = spot.way == kinds.CROSSING_OUT
    colour = style.ORANGE if out else style.BLUE
    left, right = spot.start - release, spot.stop - release
    ax.plot([left, right], [height, height], color=colour, linewidth=4, solid_capstyle="butt")
    ax.plot(right, height, ">" if not spot.end else "X", color=colour, markersize=7)
    words = f"{spot.animal.label} {'out' if out else 'in'}"
    words += f", {spot.end}" if spot.end else ""
    ax.annotate(
        words,
        (right, place),
        (8, 0),
        textcoords="offset points",
        va="center",
        fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
        zorder=5,
    )


def _needed_heights(ax: Axes, trace: Trace, unit: float, sign: str) -> None:
    """At the right edge, the clear height each class needs: its tallest animal."""
    tallest: dict[str, float] = {}
    for animal in trace.animals:
        tallest[animal.animal_class] = max(
            tallest.get(animal.animal_class, 0.0), animal.needed_height
        )
    names = sorted(tallest, key=lambda name: tallest[name])
    top = 1.12 * _widest(trace) / unit
    places = style.spread([tallest[n] / unit for n in names], 0.075 * top, 0.02 * top, 0.98 * top)
    for name, place in zip(names, places, strict=True):
        height = tallest[name] / unit
        ax.axhline(height, color=style.MUTED, linewidth=0.7, linestyle=(0, (1, 3)), zorder=0)
        ax.annotate(
            f"{name} needs {height:.0f} {sign}",
            xy=(1.0, height),
            xytext=(1.015, place),
            xycoords=("axes fraction", "data"),
            textcoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            annotation_clip=False,
        )


def _event_flags(ax: Axes, trace: Trace, release: float, window: tuple[float, float]) -> None:
    """Events of the trap in the window, as dotted lines with slanted labels above the panel."""
    flags: dict[str, TraceEvent] = {}
    for event in trace.in_order():
        if event.kind in _ZOOM_MARKS and window[0] <= event.time <= window[1]:
            several = event.kind in ("gate shut", "gate moves") and _several(trace)
            word = _ZOOM_MARKS[event.kind]
            word += f" {event.opening + 1}" if several and event.opening is not None else ""
            flags.setdefault(word, event)
    low, high = window[0] - release, window[1] - release
    times = [event.time - release for event in flags.values()]
    places = style.spread(times, (high - low) * 0.045, low, high)
    for word, time, place in zip(flags, times, places, strict=True):
        ax.axvline(time, color=style.MUTED, linewidth=0.8, linestyle=":")
        ax.annotate(
            word,
            xy=(time, 1.0),
            xytext=(place, 1.06),
            xycoords=("data", "axes fraction"),
            textcoords=("data", "axes fraction"),
            rotation=40,
            fontsize=8,
            arrowprops={"arrowstyle": "-", "color": style.MUTED, "linewidth": 0.6},
            annotation_clip=False,
        )
