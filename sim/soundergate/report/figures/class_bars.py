"""What a class of animals can do, as bars: its 5 to 95 % and its median, one bar a class."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from soundergate.behavior.group import Group
from soundergate.report import style
from soundergate.scenario.unit_system import STANDARD_GRAVITY

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.scenario.schema import Scenario

NINETY = 1.6448536269514722
"""Standard normal quantile of 95 %: a bar from 5 to 95 %."""


class LogNormal(NamedTuple):
    """ln of the median, and the sd of the ln."""

    ln_median: float
    sd: float

    def at(self, z: float) -> float:
        """The value ``z`` standard deviations above the median."""
        return math.exp(self.ln_median + z * self.sd)


def masses(group: Group) -> dict[str, LogNormal]:
    """Mass (kg) by class present, of the first sounder that has it."""
    found: dict[str, LogNormal] = {}
    for kind in group.classes:
        found.setdefault(kind.name, LogNormal(kind.ln_mass, kind.ln_mass_sd))
    return found


def scales(scenario: Scenario, group: Group) -> dict[str, LogNormal]:
    """By class, the factor W^exponent with its scatter that makes every length of a body."""
    body = scenario.body
    return {
        name: LogNormal(
            body.exponent * mass.ln_median,
            math.hypot(body.exponent * mass.sd, body.shoulder_scatter),
        )
        for name, mass in masses(group).items()
    }


def pushes(scenario: Scenario, group: Group) -> dict[str, LogNormal]:
    """By class, how hard (N) an animal pushes: its strength times its weight."""
    strength = scenario.body.strength
    return {
        name: LogNormal(
            strength.ln_median + mass.ln_median + math.log(STANDARD_GRAVITY),
            math.hypot(strength.sigma, mass.sd),
        )
        for name, mass in masses(group).items()
    }


def draw(ax: Axes, spreads: Mapping[str, LogNormal], unit: float) -> None:
    """A bar a class, 5 to 95 %, its median a white mark, in ``unit`` SI; classes along the foot."""
    for place, spread in enumerate(spreads.values()):
        ends = [spread.at(z) / unit for z in (-NINETY, NINETY)]
        ax.plot([place, place], ends, color=style.BLUE, linewidth=7, solid_capstyle="butt")
        ax.plot(place, spread.at(0.0) / unit, "_", color=style.PAPER, markersize=10)
    ax.set_xticks(range(len(spreads)), list(spreads))
    ax.set_xlim(-0.6, len(spreads) - 0.4)
    ax.set_xlabel("class of animal")
    ax.set_ylim(0, 1.12 * max(spread.at(NINETY) for spread in spreads.values()) / unit)
    ax.grid(axis="y")
