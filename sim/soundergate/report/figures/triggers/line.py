"""A trip line: how high it hangs, who touches it, and the push it takes."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from soundergate.behavior.group import group_of
from soundergate.report import style
from soundergate.report.figures import class_bars
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.unit_system import SI, Units
from soundergate.triggers import line as line_trigger

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.line import LineTrigger

CAPTION = (
    "Bars are 5 to 95 % of each class, the mark across it its median; the line across all bars is "
    "what the trigger asks for. A line before the bait is met by all that come in by opening 1; "
    "one beyond it by those that move about there. The plan of the trap shows where it hangs."
)


def draw(
    line: LineTrigger, scenario: Scenario, setup: Setup, units: Units = SI
) -> tuple[Figure, str]:
    """Backs against the height of the line, and the push it takes to trip it."""
    work = line_trigger.line_work(line, scenario, setup)
    with style.sheet():
        figure = style.new_figure(3.4)
        figure.get_layout_engine().set(w_pad=0.08)  # type: ignore[union-attr, call-arg]
        backs, pushes = figure.subplots(1, 2)
        touching = _backs(backs, work, scenario, units)
        _pushes(pushes, work, scenario, units)
    where = "beyond the bait" if work.beyond else "before the bait"
    words = ", ".join(f"{100 * share:.0f} % of {name}s" for name, share in touching.items())
    return figure, (
        f"A line {where}, {units.height(work.height)} high at its middle. Tall enough to "
        f"touch it: {words}."
    )


def _backs(
    ax: Axes, work: line_trigger.LineWork, scenario: Scenario, units: Units
) -> dict[str, float]:
    """Back heights, 5 to 95 %, against the line; the share of each class that touches it."""
    sign, size = units.heights
    tall = math.log(scenario.body.height_coefficient)
    backs = {
        name: LogNormal.from_ln(tall + scale.ln_median, scale.sigma)
        for name, scale in class_bars.scales(scenario, group_of(scenario)).items()
    }
    class_bars.draw(ax, backs, size)
    touching: dict[str, float] = {}
    for place, (name, back) in enumerate(backs.items()):
        ahead = back.ln_median - math.log(max(work.height, 1e-9))
        share = NormalDist().cdf(ahead / back.sigma) if back.sigma > 0.0 else float(ahead > 0.0)
        touching[name] = share
        ax.annotate(
            f"{100 * share:.0f} %", (place, back.at(class_bars.NINETY) / size), (0, 4),
            textcoords="offset points", ha="center", fontsize=8,
        )  # fmt: skip
    ax.axhline(work.height / size, color=style.ORANGE, linewidth=2)
    ax.set_ylim(0, 1.1 * max(ax.get_ylim()[1] / 1.1, work.height / size))
    ax.set_ylabel(f"back height ({sign})")
    ax.set_title("Who touches it")
    return touching


def _pushes(ax: Axes, work: line_trigger.LineWork, scenario: Scenario, units: Units) -> None:
    """The push that trips the line over the span, and what each class can push."""
    sign, size = units.forces
    class_bars.draw(ax, class_bars.pushes(scenario, group_of(scenario)), size)
    needed, words = work.push, f"needs {units.force(work.push)}"
    if not math.isfinite(needed):
        needed, words = 0.0, "breaks before it pulls enough"
    elif needed == 0.0 and not work.switch:
        words = "its own tension is enough"
    else:
        ax.axhline(needed / size, color=style.ORANGE, linewidth=2)
    ax.set_ylim(0, 1.25 * max(ax.get_ylim()[1] / 1.12, needed / size))
    ax.annotate(
        words, (1.0, 0.98), xycoords="axes fraction",
        ha="right", va="top", fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.8},
    )  # fmt: skip
    ax.set_ylabel(f"sideways push ({sign})")
    ax.set_title("Works a switch" if work.switch else "Pulls the latch")
