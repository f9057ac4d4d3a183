"""An entrance that animals push open, from the front."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.figures.gates.pieces import FRAME, STEEL, ground, measure, panel
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup


def draw(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Front elevation of an entrance that animals push open."""
    width, height = sketch["width"], sketch["height"]
    post = max(0.04 * width, 0.04)
    for x in (-post, width):
        panel(ax, (x, 0), post, 1.1 * height, **FRAME)
    panel(ax, (0, 0), width, height, **STEEL)
    ground(ax, -0.35 * width, 1.35 * width)
    force = opening.gate.push_force
    words = f"{opening.gate_kind}\npushed open with {units.force(force)}"
    ax.text(
        width / 2,
        height / 2,
        words,
        ha="center",
        va="center",
        fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": style.BLUE, "pad": 3},
    )
    measure(ax, (0, -0.07 * height), (width, -0.07 * height), units.length(width), -1)
    side = -0.12 * width - post
    measure(ax, (side, 0), (side, height), units.length(height), -1)
