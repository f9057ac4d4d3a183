"""A person on a link: how late the release comes, and how far the count can be trusted."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from soundergate.report import style
from soundergate.scenario.unit_system import SI, Units
from soundergate.triggers import person as person_trigger

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.person import PersonTrigger

CAPTION = (
    "Each step takes its own time on each night; a count's error stays until the true count "
    "changes. The level line is the count that the person waits for at first."
)


def draw(
    person: PersonTrigger, scenario: Scenario, setup: Setup, units: Units = SI
) -> tuple[Figure, str]:
    """How late a person on this link acts, and how far the count on the screen can be trusted."""
    with style.sheet():
        figure = style.new_figure(3.5)
        delays, counts = figure.subplots(1, 2, width_ratios=(1.2, 1.0))
        _delays(delays, _delay_ranges(person))
        hidden = _counts(counts, person, scenario)
    return figure, (
        f"The steps from alert to release, 5 to 95 %, and the count on the screen: each animal "
        f"inside is missed with a probability of {100 * hidden:.0f} %."
    )


def _delay_ranges(person: PersonTrigger) -> Mapping[str, tuple[float, float, float]]:
    """5 %, median and 95 % in s of each step."""
    frame = person.frame_interval
    retry = person.retry * _lost(person.dropout, 0.95)
    return {
        "alert to watching": _range(person.alert),
        "waiting for a frame": (0.05 * frame, 0.5 * frame, 0.95 * frame),
        "picture on its way": (person.view_delay,) * 3,
        "making up one's mind": _range(person.reaction),
        "command on its way": _range(person.command_delay),
        "lost commands, sent again": (0.0, person.retry * _lost(person.dropout, 0.5), retry),
    }


def _range(duration: Duration) -> tuple[float, float, float]:
    return duration.quantile(0.05), duration.quantile(0.5), duration.quantile(0.95)


def _lost(share: float, q: float) -> int:
    """The q-quantile of how many commands are lost in a row (geometric)."""
    if share <= 0.0:
        return 0
    if share >= 1.0:
        return 50
    return max(0, math.ceil(math.log(1.0 - q) / math.log(share) - 1.0))


def _delays(ax: Axes, ranges: Mapping[str, tuple[float, float, float]]) -> None:
    longest = max(high for _, _, high in ranges.values())
    for place, (low, middle, high) in enumerate(ranges.values()):
        ax.plot([low, high], [-place, -place], color=style.BLUE, linewidth=6)
        ax.plot(middle, -place, "|", color=style.INK, markersize=11, markeredgewidth=1.6)
        ax.annotate(
            f"{middle:.2g} s" if middle else "0 s", (high, -place), (6, 0),
            textcoords="offset points", va="center", fontsize=8,
        )  # fmt: skip
    ax.set_yticks([-n for n in range(len(ranges))], list(ranges))
    ax.set_xscale("symlog", linthresh=0.1)
    ax.xaxis.set_major_formatter("{x:g}")
    ax.set_xlim(0, max(longest, 1.0) * 6)
    ax.set_xlabel("time (s), 5 to 95 %, median marked")
    ax.set_title("How late the release comes")
    ax.grid(axis="x")


def _counts(ax: Axes, person: PersonTrigger, scenario: Scenario) -> float:
    """Mean and 5 to 95 % of the count on the screen; the share that is missed."""
    from matplotlib.ticker import MaxNLocator

    table = person_trigger.seen_distribution(person, scenario)
    inside = np.arange(len(table))
    low, high = (np.array([np.argmax(row >= q) for row in table]) for q in (0.05, 0.95))
    mean = np.array([float(np.sum(1.0 - row)) for row in table])
    ax.fill_between(inside, low, high, color=style.PALE_BLUE, label="5 to 95 %")
    ax.plot(inside, mean, color=style.BLUE, label="mean")
    ax.plot(inside, inside, color=style.INK, linestyle=":", label="true number")
    ax.set_ylim(0, 1.32 * max(float(high[-1]), 1.0))
    _waits_for(ax, person, scenario)
    ax.set_xlim(0, inside[-1])
    ax.set_xlabel("animals inside")
    ax.set_ylabel("animals counted on the screen")
    ax.set_title("What the person counts")
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MaxNLocator(integer=True))
    ax.legend(loc="upper left", ncols=2, fontsize=7.5)
    ax.grid()
    return person_trigger.hidden_share(person, scenario)


def _waits_for(ax: Axes, person: PersonTrigger, scenario: Scenario) -> None:
    """The count that is asked for as watching begins, of the largest group."""
    _, count, share = person_trigger.rule_steps(person)[0]
    wanted = count
    if share < math.inf:
        wanted = min(count, max(1.0, math.ceil(share * scenario.animals - 1e-9)))
    ax.axhline(wanted, color=style.ORANGE, linewidth=1.6)
    ax.annotate(
        f"waits for {wanted:.0f}", (1.0, wanted), (-2, 3), xycoords=("axes fraction", "data"),
        textcoords="offset points", ha="right", fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
    )  # fmt: skip
