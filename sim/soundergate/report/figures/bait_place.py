"""Where the bait lies: the walk in to it, and whether one that bolts from it is out in time.

At the noise of the gate a bolter takes fright after a delay, runs from the bait to the opening and
needs a moment to be through; the gate meanwhile closes on what its body needs. All of it as in a
night, for one animal with nobody in its way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soundergate.behavior.group import group_of
from soundergate.mechanics.numbers_in_words import percent
from soundergate.report import style
from soundergate.report.figures import class_bars
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import OpeningSetup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario

CAPTION = (
    "For one animal that bolts from the bait with nobody in its way; the dotted line is where the "
    "bait lies. Time counts from the gate's first movement. Bait farther in holds bolters longer "
    "and makes the walk in longer too."
)

_STEPS = 41
"""Distances at which curves are drawn."""

_NODES = 48
"""Quantiles of the delay, and as many of the body, whose pairs stand for all bolters."""


@dataclass(frozen=True)
class Bolter:
    """A class of animals that bolts out of one opening; times in s, distances in m."""

    name: str
    delay: NDArray[np.float64]
    """float[K]: quantiles of the time to take fright."""
    through: NDArray[np.float64]
    """float[K, K] by body and chance: time to be through the opening, once there."""
    passable: NDArray[np.float64]
    """float[K]: by body, time from the gate moving until it no longer gets by."""
    speed: float

    def times(self, distance: float) -> NDArray[np.float64]:
        """float[K, K, K] by body, chance of crossing and delay: time until it is out."""
        there = self.delay + distance / self.speed
        times: NDArray[np.float64] = self.through[:, :, None] + there
        return times

    def out_in_time(self, distance: float) -> float:
        """Share of bolters that are through before the gate bars them."""
        return float((self.times(distance) <= self.passable[:, None, None]).mean())


def bolters(scenario: Scenario, index: int, solved: OpeningSetup) -> list[Bolter]:
    """The classes that come, as they bolt out of opening ``index``."""
    opening, body, movement = scenario.opening[index], scenario.body, scenario.movement
    by_gap = solved.curve.measure == "gap"
    size = body.width_coefficient if by_gap else body.height_coefficient * body.duck
    chances = (np.arange(_NODES) + 0.5) / _NODES
    delay = _quantiles(scenario.startle.delay, chances)
    found = []
    for name, scale in class_bars.scales(scenario, group_of(scenario)).items():
        scales = np.array([scale.at(NormalDist().inv_cdf(q)) for q in chances])
        if movement.crossing is None:
            length = opening.gate.depth + body.length_coefficient * scales
            through = length[:, None] / movement.bolt_speed
        else:
            through = np.tile(_quantiles(movement.crossing, chances), (_NODES, 1))
        until = np.array([_passable(solved, size * float(factor)) for factor in scales])
        found.append(Bolter(name, delay, through, until, movement.bolt_speed))
    return found


def _quantiles(duration: Duration, chances: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([duration.quantile(float(q)) for q in chances])


def _passable(solved: OpeningSetup, need: float) -> float:
    """Time (s) until the clearance has fallen to ``need`` (m); 0 for what never fits."""
    return 0.0 if need > solved.curve.height else solved.curve.time_to(need)


def bait_place_figure(
    scenario: Scenario, index: int, solved: OpeningSetup, units: Units = SI
) -> tuple[Figure, str]:
    """Over the distance of the bait from opening ``index``: the walk in, and the run out."""
    found = bolters(scenario, index, solved)
    here = scenario.opening[index].bait_distance
    with style.sheet():
        figure = style.new_figure(5.8, 7.6)
        above, below = figure.subfigures(2, 1, height_ratios=(1.0, 1.15))  # type: ignore[misc]
        way_in, share = above.subplots(1, 2)
        _way_in(way_in, scenario, units, here)
        _shares(share, found, scenario, units, here)
        panels = below.subplots(1, len(found), sharey=True, squeeze=False)[0]
        tops = [
            _run_out(ax, bolter, scenario, units, here)
            for ax, bolter in zip(panels, found, strict=True)
        ]
        panels[0].set_ylim(0, 1.12 * max(tops))
        panels[0].set_ylabel("time from the gate's first\nmovement (s)")
        _legend(below, panels[0])
    told = ", ".join(f"{percent(b.out_in_time(here))} of {b.name}s" for b in found)
    return figure, (
        f"The bait lies {units.length(here)} from the opening. Of those that bolt from it "
        f"with nobody in their way, out before the gate bars them: {told}."
    )


def _distances(scenario: Scenario) -> NDArray[np.float64]:
    return np.linspace(0.0, scenario.corral.diameter, _STEPS)


def _dress(ax: Axes, scenario: Scenario, units: Units, here: float) -> None:
    sign, unit = units.lengths
    ax.axvline(here / unit, color=style.INK, linestyle=":", linewidth=1.4)
    ax.set_xlim(0, scenario.corral.diameter / unit)
    ax.set_xlabel(f"bait from the opening ({sign})")
    ax.grid()


def _way_in(ax: Axes, scenario: Scenario, units: Units, here: float) -> None:
    """Walking time from the opening to the bait."""
    distances, movement = _distances(scenario), scenario.movement
    if movement.travel is None:
        times = distances / movement.walk_speed
    else:  # the file gives the time itself
        times = np.full(len(distances), movement.travel.median())
    ax.plot(distances / units.lengths.size, times, color=style.BLUE, linewidth=2)
    now = float(np.interp(here, distances, times))
    ax.plot(here / units.lengths.size, now, "o", color=style.BLUE)
    ax.annotate(
        f"{now:.2g} s", (here / units.lengths.size, now), (-6, 4), textcoords="offset points",
        ha="right", fontsize=8,
    )  # fmt: skip
    ax.set_ylim(0, 1.1 * max(float(times.max()), 1e-9))
    ax.set_ylabel("walk from opening to bait (s)")
    ax.set_title("The way in")
    _dress(ax, scenario, units, here)


def _shares(ax: Axes, found: list[Bolter], scenario: Scenario, units: Units, here: float) -> None:
    """Share of each class's bolters that are out in time."""
    distances = _distances(scenario)
    for bolter, (colour, line, mark) in zip(found, style.SERIES, strict=False):
        shares = [100.0 * bolter.out_in_time(float(d)) for d in distances]
        ax.plot(
            distances / units.lengths.size, shares, line, color=colour, marker=mark, markersize=4,
            markevery=5, label=bolter.name,
        )  # fmt: skip
    ax.set_ylim(0, 105)
    ax.set_ylabel("bolters out in time (%)")
    ax.annotate(
        _reach(found, distances, units), (0.03, 0.62), xycoords="axes fraction",
        fontsize=8, bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 1.0},
    )  # fmt: skip
    ax.set_title("Who gets out")
    ax.legend(loc="upper right", frameon=True, facecolor=style.PAPER, edgecolor="none")
    _dress(ax, scenario, units, here)


def _reach(found: list[Bolter], distances: NDArray[np.float64], units: Units) -> str:
    """From how far fewer than 1 in 100 of any class get out, in words."""
    fine = np.linspace(0.0, float(distances[-1]), 121)
    out = [d for d in fine if any(b.out_in_time(float(d)) >= 0.01 for b in found)]
    if not out:
        return "fewer than 1 in 100 get out\nfrom anywhere inside"
    if out[-1] == fine[-1]:
        return ""
    return f"fewer than 1 in 100 get out\nfrom beyond {units.length(float(out[-1]), 1)}"


def _run_out(ax: Axes, bolter: Bolter, scenario: Scenario, units: Units, here: float) -> float:
    """When a bolter is out, against until when the gate lets its class by; the highest time."""
    distances = _distances(scenario)
    times = [np.quantile(bolter.times(float(d)), (0.1, 0.5, 0.9)) for d in distances]
    low, middle, high = np.array(times).T
    x = distances / units.lengths.size
    ax.fill_between(x, low, high, color=style.PALE_BLUE, label="out: 10 to 90 %")
    ax.plot(x, middle, color=style.BLUE, linewidth=1.8, label="out: median")
    ends = np.quantile(bolter.passable, (0.05, 0.5, 0.95), method="inverted_cdf")
    if math.isfinite(ends[1]):
        ax.axhspan(float(ends[0]), float(min(ends[2], 1e3)), color=style.PALE_ORANGE, alpha=0.8)
        ax.axhline(
            float(ends[1]), color=style.ORANGE, linewidth=2, label="gate bars it (band: 5 to 95 %)"
        )
    else:
        ax.annotate(
            "the gate never bars it", (0.5, 0.96), xycoords="axes fraction", ha="center", va="top",
            fontsize=8,
        )  # fmt: skip
    ax.set_title(f"{bolter.name}: {percent(bolter.out_in_time(here))} out", fontsize=9)
    _dress(ax, scenario, units, here)
    return float(max([*high, *ends[np.isfinite(ends)]]))


def _legend(figure: object, ax: Axes) -> None:
    handles, labels = ax.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3)  # type: ignore[attr-defined]
