"""Two panels of one night: a lane an animal, and the number inside with the bait left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soundergate.engine import codes
from soundergate.engine.trace import event_kinds as kinds
from soundergate.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.engine.trace.trace import Trace

# state -> height of the bar in lanes (0 = a line), and how it is drawn
BARS: dict[str, tuple[float, dict[str, Any]]] = {
    kinds.CROSSING_IN: (0.86, {"facecolor": style.INK, "edgecolor": style.INK}),
    kinds.CROSSING_OUT: (0.86, {"facecolor": style.PAPER, "edgecolor": style.INK}),
    kinds.INSIDE: (0.34, {"facecolor": style.PALE_BLUE, "edgecolor": style.BLUE}),
    kinds.FEEDING: (0.66, {"facecolor": style.BLUE, "edgecolor": style.BLUE}),
    kinds.WALKING_OUT: (
        0.34,
        {"facecolor": style.PALE_ORANGE, "edgecolor": style.ORANGE, "hatch": "////"},
    ),
    kinds.BOLTING: (0.66, {"facecolor": style.ORANGE, "edgecolor": style.PAPER, "hatch": "xxxx"}),
    kinds.CAUGHT: (0.34, {"facecolor": style.PAPER, "edgecolor": style.BLUE, "hatch": "----"}),
}
LINES: dict[str, dict[str, Any]] = {
    kinds.OUTSIDE: {"color": style.MUTED, "linewidth": 1.1, "linestyle": "-"},
    kinds.WAITING: {"color": style.INK, "linewidth": 1.8, "linestyle": (0, (1, 1))},
    kinds.ESCAPED: {"color": style.ORANGE, "linewidth": 1.4, "linestyle": (0, (4, 2))},
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


LONGEST_WAIT = 6.0
"""Captives that get out later than this many times the span of all else are told, not drawn."""


def time_axis(trace: Trace, whole: bool = False) -> TimeAxis:
    """From the first arrival to the end of what moves, in s, min or h as the span asks for.

    Captives that get out hours after all else has ended, and onlookers that leave so late, lie
    beyond its end, unless it shall hold the `whole` night: on that scale nothing else could be
    seen.
    """
    zero = trace.first_arrival
    ways = trace.breakouts()
    near = {event.animal for event in trace.events if event.kind == "stays near"}
    changes, outs = [], []
    for animal, state, start, _ in trace.segments():
        if animal in (ways if state == kinds.ESCAPED else near if state == kinds.GONE else ()):
            outs.append(start)
        elif state != kinds.AWAY:
            changes.append(start)
    releases = [] if trace.release_time is None else [trace.release_time]
    shut = [time for time in trace.shut_time if time is not None]
    active = max([*changes, *releases, *shut, zero])
    last = max([active, *outs])
    if not whole and last - zero > LONGEST_WAIT * (active - zero) > 0:
        last = active
    span = max(last - zero, 1.0)
    if span < 180:
        size, unit = 1.0, "s"
    elif span < 3 * 3600:
        size, unit = 60.0, "min"
    else:
        size, unit = 3600.0, "h"
    return TimeAxis(zero, size, unit, zero - 0.03 * span, last + 0.08 * span)


def draw_lanes(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    """One lane an animal, first animal on top; what became of it stands at the right."""
    number, segments = trace.group_size, trace.segments()
    last = {animal: place for place, (animal, *_) in enumerate(segments)}
    for place, (animal, state, start, stop) in enumerate(segments):
        row = number - 1 - animal
        # one that got out at the end of the night was shut in no longer than until then
        stays = state in (kinds.CAUGHT, kinds.ESCAPED) and place == last[animal]
        ends = axis.stop if stays else min(stop, axis.stop)
        left, right = axis(start), axis(ends)
        if state in BARS and start < axis.stop:
            height, look = BARS[state]
            width = max(right - left, (axis(axis.stop) - axis(axis.start)) / 400)
            ax.barh(row, width, height, left, linewidth=0.5, **look)
        elif state in LINES and start < axis.stop:
            ax.plot([left, right], [row, row], solid_capstyle="butt", **LINES[state])
            if state == kinds.ESCAPED:
                ax.plot(left, row, "X", color=style.ORANGE, markersize=5)
    _release_marks(trace, ax, axis)
    _lane_labels(trace, ax, axis)
    ax.set_ylim(-0.7, number - 0.3)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    ax.grid(axis="x")
    _clock_axis(ax, axis)


MOST_LABELLED = 40
"""Lanes up to which every one is labelled; of more, the first of a class and every tenth are."""


def _lane_labels(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    """Names at the left, and what became of each at the right where there is room for it."""
    number = trace.group_size
    labelled = list(range(number))
    if number > MOST_LABELLED:
        classes = [animal.animal_class for animal in trace.animals]
        labelled = [k for k in labelled if (k - classes.index(classes[k])) % 10 == 0]
    names = [trace.name(k) for k in labelled]
    ax.set_yticks([number - 1 - k for k in labelled], names, fontsize=8)
    if number > MOST_LABELLED:
        return
    for animal, words in enumerate(_fate_words(trace, axis.stop)):
        ax.annotate(
            words,
            (1.01, number - 1 - animal),
            xycoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            fontweight="normal" if words == "caught" else "bold",
            annotation_clip=False,
        )


def _fate_words(trace: Trace, stop: float) -> list[str]:
    """What became of each animal, short enough to stand beside its lane.

    One that got out after `stop` s, where the lanes end, is told with its time.
    """
    came = {event.animal for event in trace.events if event.kind == "arrives"}
    ways, way_open = trace.breakouts(), trace.a_way_stays_open
    short = {
        codes.CAUGHT: "caught",
        codes.ESCAPED_DURING: "out, a way open" if way_open else "escaped, not yet shut",
        codes.ESCAPED_AFTER: "escaped, gate shut",
        codes.ESCAPED_BEFORE: "left" if trace.release_time is None or way_open else "left before",
        codes.NEVER_ENTERED: "never went in",
    }
    last = {animal: state for animal, state, _, _ in trace.segments()}
    out = {e.animal: e.time for e in trace.in_order() if e.kind in kinds.BREAKOUTS}
    words = []
    for who, fate in enumerate(trace.fates):
        if who in ways:
            late = f", {_clock_text(out[who], False)}" if out[who] >= stop else ""
            words.append(kinds.BREAKOUTS[ways[who]] + late)
        elif fate != codes.CAUGHT and last.get(who) in kinds.INSIDE_STATES:
            words.append("inside, a way open")
        else:
            words.append(short[fate] if who in came else "did not come")
    return words


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
    ticks = _round_ticks(axis.start, axis.stop)
    with_seconds = any(tick % 60 for tick in ticks)
    top.xaxis.set_major_formatter(FuncFormatter(lambda h, _: _clock_text(h * hours, with_seconds)))
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


def later_words(trace: Trace, stop: float) -> str:
    """Who gets out after `stop` s, where the picture ends: "3 follow by the hole, 2:10 to 4:05"."""
    times: dict[str, list[float]] = {}
    for event in trace.in_order():
        if event.kind in kinds.BREAKOUTS and event.time >= stop:
            times.setdefault(event.kind, []).append(event.time)
    told = []
    for kind, when in times.items():
        verb, rest = kind.split(" ", 1)
        verb = verb if len(when) == 1 else verb.removesuffix("s")
        ends = list(dict.fromkeys(_clock_text(time, False) for time in (when[0], when[-1])))
        told.append(f"{len(when)} {verb} {rest}, {' to '.join(ends)}")
    if not told:
        return ""
    return f"The picture ends at {_clock_text(stop, False)}; later: {'; '.join(told)}."


def draw_inside(trace: Trace, ax: Axes, axis: TimeAxis) -> None:
    """Number inside as steps, with the instants at which the bait fell to a lower level."""
    from matplotlib.ticker import MaxNLocator

    shown = [step for step in trace.inside_steps() if step[0] <= axis.stop]
    steps = [*shown, (axis.stop, shown[-1][1])]
    ax.step(
        [axis(time) for time, _ in steps],
        [count for _, count in steps],
        where="post",
        color=style.BLUE,
        linewidth=1.6,
    )
    ax.axhline(trace.group_size, color=style.MUTED, linewidth=0.8, linestyle=":")
    room = trace.group_size * 1.12 + 0.3
    beside = [(float(trace.group_size), f"whole group, {trace.group_size}")]
    final = trace.inside_steps()[-1][1]
    if final != shown[-1][1]:
        beside.append((float(final), f"{final} at the end of the night"))
    spread = style.spread([at for at, _ in beside], 0.2 * room, 0.0, room)
    for (_, words), at in zip(beside, spread, strict=True):
        ax.annotate(
            words,
            (1.01, at),
            xycoords=("axes fraction", "data"),
            va="center",
            fontsize=8,
            annotation_clip=False,
        )
    foot = -0.24 * room
    last_label = -float("inf")
    if not any(time < axis.stop for time, _ in trace.bait_steps()[1:]):
        stop = axis(axis.stop)
        ground = {"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6}
        ample = ax.annotate("more than 75 %", (stop, foot), ha="right", va="center", fontsize=7.5)
        ample.set_bbox(ground)
    for time, level in trace.bait_steps()[1:]:
        if time < axis.stop:
            x = axis(time)
            labelled = x - last_label > 0.07 * (axis(axis.stop) - axis(axis.start))
            last_label = x if labelled else last_label
            _bait_mark(ax, x, level, foot, labelled)
    if trace.release_time is not None:
        x = axis(trace.release_time)
        ax.axvline(x, color=style.INK, linewidth=1.2, linestyle="--")
        ax.text(x, 1.02, "release", transform=ax.get_xaxis_transform(), ha="center", fontsize=8)
    ax.axhline(0, color=style.MUTED, linewidth=0.8)
    ax.set_ylim(-0.4 * room, room)
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
