"""One night drawn: every animal a line through time, and the seconds in which the gate came down.

The deeper in, the thicker the line: outside is a thin line, inside a bar, feeding a full bar, so
the picture can be read without its colours.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from soundergate.engine.trace import event_kinds as kinds
from soundergate.report import style
from soundergate.report.figures.closing_panel import draw_closing
from soundergate.report.figures.night_lanes import (
    BARS,
    LINES,
    MOST_LABELLED,
    draw_inside,
    draw_lanes,
    later_words,
    time_axis,
)
from soundergate.report.words.answers import night_answer
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    from soundergate.engine.trace.trace import Trace

_WORDS = {
    kinds.OUTSIDE: "outside",
    kinds.WAITING: "waiting at the opening",
    kinds.CROSSING_IN: "going in",
    kinds.INSIDE: "inside",
    kinds.FEEDING: "feeding",
    kinds.WALKING_OUT: "on the way out",
    kinds.BOLTING: "bolting",
    kinds.CROSSING_OUT: "going out",
    kinds.CAUGHT: "shut in",
    kinds.ESCAPED: "escaped",
}


def night_figure(trace: Trace, units: Units = SI) -> Figure:
    """Draw one night.

    Every animal is a lane; below it the number inside and the bait; where a gate came down, a
    last panel shows the seconds around it with the clear height falling and the bodies that went
    through. Returns a figure to save with `style.save`.
    """
    number = max(trace.group_size, 1)
    closed = trace.release_time is not None and any(trace.closing)
    heights = [_lane(trace) * number + 0.5, 1.25] + ([2.5] if closed else [])
    with style.sheet():
        title = _title(trace)
        more = 0.17 * max(len(title) - 2, 0)
        figure = style.new_figure(sum(heights) + 1.3 + 0.5 * closed + more)
        axes = figure.subplots(len(heights), 1, height_ratios=heights)
        axis = time_axis(trace)
        draw_lanes(trace, axes[0], axis)
        figure.suptitle("\n".join(title), x=0.01, ha="left", fontsize=10)
        draw_inside(trace, axes[1], axis)
        for upper in axes[:2]:
            upper.set_xlim(axis(axis.start), axis(axis.stop))
        axes[0].tick_params(labelbottom=False)
        if closed:
            draw_closing(trace, axes[2], units)
        _legend(figure, trace)
    return figure


def lanes(trace: Trace, ax: Axes | None = None) -> Axes:
    """The lanes alone, one an animal, on the axes given or on a figure of their own."""
    with style.sheet():
        height = _lane(trace) * max(trace.group_size, 1) + 0.5
        ax = style.axes_of(ax, height + 1.7)
        axis = time_axis(trace)
        draw_lanes(trace, ax, axis)
        ax.set_xlim(axis(axis.start), axis(axis.stop))
        ax.set_xlabel(f"time since the first arrival ({axis.unit})")
        ax.set_title(f"Night {trace.night} of seed {trace.seed}")
        handles = _handles(trace)
        if handles:
            ax.legend(handles=handles, loc="upper left", bbox_to_anchor=(0, -0.5 / height), ncols=4)
    return ax


def _lane(trace: Trace) -> float:
    """Height of a lane, inches."""
    number = trace.group_size
    return 0.21 if number <= MOST_LABELLED else 8.4 / number


def _title(trace: Trace) -> list[str]:
    """What the night is, how it ended, and what follows after the picture, in lines."""
    words = [f"Night {trace.night} of seed {trace.seed}"]
    if trace.title:
        words.insert(0, trace.title)
    lines = textwrap.wrap(". ".join(words), _TITLE, max_lines=3, placeholder=" …")
    for told in (night_answer(trace), later_words(trace, time_axis(trace).stop)):
        lines += textwrap.wrap(told, _TITLE)
    return lines


_TITLE = 85
"""Letters in a line of the title."""


def _legend(figure: Figure, trace: Trace) -> None:
    handles = _handles(trace)
    if handles:
        figure.legend(handles=handles, loc="outside lower left", ncols=5)


def _handles(trace: Trace) -> list[Line2D | Patch]:
    """A sample and words for each state that is drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    stop = time_axis(trace).stop
    present = {state for _, state, start, _ in trace.segments() if start < stop}
    handles: list[Line2D | Patch] = []
    for state, words in _WORDS.items():
        if state not in present:
            continue
        if state in LINES:
            handles.append(Line2D([], [], label=words, **LINES[state]))
        else:
            handles.append(Patch(label=words, linewidth=0.6, **BARS[state][1]))
    return handles
