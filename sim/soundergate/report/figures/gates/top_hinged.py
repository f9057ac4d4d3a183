"""A top-hinged gate from the side."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, degrees, pi, sin
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.figures.gates.pieces import (
    FRAME,
    arrow,
    ground,
    measure,
    panel,
    pull_words,
    weight,
)
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup


def draw(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Side view: hinge at the top of the opening, the plate raised to its set angle."""
    from matplotlib.patches import Arc

    height = sketch["height"]
    length = sketch.get("length", height)
    angle = sketch.get("set_angle", pi / 2)
    thick = 0.05 * length
    panel(ax, (-thick, height), thick, 0.25 * height, **FRAME)
    ground(ax, -1.25 * length, 1.4 * length)
    ax.plot([0, 0], [0, height], color=style.MUTED, linestyle=(0, (4, 3)), linewidth=1.4)
    tip = (length * sin(angle), height - length * cos(angle))
    ax.plot([0, tip[0]], [height, tip[1]], color=style.BLUE, linewidth=5, solid_capstyle="butt")
    ax.plot(0, height, "o", color=style.INK, markersize=6)
    sweep = Arc(
        (0, height),
        2 * length,
        2 * length,
        theta1=-90,
        theta2=-90 + degrees(angle),
        color=style.MUTED,
        linestyle=":",
    )
    ax.add_patch(sweep)
    middle = (tip[0] / 2, (height + tip[1]) / 2)
    foot = (middle[0], middle[1] - 0.38 * length)
    arrow(ax, middle, foot, weight(opening, units))
    ax.annotate(
        f"{opening.latch_kind} holds {units.force(opening.holding_load)}\n"
        + pull_words(opening, units),
        tip,
        (10, 6),
        textcoords="offset points",
        fontsize=8,
    )
    ax.annotate(
        f"hinge; set at {degrees(angle):.0f}° from shut",
        (0, height),
        (-10, 10),
        textcoords="offset points",
        ha="right",
        fontsize=8,
    )
    side = -0.25 * length
    measure(ax, (side, 0), (side, height), units.length(height), -1)
    measure(ax, (0, -0.07 * height), (length, -0.07 * height), _swept(length, units), -1)
    ax.text(-0.3 * length, 0.05 * height, "outside", ha="right", fontsize=8)
    ax.text(1.05 * length, 0.05 * height, "inside", fontsize=8)


def _swept(length: float, units: Units) -> str:
    return f"sweeps {units.length(length)}"
