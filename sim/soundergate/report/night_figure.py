"""One night drawn: every animal a line through time, and the seconds in which the gate came down.

The deeper in, the thicker the line: outside is a thin line, inside a bar, feeding a full bar, so
the picture can be read without its colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from soundergate.engine import trace as tr
from soundergate.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.engine.trace import Trace, TraceAnimal, TraceEvent

# state -> height of the bar in lanes (0 = a line), and how it is drawn
_BARS: dict[str, tuple[float, dict[str, Any]]] = {
    tr.CROSSING_IN: (0.86, {"facecolor": style.INK, "edgecolor": style.INK}),
    tr.CROSSING_OUT: (0.86, {"facecolor": style.PAPER, "edgecolor": style.INK}),
    tr.INSIDE: (0.34, {"facecolor": style.PALE_BLUE, "edgecolor": style.BLUE}),
    tr.FEEDING: (0.66, {"facecolor": style.BLUE, "edgecolor": style.BLUE}),
    tr.WALKING_OUT: (
        0.34,
        {"facecolor": style.PALE_ORANGE, "edgecolor": style.ORANGE, "hatch": "////"},
    ),
    tr.BOLTING: (0.66, {"facecolor": style.ORANGE, "edgecolor": style.PAPER, "hatch": "xxxx"}),
    tr.CAUGHT: (0.34, {"facecolor": style.PAPER, "edgecolor": style.BLUE, "hatch": "----"}),
}
_LINES: dict[str, dict[str, Any]] = {
    tr.OUTSIDE: {"color": style.MUTED, "linewidth": 1.1, "linestyle": "-"},
    tr.WAITING: {"color": style.INK, "linewidth": 1.8, "linestyle": (0, (1, 1))},
    tr.ESCAPED: {"color": style.ORANGE, "linewidth": 1.4, "linestyle": (0, (4, 2))},
}
_WORDS = {
    tr.OUTSIDE: "outside",
    tr.WAITING: "waiting at the opening",
    tr.CROSSING_IN: "going in",
    tr.INSIDE: "inside",
    tr.FEEDING: "feeding",
    tr.WALKING_OUT: "on the way out",
    tr.BOLTING: "bolting",
    tr.CROSSING_OUT: "going out",
    tr.CAUGHT: "shut in",
    tr.ESCAPED: "escaped",
}
_QUIET_STATES = (tr.AWAY, tr.GONE, tr.CAUGHT, tr.ESCAPED)
_ZOOM_MARKS = {
    "touches the line": "line touched",
    "person decides": "person decides",
    "command sent": "command sent",
    "trigger acts": "trigger acts",
    "latch fails": "latch fails",
    "gate moves": "gate moves",
    "gate propped": "gate propped",
    "gate shut": "gate shut",
}


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """Seconds since set -> what the axis shows: (t - zero) / size, in `unit`."""

    zero: float
    size: float
    unit: str
    start: float
    stop: float

    def __call__(self, time: float) -> float:
        return (time - self.zero) / self.size


def time_axis(trace: Trace) -> TimeAxis:
    """From the first arrival to the end of what moves, in s, min or h as the span asks for."""
    zero = trace.first_arrival
    changes = [start for _, state, start, _ in trace.segments() if state != tr.AWAY]
    releases = [] if trace.release_time is None else [trace.release_time]
    shut = [time for time in trace.shut_time if time is not None]
    last = max([*changes, *releases, *shut, zero])
    span = max(last - zero, 1.0)
    if span < 180:
        size, unit = 1.0, "s"
    elif span < 3 * 3600:
        size, unit = 60.0, "min"
    else:
        size, unit = 3600.0, "h"
    return TimeAxis(zero, size, unit, zero - 0.03 * span, last + 0.08 * span)


def night_figure(trace: Trace, units: str = "metric") -> Figure:
    """Draw one night.

    Every animal is a lane; below it the number inside and the bait; where a gate came down, a
    last panel shows the seconds around it with the clear height falling and the bodies that went
    through. `units` is "metric" or "us". Returns a figure to save with `style.save`.
    """
    number = max(trace.group_size, 1)
    lane = 0.21 if number <= 40 else 8.4 / number
    closed = trace.release_time is not None and any(trace.closing)
    heights = [lane * number + 0.5, 1.0] + ([2.5] if closed else [])
    with style.sheet():
        figure = style.new_figure(sum(heights) + 1.3 + 0.5 * closed)
        axes = figure.subplots(len(heights), 1, height_ratios=heights)
        axis = time_axis(trace)
        draw_lanes(trace, axes[0], axis)
        _title(figure, trace)
        draw_inside(trace, axes[1], axis)
        for upper in axes[:2]:
            upper.set_xlim(axis(axis.start), axis(axis.stop))
        axes[0].tick_params(labelbottom=False)
        if closed:
            draw_closing(trace, axes[2], units)
        _legend(figure, trace)
    return figure


def draw_lanes(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    """One lane an animal, first animal on top; what became of it stands at the right."""
    number = trace.group_size
    for animal, state, start, stop in trace.segments():
        row = number - 1 - animal
        left, right = axis(start), axis(min(stop, axis.stop))
        if state in _BARS and start < axis.stop:
            height, look = _BARS[state]
            width = max(right - left, (axis(axis.stop) - axis(axis.start)) / 400)
            ax.barh(row, width, height, left, linewidth=0.5, **look)
        elif state in _LINES and start < axis.stop:
            ax.plot([left, right], [row, row], solid_capstyle="butt", **_LINES[state])
            if state == tr.ESCAPED:
                ax.plot(left, row, "X", color=style.ORANGE, markersize=5)
    _release_marks(trace, ax, axis)
    size = 8.5 if number <= 40 else max(8.5 * 40 / number, 3.0)
    ax.set_yticks(range(number), [trace.name(k) for k in reversed(range(number))], fontsize=size)
    ax.set_ylim(-0.7, number - 0.3)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    ax.grid(axis="x")
    for animal in range(number):
        words = _fate_words(trace, animal)
        ax.annotate(
            words,
            (1.01, number - 1 - animal),
            xycoords=("axes fraction", "data"),
            va="center",
            fontsize=min(size, 8),
            fontweight="normal" if words == "caught" else "bold",
            annotation_clip=False,
        )
    _clock_axis(ax, axis)


def _fate_words(trace: Trace, animal: int) -> str:
    if not any(event.kind == "arrives" and event.animal == animal for event in trace.events):
        return "did not come"
    short = {
        "caught": "caught",
        "escaped_during": "escaped, gate closing",
        "escaped_after": "escaped, gate shut",
        "escaped_before": "left before",
        "never_entered": "never went in",
    }
    if trace.release_time is None:
        short["escaped_before"] = "left"
    return short[trace.fate(animal)]


def _release_marks(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    release = trace.release_time
    if release is None:
        return
    ax.axvline(axis(release), color=style.INK, linewidth=1.2, linestyle="--", zorder=3)


def _clock_axis(ax: Axes, axis: TimeAxis) -> None:
    """The time since the trap was set, along the top."""
    from matplotlib.ticker import FuncFormatter

    hours = 3600.0

    def to_clock(x: Any) -> Any:
        return (x * axis.size + axis.zero) / hours

    def from_clock(h: Any) -> Any:
        return (h * hours - axis.zero) / axis.size

    top = ax.secondary_xaxis("top", functions=(to_clock, from_clock))
    with_seconds = axis.unit == "s"
    top.xaxis.set_major_formatter(FuncFormatter(lambda h, _: _clock_text(h * hours, with_seconds)))
    ticks = _round_ticks(axis.start, axis.stop)
    top.set_xticks([tick / hours for tick in ticks])
    top.set_xlabel("time since the trap was set (h:mm:ss)" if with_seconds else _CLOCK_LABEL)
    top.spines["top"].set_visible(False)


_CLOCK_LABEL = "time since the trap was set (h:mm)"


def _clock_text(seconds: float, with_seconds: bool) -> str:
    whole = round(seconds)
    text = f"{whole // 3600}:{whole % 3600 // 60:02d}"
    return text + (f":{whole % 60:02d}" if with_seconds else "")


def _round_ticks(start: float, stop: float, most: int = 8) -> list[float]:
    """Times in s at whole steps of a clock, at most `most` of them."""
    steps = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 36000)
    step = next((s for s in steps if (stop - start) / s <= most), 36000)
    first = -(-max(start, 0.0) // step)
    return [step * (first + k) for k in range(int(stop // step - first) + 1)]


def draw_inside(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    """Number inside as steps, with the instants at which the bait fell to a lower level."""
    from matplotlib.ticker import MaxNLocator

    steps = [*trace.inside_steps(), (axis.stop, trace.inside_steps()[-1][1])]
    ax.step(
        [axis(time) for time, _ in steps],
        [count for _, count in steps],
        where="post",
        color=style.BLUE,
        linewidth=1.6,
    )
    ax.axhline(trace.group_size, color=style.MUTED, linewidth=0.8, linestyle=":")
    ax.annotate(
        f"whole group, {trace.group_size}",
        (1.01, trace.group_size),
        xycoords=("axes fraction", "data"),
        va="center",
        fontsize=8,
        annotation_clip=False,
    )
    room = trace.group_size * 1.12 + 0.3
    foot = -0.17 * room
    last_label = -float("inf")
    for before, after in pairwise(trace.in_order()):
        if after.bait_level > before.bait_level and after.time < axis.stop:
            x = axis(after.time)
            labelled = x - last_label > 0.07 * (axis(axis.stop) - axis(axis.start))
            last_label = x if labelled else last_label
            _bait_mark(ax, x, after.bait_level, foot, labelled)
    if trace.release_time is not None:
        x = axis(trace.release_time)
        ax.axvline(x, color=style.INK, linewidth=1.2, linestyle="--")
        ax.text(x, 1.02, "release", transform=ax.get_xaxis_transform(), ha="center", fontsize=8)
    ax.axhline(0, color=style.MUTED, linewidth=0.8)
    ax.set_ylim(-0.34 * room, room)
    ax.set_ylabel("animals\ninside")
    ticks = MaxNLocator(nbins=4, integer=True).tick_values(0, trace.group_size)
    counts = [tick for tick in ticks if 0 <= tick <= room]
    ax.set_yticks([foot, *counts], ["bait left", *(f"{count:.0f}" for count in counts)])
    ax.set_xlabel(f"time since the first arrival ({axis.unit})")
    ax.grid(axis="x")


def _bait_mark(ax: Axes, x: float, level: int, foot: float, labelled: bool) -> None:
    """A mark where the bait fell to this level; its label only where the one before leaves room."""
    share = ("100 %", "75 %", "50 %", "25 %", "gone")[min(level, 4)]
    ax.plot(x, foot, marker="v", color=style.ORANGE, markersize=6, zorder=4)
    if labelled:
        ax.annotate(share, (x, foot), (6, 0), textcoords="offset points", va="center", fontsize=7.5)


def draw_closing(trace: Trace, ax: Axes, units: str = "metric") -> None:
    """The seconds around the closing: clear height of every gate, and the bodies that crossed.

    A body is drawn at the clear height it needs, for as long as it was under the gate; one that is
    drawn above the falling curve no longer fits.
    """
    release = trace.release_time
    assert release is not None
    unit, sign = style.units(units).short
    last = max([point[0] for curve in trace.closing for point in curve] + [release])
    span = max(last - release, 0.4)
    low, high = release - 0.35 * span, last + 0.45 * span
    for opening, curve in enumerate(trace.closing):
        _curve(ax, trace, opening, curve, release, unit, (low, high))
    for spot in _crossings(trace, low, high):
        _draw_crossing(ax, spot, release, unit)
    _needed_heights(ax, trace, unit)
    _event_flags(ax, trace, release, (low, high))
    measure = "gap" if any(o.measure == "gap" for o in trace.corral.openings) else "height"
    ax.set_xlim(low - release, high - release)
    ax.set_ylim(0, 1.12 * max(o.height for o in trace.corral.openings) / unit)
    ax.set_xlabel("time since the release (s)")
    ax.set_ylabel(f"clear {measure} ({sign})")
    ax.set_title("The closing", pad=52)
    ax.grid(axis="y")


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
        label=f"gate {opening + 1}" if len(trace.closing) > 1 else "gate",
    )
    if len(trace.closing) > 1:
        time, clear = curve[len(curve) // 2]
        ax.annotate(
            f"gate {opening + 1}",
            (time - release, clear / unit),
            xytext=(-4 if opening == 0 else 4, -2 if opening == 0 else 4),
            textcoords="offset points",
            ha="right" if opening == 0 else "left",
            fontsize=8,
        )


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
        if state not in (tr.CROSSING_IN, tr.CROSSING_OUT) or stop < low or start > high:
            continue
        ends = {e.kind for e in ordered if e.animal == animal and start <= e.time <= stop}
        end = "is struck" if "is struck" in ends else "turns back" if "turns back" in ends else ""
        found.append(Crossing(trace.animals[animal], start, stop, state, end))
    return found


def _draw_crossing(ax: Axes, spot: Crossing, release: float, unit: float) -> None:
    height = spot.animal.needed_height / unit
    out = spot.way == tr.CROSSING_OUT
    colour = style.ORANGE if out else style.BLUE
    left, right = spot.start - release, spot.stop - release
    ax.plot([left, right], [height, height], color=colour, linewidth=4, solid_capstyle="butt")
    ax.plot(right, height, ">" if not spot.end else "X", color=colour, markersize=7)
    words = f"{spot.animal.label} {'out' if out else 'in'}"
    words += f", {spot.end}" if spot.end else ""
    ax.annotate(
        words, (right, height), xytext=(7, 0), textcoords="offset points", va="center", fontsize=8
    )


def _needed_heights(ax: Axes, trace: Trace, unit: float) -> None:
    """At the right edge, the clear height each class needs: its tallest animal."""
    tallest: dict[str, float] = {}
    for animal in trace.animals:
        tallest[animal.animal_class] = max(
            tallest.get(animal.animal_class, 0.0), animal.needed_height
        )
    names = sorted(tallest, key=lambda name: tallest[name])
    top = 1.12 * max(opening.height for opening in trace.corral.openings) / unit
    places = style.spread([tallest[n] / unit for n in names], 0.075 * top, 0.02 * top, 0.98 * top)
    for name, place in zip(names, places, strict=True):
        height = tallest[name] / unit
        ax.axhline(height, color=style.MUTED, linewidth=0.7, linestyle=(0, (1, 3)), zorder=0)
        ax.annotate(
            f"{name} needs {height:.0f}",
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
            several = event.kind in ("gate shut", "gate moves") and len(trace.closing) > 1
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


def _title(figure: Figure, trace: Trace) -> None:
    words = [f"Night {trace.night} of seed {trace.seed}"]
    if trace.title:
        words.insert(0, trace.title)
    outcome = tr.outcome_words(trace.row) if trace.row else ""
    if not any(event.kind == "arrives" for event in trace.events):
        outcome = "No animal came."
    elif trace.release_time is None:
        outcome = f"Nothing was released. {outcome}"
    figure.suptitle("\n".join([". ".join(words), outcome]), x=0.01, ha="left", fontsize=10)


def _legend(figure: Figure, trace: Trace) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    present = {state for _, state, _, _ in trace.segments()}
    handles: list[Line2D | Patch] = []
    for state, words in _WORDS.items():
        if state not in present:
            continue
        if state in _LINES:
            handles.append(Line2D([], [], label=words, **_LINES[state]))
        else:
            handles.append(Patch(label=words, linewidth=0.6, **_BARS[state][1]))
    if handles:
        figure.legend(handles=handles, loc="outside lower left", ncols=5)
