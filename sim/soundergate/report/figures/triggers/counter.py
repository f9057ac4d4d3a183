"""A beam or treadle: how its errors change the count, and when it therefore releases."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from soundergate.report import style
from soundergate.scenario.unit_system import SI, Units
from soundergate.triggers import counter as counter_trigger

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.counter import CounterTrigger

CAPTION = (
    "Errors add up with every passage and stay until the night ends, so animals that go out and "
    "in again make the count less sure. On the right all go straight in and none goes out."
)


def draw(
    counter: CounterTrigger, scenario: Scenario, setup: Setup, units: Units = SI
) -> tuple[Figure, str]:
    """The count against the true number inside, and the chance of release at each true number."""
    missed, _, twice = counter_trigger.passage_shares(counter)
    inside = np.arange(scenario.animals + 1)
    by = np.array([counter_trigger.released_by(counter, int(n)) for n in inside])
    with style.sheet():
        figure = style.new_figure(3.5)
        counts, releases = figure.subplots(1, 2)
        _counts(counts, counter, inside)
        _releases(releases, counter, inside, by)
    early = float(by[min(counter.count, len(by)) - 1]) if counter.count <= len(by) else 0.0
    whole = f"{_percent(by[-1])} by the time that all {inside[-1]} are in"
    return figure, (
        f"Of passages {_percent(missed)} are missed and {_percent(twice)} counted twice. It asks "
        f"for {counter.count}: when all go straight in, it has released with fewer inside on "
        f"{_percent(early)} of nights, and on {whole}."
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _counts(ax: Axes, counter: CounterTrigger, inside: np.ndarray) -> None:
    """5 to 95 % of the net count, straight in, and after each has gone out and in once more."""
    straight = np.array([_range(counter, int(n), 0) for n in inside])
    again = np.array([_range(counter, 2 * int(n), int(n)) for n in inside])
    ax.fill_between(
        inside, again[:, 0], again[:, 2], facecolor=style.PAPER, edgecolor=style.ORANGE,
        hatch="////", linewidth=0.8, label="after each was out once",
    )  # fmt: skip
    ax.fill_between(
        inside, straight[:, 0], straight[:, 2], color=style.PALE_BLUE, label="all straight in"
    )
    ax.plot(inside, straight[:, 1], color=style.BLUE, label="its mean")
    ax.plot(inside, inside, color=style.INK, linestyle=":", label="true number")
    _asked(ax, counter)
    ax.set_xlabel("animals inside")
    ax.set_ylabel("net count, 5 to 95 %")
    ax.set_title("What it counts")
    top = max(float(straight[-1, 2]), float(again[-1, 2]), counter.count)
    ax.set_xlim(0, inside[-1])
    ax.set_ylim(min(0.0, float(again[:, 0].min())), 1.45 * top)
    ax.legend(loc="upper left", ncols=2, fontsize=7.5, columnspacing=1.0, handlelength=1.6)
    _whole(ax)
    ax.grid()


def _range(counter: CounterTrigger, entries: int, exits: int) -> tuple[float, float, float]:
    """5 %, mean and 95 % of the net count after so many passages."""
    counts, mass = counter_trigger.net_counts(counter, entries, exits)
    below = np.cumsum(mass)
    low, high = (float(counts[np.argmax(below >= q)]) for q in (0.05, 0.95))
    return low, float(counts @ mass), high


def _asked(ax: Axes, counter: CounterTrigger) -> None:
    ax.axhline(counter.count, color=style.ORANGE, linewidth=1.6)
    ax.annotate(
        f"asks for {counter.count}", (1.0, counter.count), (-2, 3),
        xycoords=("axes fraction", "data"), textcoords="offset points", ha="right", fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
    )  # fmt: skip


def _releases(ax: Axes, counter: CounterTrigger, inside: np.ndarray, by: np.ndarray) -> None:
    """Bars: released just as the n-th came in; line: released by then."""
    ax.bar(
        inside[1:], 100 * np.diff(by), 0.7, facecolor=style.PALE_BLUE, edgecolor=style.BLUE,
        hatch="//", label="just as that one came in",
    )  # fmt: skip
    ax.plot(inside, 100 * by, color=style.BLUE, marker="o", markersize=4, label="by then")
    ax.plot([counter.count] * 2, [0, 104], color=style.ORANGE, linewidth=1.6)
    ax.annotate(
        "asked for", (counter.count, 104), (0, 2), textcoords="offset points", ha="center",
        fontsize=8,
    )  # fmt: skip
    ax.set_xlim(0, max(int(inside[-1]), counter.count) + 0.6)
    ax.set_ylim(0, 148)
    ax.set_yticks(range(0, 101, 20))
    ax.set_xlabel("animals inside" + _dwell(counter))
    ax.set_ylabel("released (% of nights)")
    ax.set_title("When it releases")
    ax.legend(loc="upper left", fontsize=7.5)
    _whole(ax)
    ax.grid(axis="y")


def _dwell(counter: CounterTrigger) -> str:
    if counter.dwell is None:
        return ""
    return f"\nIt also releases {counter.dwell:g} s after its first count."


def _whole(ax: Axes) -> None:
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
