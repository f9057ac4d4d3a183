"""What sketches of gates are made of: panels, arrows with a force, lengths, the ground."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup

Point = tuple[float, float]


def panel(ax: Axes, corner: Point, width: float, height: float, **look: Any) -> None:
    from matplotlib.patches import Rectangle

    ax.add_patch(Rectangle(corner, width, height, **look))


STEEL: dict[str, Any] = {
    "facecolor": style.PALE_BLUE,
    "edgecolor": style.BLUE,
    "linewidth": 1.2,
}
OPEN: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": style.MUTED,
    "linestyle": (0, (4, 3)),
    "linewidth": 0.9,
}
FRAME: dict[str, Any] = {"facecolor": style.GREY, "edgecolor": style.MUTED, "linewidth": 0.9}


def arrow(ax: Axes, start: Point, end: Point, words: str, colour: str = style.ORANGE) -> None:
    ax.update_datalim([start, end])
    ax.annotate(
        "",
        xy=end,
        xytext=start,
        arrowprops={"arrowstyle": "-|>", "color": colour, "linewidth": 1.8},
    )
    right = start[0] <= end[0]
    down = abs(end[1] - start[1]) > abs(end[0] - start[0])
    at = end if not down else ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    ax.annotate(
        words,
        at,
        (6 if right or down else -6, 0),
        textcoords="offset points",
        ha="left" if right or down else "right",
        va="center",
        fontsize=8,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.8},
    )


def measure(ax: Axes, start: Point, end: Point, words: str, side: int = 1) -> None:
    """A dimension line with its length beside it; side -1 puts the words left or below."""
    ax.update_datalim([start, end])
    ax.annotate(
        "",
        xy=end,
        xytext=start,
        arrowprops={"arrowstyle": "<->", "color": style.INK, "linewidth": 0.8},
    )
    upright = abs(end[1] - start[1]) > abs(end[0] - start[0])
    ax.annotate(
        words,
        ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2),
        (6 * side, 0) if upright else (0, 5 * side),
        textcoords="offset points",
        ha=("left" if side > 0 else "right") if upright else "center",
        va="center" if upright else ("bottom" if side > 0 else "top"),
        fontsize=8,
    )


def ground(ax: Axes, left: float, right: float) -> None:
    ax.plot([left, right], [0, 0], color=style.INK, linewidth=1.6)


def pull_words(opening: OpeningSetup, units: Units) -> str:
    needed = units.force(opening.pull_required)
    if opening.puller == "animal":
        return f"an animal must pull {needed}"
    return f"{opening.puller}: needs {needed}, has {units.force(opening.pull_available)}"


def weight(opening: OpeningSetup, units: Units) -> str:
    """Weight of the gate, and its mass where that is another number."""
    mass = units.mass(opening.mass)
    if units.name == "US":
        return f"weight {mass}"
    return f"weight {units.force(opening.mass * GRAVITY)}\n({mass})"
