"""A bait container on its stand: as bait is eaten, what it pulls, and who can move it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.behavior.group import group_of
from soundergate.report import style
from soundergate.report.figures import class_bars
from soundergate.report.words.plan_words import bait_from, opening_name
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.unit_system import SI, Units
from soundergate.triggers import bait as bait_trigger

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.bait import BaitTrigger

CAPTION = (
    "Steps as the model takes them, the weight of each from the bait at its beginning; bands are "
    "5 to 95 %. A lighter container is moved by more animals and pulls the latch less. It stands "
    "at the bait, so it acts while animals feed there: how far they then have to run is shown "
    "with the place of the bait."
)


def draw(
    bait: BaitTrigger, scenario: Scenario, setup: Setup, units: Units = SI
) -> tuple[Figure, str]:
    """As bait is eaten: the pull on the latch, the push that slides it, and who is able to."""
    with style.sheet():
        figure = style.new_figure(3.7, 7.8)
        figure.get_layout_engine().set(w_pad=0.1)  # type: ignore[union-attr, call-arg]
        pulls, pushes, able = figure.subplots(1, 3)
        _pulls(pulls, bait, scenario, setup, units)
        _pushes(pushes, bait, scenario, units)
        _able(able, bait, scenario, units)
        for ax in (pulls, pushes, able):
            _bait_left(ax, scenario, units)
    first, last = 0, len(bait_trigger.LEFT) - 1
    weights = [units.force(_weight(bait, scenario, level)) for level in (first, last)]
    shares = [100.0 * bait_trigger.able_share(bait, scenario, n) for n in (first, last)]
    return figure, (
        f"Full, the container weighs {weights[0]} and {shares[0]:.0f} % of the group can "
        f"move it; empty, {weights[1]} and {shares[1]:.0f} %. It stands at the bait, "
        f"{units.length(bait_from(scenario, 0))} from {opening_name(scenario, 0)}."
    )


def _weight(bait: BaitTrigger, scenario: Scenario, level: int) -> float:
    return bait_trigger.container_mass(bait, scenario, level) * GRAVITY


def _left(scenario: Scenario, units: Units) -> list[float]:
    """Bait left where each level begins, in the unit shown, full first."""
    return [share * scenario.bait.mass / units.masses.size for share in bait_trigger.LEFT]


def _steps(ax: Axes, left: list[float], values: list[float], **look: object) -> None:
    """A value a level, held until the next level begins."""
    ax.step(left, values, where="post", **look)  # type: ignore[arg-type]


def _bait_left(ax: Axes, scenario: Scenario, units: Units) -> None:
    full = scenario.bait.mass / units.masses.size
    ax.set_xlim(1.03 * max(full, 1e-9), -0.03 * full)
    ax.set_xlabel(f"bait left ({units.masses.sign})")
    ax.grid()


def _pulls(ax: Axes, bait: BaitTrigger, scenario: Scenario, setup: Setup, units: Units) -> None:
    """Weight of the falling container, against what each latch that it pulls needs."""
    sign, size = units.forces
    left = _left(scenario, units)
    weights = [_weight(bait, scenario, level) / size for level in range(len(left))]
    _steps(ax, left, weights, color=style.BLUE, linewidth=2)
    top = max(weights)
    needs = dict.fromkeys(
        (o.pull_required, o.pull_required_sigma) for o in setup.openings if o.puller == "animal"
    )
    for need, sigma in needs:
        low, high = (need / size * math.exp(z * sigma) for z in _ENDS)
        ax.axhspan(low, high, color=style.PALE_ORANGE, zorder=0)
        ax.axhline(need / size, color=style.ORANGE, linewidth=1.6)
        top = max(top, high)
        ax.annotate(
            f"latch needs {units.force(need)}\n(band: 5 to 95 %)",
            (left[0], need / size), (3, 3), textcoords="offset points", fontsize=7.5,
        )  # fmt: skip
    ax.set_ylim(0, 1.12 * top)
    ax.set_ylabel(f"weight of the container ({sign})")
    ax.set_title("What it pulls" if needs else "It works a switch")


_ENDS = (-class_bars.NINETY, class_bars.NINETY)


def _pushes(ax: Axes, bait: BaitTrigger, scenario: Scenario, units: Units) -> None:
    """The push that slides it, and how hard a median animal of each class pushes."""
    sign, size = units.forces
    left = _left(scenario, units)
    needed = [bait_trigger.push_needed(bait, scenario, level) for level in range(len(left))]
    low, high = ([n.median / size * math.exp(z * n.sigma) for n in needed] for z in _ENDS)
    ax.fill_between(left, low, high, step="post", color=style.PALE_ORANGE)
    _steps(ax, left, [n.median / size for n in needed], color=style.ORANGE, linewidth=2)
    top = max(high)
    pushes = class_bars.pushes(scenario, group_of(scenario))
    medians = {name: push.at(0.0) / size for name, push in pushes.items()}
    top = 1.12 * max(top, *medians.values())
    places = style.spread(list(medians.values()), 0.06 * top, 0.0, 0.97 * top)
    for (name, median), place in zip(medians.items(), places, strict=True):
        ax.axhline(median, color=style.BLUE, linewidth=1.2, linestyle=(0, (4, 2)))
        ax.annotate(
            f"{name} pushes {units.force(median * size)}",
            (0.98, place),
            (0, 1),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize=7.5,
            bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.4, "alpha": 0.8},
        )
    ax.set_ylim(0, 1.06 * top)
    ax.set_ylabel(f"push to slide it ({sign})")
    ax.set_title("What it takes")


def _able(ax: Axes, bait: BaitTrigger, scenario: Scenario, units: Units) -> None:
    """Share of each class, and of the whole group, that is strong enough."""
    left, group = _left(scenario, units), group_of(scenario)
    levels = range(len(left))
    by_level = [bait_trigger.able_by_class(bait, scenario, level) for level in levels]
    places = {kind.name: c for c, kind in reversed(list(enumerate(group.classes)))}
    for (name, c), look in zip(reversed(places.items()), style.SERIES[1:], strict=False):
        shares = [100.0 * able[c] for able in by_level]
        _steps(ax, left, shares, color=look[0], linestyle=look[1], linewidth=1.6, label=name)
    whole = [100.0 * bait_trigger.able_share(bait, scenario, level) for level in levels]
    _steps(ax, left, whole, color=style.BLUE, linewidth=2.4, label="whole group")
    ax.set_ylim(0, 105)
    ax.set_ylabel("share strong enough (%)")
    ax.set_title("Who can move it")
    ax.legend(loc="lower left", fontsize=7.5)
