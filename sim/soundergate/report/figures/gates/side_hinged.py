"""A side-hinged gate from above."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, pi, sin
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.figures.gates.pieces import FRAME, measure, panel, pull_words
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup


def draw(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Plan: one or two leaves swung open, the shut place dashed."""
    width = sketch["width"]
    leaves = int(sketch.get("leaves", 1))
    angle = sketch.get("set_angle", pi / 2)
    leaf = width / leaves
    post = 0.05 * width
    for x in (-post, width):
        panel(ax, (x, -post / 2), post, post, **FRAME)
    ax.plot([0, width], [0, 0], color=style.MUTED, linestyle=(0, (4, 3)), linewidth=1.4)
    tips = [(leaf * cos(angle), leaf * sin(angle))]
    hinges = [(0.0, 0.0)]
    if leaves == 2:
        tips.append((width - leaf * cos(angle), leaf * sin(angle)))
        hinges.append((width, 0.0))
    for hinge, tip in zip(hinges, tips, strict=True):
        ax.plot(
            [hinge[0], tip[0]],
            [hinge[1], tip[1]],
            color=style.BLUE,
            linewidth=5,
            solid_capstyle="butt",
        )
        ax.plot(*hinge, "o", color=style.INK, markersize=6)
    ax.annotate(
        f"{opening.latch_kind} holds {units.force(opening.holding_load)}\n"
        + pull_words(opening, units),
        tips[-1],
        (10, 0),
        textcoords="offset points",
        va="center",
        fontsize=8,
    )
    measure(ax, (0, -0.14 * width), (width, -0.14 * width), units.length(width), -1)
    words = "leaf" if leaves == 1 else "each leaf"
    mass = units.mass(opening.mass / leaves)
    ax.text(width / 2, 0.3 * leaf, f"{words} {mass}", ha="center", fontsize=8)
    ax.text(width / 2, 0.03 * width, "seen from above", ha="center", va="bottom", fontsize=8)
