"""A drop gate from the front."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.figures.gates.pieces import (
    FRAME,
    OPEN,
    STEEL,
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
    """Front elevation: the panel raised between its channels, its shut place dashed."""
    width, height = sketch["width"], sketch["height"]
    channel = sketch.get("channel_length", 2 * height)
    post = max(0.04 * width, 0.04)
    for x in (-post, width):
        panel(ax, (x, 0), post, channel, **FRAME)
    panel(ax, (0, 0), width, height, **OPEN)
    panel(ax, (0, height), width, height, **STEEL)
    ground(ax, -0.35 * width, 1.35 * width)
    ax.text(width / 2, height / 2, "opening", ha="center", va="center", fontsize=8)
    top = 2 * height
    pin = 0.035 * max(width, height)
    panel(ax, (width / 2 - pin, top), 2 * pin, 2 * pin, facecolor=style.INK, edgecolor=style.INK)
    arrow(ax, (width / 2, 1.9 * height), (width / 2, 1.48 * height), "")
    ax.text(width / 2, 1.24 * height, weight(opening, units), ha="center", va="center", fontsize=8)
    reach = 0.45 * width
    arrow(ax, (width / 2 + pin, top + pin), (width / 2 + reach, top + pin), "")
    ax.annotate(
        f"{opening.latch_kind} holds {units.force(opening.holding_load)}\n"
        + pull_words(opening, units),
        (width / 2 + reach, top + pin),
        (8, 0),
        textcoords="offset points",
        va="bottom",
        fontsize=8,
    )
    measure(ax, (0, -0.07 * height), (width, -0.07 * height), units.length(width), -1)
    side = -0.12 * width - post
    measure(ax, (side, 0), (side, height), units.length(height), -1)
    side = width + post + 0.08 * width
    measure(ax, (side, 0), (side, channel), f"channel {units.length(channel)}", 1)
    if sketch.get("counterweight"):
        ax.text(0, top + 4 * pin, _counterweight(sketch, units), fontsize=8)


def _counterweight(sketch: Mapping[str, Any], units: Units) -> str:
    return f"counterweight {units.mass(sketch['counterweight'])}"
