"""A gate drawn to scale: panel, channels or hinge, latch, and the forces in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import cos, degrees, pi, sin
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.scenario.unit_system import SI, STANDARD_GRAVITY, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.opening import OpeningSetup

Point = tuple[float, float]


def draw_sketch(opening: OpeningSetup, ax: Axes, units: Units = SI) -> None:
    """Draw the opening of an OpeningSetup on `ax`, one metre of steel being one of the axes.

    Forces are arrows of fixed length with their size beside them; they are not to scale.
    """
    sketch: Mapping[str, Any] = {
        "width": opening.width,
        "height": opening.height,
        **opening.gate.sketch,
    }
    ax.set_aspect("equal")
    ax.axis("off")
    _DRAWERS.get(opening.gate_kind, _one_way)(ax, opening, sketch, units)
    ax.autoscale_view()
    ax.margins(0.08)


def _panel(ax: Axes, corner: Point, width: float, height: float, **look: Any) -> None:
    from matplotlib.patches import Rectangle

    ax.add_patch(Rectangle(corner, width, height, **look))


_STEEL: dict[str, Any] = {
    "facecolor": style.PALE_BLUE,
    "edgecolor": style.BLUE,
    "linewidth": 1.2,
}
_OPEN: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": style.MUTED,
    "linestyle": (0, (4, 3)),
    "linewidth": 0.9,
}
_FRAME: dict[str, Any] = {"facecolor": style.GREY, "edgecolor": style.MUTED, "linewidth": 0.9}


def _arrow(ax: Axes, start: Point, end: Point, words: str, colour: str = style.ORANGE) -> None:
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


def _measure(ax: Axes, start: Point, end: Point, words: str, side: int = 1) -> None:
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


def _ground(ax: Axes, left: float, right: float) -> None:
    ax.plot([left, right], [0, 0], color=style.INK, linewidth=1.6)


def _pull_words(opening: OpeningSetup, units: Units) -> str:
    needed = units.force(opening.pull_required)
    if opening.puller == "animal":
        return f"an animal must pull {needed}"
    return f"{opening.puller}: needs {needed}, has {units.force(opening.pull_available)}"


def _weight(opening: OpeningSetup, units: Units) -> str:
    """Weight of the gate, and its mass where that is another number."""
    mass = units.mass(opening.mass)
    if units.name == "US":
        return f"weight {mass}"
    return f"weight {units.force(opening.mass * STANDARD_GRAVITY)}\n({mass})"


def _drop(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Front elevation: the panel raised between its channels, its shut place dashed."""
    width, height = sketch["width"], sketch["height"]
    channel = sketch.get("channel_length", 2 * height)
    post = max(0.04 * width, 0.04)
    for x in (-post, width):
        _panel(ax, (x, 0), post, channel, **_FRAME)
    _panel(ax, (0, 0), width, height, **_OPEN)
    _panel(ax, (0, height), width, height, **_STEEL)
    _ground(ax, -0.35 * width, 1.35 * width)
    ax.text(width / 2, height / 2, "opening", ha="center", va="center", fontsize=8)
    top = 2 * height
    pin = 0.035 * max(width, height)
    _panel(ax, (width / 2 - pin, top), 2 * pin, 2 * pin, facecolor=style.INK, edgecolor=style.INK)
    _arrow(ax, (width / 2, 1.9 * height), (width / 2, 1.48 * height), "")
    ax.text(width / 2, 1.24 * height, _weight(opening, units), ha="center", va="center", fontsize=8)
    reach = 0.45 * width
    _arrow(ax, (width / 2 + pin, top + pin), (width / 2 + reach, top + pin), "")
    ax.annotate(
        f"{opening.latch_kind} holds {units.force(opening.holding_load)}\n"
        + _pull_words(opening, units),
        (width / 2 + reach, top + pin),
        (8, 0),
        textcoords="offset points",
        va="bottom",
        fontsize=8,
    )
    _measure(ax, (0, -0.07 * height), (width, -0.07 * height), units.length(width), -1)
    side = -0.12 * width - post
    _measure(ax, (side, 0), (side, height), units.length(height), -1)
    side = width + post + 0.08 * width
    _measure(ax, (side, 0), (side, channel), f"channel {units.length(channel)}", 1)
    if sketch.get("counterweight"):
        ax.text(0, top + 4 * pin, _counterweight(sketch, units), fontsize=8)


def _counterweight(sketch: Mapping[str, Any], units: Units) -> str:
    return f"counterweight {units.mass(sketch['counterweight'])}"


def _top_hinged(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Side view: hinge at the top of the opening, the plate raised to its set angle."""
    from matplotlib.patches import Arc

    height = sketch["height"]
    length = sketch.get("length", height)
    angle = sketch.get("set_angle", pi / 2)
    thick = 0.05 * length
    _panel(ax, (-thick, height), thick, 0.25 * height, **_FRAME)
    _ground(ax, -1.25 * length, 1.4 * length)
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
    _arrow(ax, middle, foot, _weight(opening, units))
    ax.annotate(
        f"{opening.latch_kind} holds {units.force(opening.holding_load)}\n"
        + _pull_words(opening, units),
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
    _measure(ax, (side, 0), (side, height), units.length(height), -1)
    _measure(ax, (0, -0.07 * height), (length, -0.07 * height), _swept(length, units), -1)
    ax.text(-0.3 * length, 0.05 * height, "outside", ha="right", fontsize=8)
    ax.text(1.05 * length, 0.05 * height, "inside", fontsize=8)


def _swept(length: float, units: Units) -> str:
    return f"sweeps {units.length(length)}"


def _side_hinged(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Plan: one or two leaves swung open, the shut place dashed."""
    width = sketch["width"]
    leaves = int(sketch.get("leaves", 1))
    angle = sketch.get("set_angle", pi / 2)
    leaf = width / leaves
    post = 0.05 * width
    for x in (-post, width):
        _panel(ax, (x, -post / 2), post, post, **_FRAME)
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
        + _pull_words(opening, units),
        tips[-1],
        (10, 0),
        textcoords="offset points",
        va="center",
        fontsize=8,
    )
    _measure(ax, (0, -0.14 * width), (width, -0.14 * width), units.length(width), -1)
    words = "leaf" if leaves == 1 else "each leaf"
    mass = units.mass(opening.mass / leaves)
    ax.text(width / 2, 0.3 * leaf, f"{words} {mass}", ha="center", fontsize=8)
    ax.text(width / 2, 0.03 * width, "seen from above", ha="center", va="bottom", fontsize=8)


def _one_way(ax: Axes, opening: OpeningSetup, sketch: Mapping[str, Any], units: Units) -> None:
    """Front elevation of an entrance that animals push open."""
    width, height = sketch["width"], sketch["height"]
    post = max(0.04 * width, 0.04)
    for x in (-post, width):
        _panel(ax, (x, 0), post, 1.1 * height, **_FRAME)
    _panel(ax, (0, 0), width, height, **_STEEL)
    _ground(ax, -0.35 * width, 1.35 * width)
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
    _measure(ax, (0, -0.07 * height), (width, -0.07 * height), units.length(width), -1)
    side = -0.12 * width - post
    _measure(ax, (side, 0), (side, height), units.length(height), -1)


_DRAWERS: dict[str, Callable[[Axes, OpeningSetup, Mapping[str, Any], Units], None]] = {
    "drop": _drop,
    "top-hinged": _top_hinged,
    "side-hinged": _side_hinged,
}
