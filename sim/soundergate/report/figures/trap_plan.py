"""The trap from above, to scale: fence, openings, bait, lines, and from where the sounder comes."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.report import style
from soundergate.report.quantities import scale_bar
from soundergate.report.words import plan_words as words
from soundergate.scenario import places
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.scenario.places import Point
    from soundergate.scenario.schema import Scenario


def caption(scenario: Scenario) -> str:
    """What the drawing means, with a sentence for each sort of gate that is there."""
    sorts = {opening.gate.one_way for opening in scenario.opening}
    gates = {
        frozenset({False}): "Gates are drawn open.",
        frozenset({True}): _HANGS_SHUT,
        frozenset({True, False}): f"Gates are drawn open, but for one-way gates. {_HANGS_SHUT}",
    }[frozenset(sorts)]
    return (
        "The trap from above, to scale; bearings run clockwise from the top. "
        f"{gates} The arrow and the arc about it say from where the sounder comes."
    )


_HANGS_SHUT = "A one-way gate hangs shut; its mark points the way that it lets pigs in."

NAME = "plan"
"""What the file of the picture is called."""

_WIDTH = 3.9
"""in; narrow, so that it is whole and legible on a telephone."""
_MARGIN = 0.08
"""in at either side."""
_LABELS = 1.0
"""in for the distances beside the plan."""
_ROW = 0.19
"""in a row of the key."""
_NUMBERS, _RAIL, _TIP, _ARC, _TAIL = 1.1, 1.14, 1.18, 1.26, 1.5
"""Radii on which numbers, distances and the arrow lie, the fence being 1."""


@style.sheet()
def trap_plan(scenario: Scenario, units: Units = SI) -> Figure:
    """The plan of a trap, in the units that its file is written in."""
    rows = _key(scenario, units)
    extent = _extent(scenario)
    left, right, foot, head = extent
    room = _WIDTH - 2 * _MARGIN - sum(_LABELS for side in _rail_sides(scenario) if side)
    inch = (right - left) / room  # in fence radii
    key = _ROW * sum(1 + label.count("\n") for _, label in rows) + 0.1
    tall = (head - foot) / inch
    height = tall + key + 0.42
    figure = style.new_figure(height, _WIDTH)
    figure.set_layout_engine("none")
    ax = figure.add_axes((0.0, key / height, 1.0, tall / height))
    ax.set_axis_off()
    radius = scenario.corral.diameter / 2.0
    before = _MARGIN + (_LABELS if _rail_sides(scenario)[0] else 0.0)
    ax.set_xlim(radius * (left - inch * before), radius * (left + inch * (_WIDTH - before)))
    ax.set_ylim(radius * foot, radius * head)
    _fence(ax, scenario)
    _bait(ax, scenario)
    for line in places.lines(scenario):
        _line(ax, places.line_ends(line, scenario), line.between is None)
    _numbers(ax, scenario)
    _arrow(ax, scenario)
    if words.watched(scenario):
        _camera(ax, scenario)
    _distances(ax, scenario, units, inch * radius)
    _scale(ax, scenario, units, radius * foot)
    figure.text(
        0.02, 1 - 0.13 / height, "The trap from above", fontsize=10, fontweight="bold", va="top"
    )
    figure.legend(
        [handle for handle, _ in rows],
        [label for _, label in rows],
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        borderaxespad=0.2,
        labelspacing=0.35,
        handler_map={_Arrow: _ArrowHandler()},
    )
    return figure


def _toward(bearing: float) -> Point:
    return math.sin(bearing), math.cos(bearing)


def _extent(scenario: Scenario) -> tuple[float, float, float, float]:
    """Left, right, foot and head of what is drawn, in fence radii."""
    x, y = _toward(scenario.arrival.bearing)
    around = _NUMBERS + 0.08
    u, v = _toward(scenario.opening[0].bearing)
    rail = max(around, _RAIL * abs(v) + abs(u) + 0.04)
    left, right = (rail if there else around for there in _rail_sides(scenario))
    return (
        min(-left, _TAIL * x - 0.05),
        max(right, _TAIL * x + 0.05),
        min(-around, _TAIL * y) - 0.22,
        max(around, _TAIL * y) + 0.02,
    )


# ---- what stands there -----------------------------------------------------------------------


def _fence(ax: Axes, scenario: Scenario) -> None:
    """The fence, broken by its openings, each with its gate open."""
    radius = scenario.corral.diameter / 2.0
    round_it = np.linspace(0.0, 2.0 * math.pi, 361)
    ax.fill(radius * np.sin(round_it), radius * np.cos(round_it), color=style.PAPER, zorder=1)
    ax.plot(radius * np.sin(round_it), radius * np.cos(round_it), color=style.INK, linewidth=1.8)
    for opening in scenario.opening:
        half = math.asin(min(1.0, opening.width / 2.0 / radius))
        a, b = (places.on_fence(opening.bearing + side * half, radius) for side in (-1, 1))
        arc = opening.bearing + np.linspace(-half, half, 21)
        ax.plot(
            radius * np.sin(arc), radius * np.cos(arc), color=style.PAPER, linewidth=4.0,
            solid_capstyle="butt",
        )  # fmt: skip
        leaves = getattr(opening.gate, "leaves", 0)
        if opening.gate.one_way:
            middle = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
            ax.plot(*zip(a, b, strict=True), **_ONE_WAY)
            ax.plot(*middle, zorder=4, **_inwards(opening.bearing))
        elif not leaves:
            ax.plot(*zip(a, b, strict=True), **_GATE)
        for hinge, post in zip((b, a), (a, b), strict=True):
            ax.plot(*hinge, "o", color=style.INK, markersize=3.2)
            if leaves == 2 or (leaves == 1 and hinge == _hinge_of_one(a, b)):
                ax.plot(*zip(hinge, _edge(hinge, post, opening, leaves), strict=True), **_LEAF)


_GATE: dict[str, Any] = {"color": style.BLUE, "linewidth": 2.6, "linestyle": (0, (1.6, 1.0))}
_LEAF: dict[str, Any] = {"color": style.BLUE, "linewidth": 3.2, "solid_capstyle": "butt"}
_ONE_WAY: dict[str, Any] = {"color": style.BLUE, "linewidth": 1.6, "solid_capstyle": "butt"}


def _inwards(bearing: float) -> dict[str, Any]:
    """A mark on a one-way gate at this bearing that points to the middle of the corral."""
    from matplotlib.markers import MarkerStyle
    from matplotlib.path import Path
    from matplotlib.transforms import Affine2D

    point = Path([(-1.0, 0.0), (1.0, 0.0), (0.0, -1.6), (-1.0, 0.0)], closed=True)
    return {
        "marker": MarkerStyle(point, transform=Affine2D().rotate(-bearing)),
        "color": style.BLUE,
        "markersize": 9,
        "linestyle": "none",
    }


def _hinge_of_one(a: Point, b: Point) -> Point:
    """A single leaf hangs at the left of one who looks out from inside."""
    return a


def _edge(hinge: Point, post: Point, opening: Any, leaves: int) -> Point:
    """Where the edge of a leaf is that is swung out as far as it is set."""
    angle, width = opening.gate.set_angle, opening.width / leaves
    gap = math.dist(hinge, post)
    u = (post[0] - hinge[0]) / gap, (post[1] - hinge[1]) / gap
    out = _toward(opening.bearing)
    along, away = width * math.cos(angle), width * math.sin(angle)
    return hinge[0] + along * u[0] + away * out[0], hinge[1] + along * u[1] + away * out[1]


def _bait(ax: Axes, scenario: Scenario) -> None:
    from matplotlib.patches import Circle

    least = 0.02 * scenario.corral.diameter
    for patch in places.patches(scenario):
        ax.add_patch(Circle(patch.middle, max(patch.radius, least), zorder=2, **_BAIT))


_BAIT: dict[str, Any] = {
    "facecolor": style.PALE_ORANGE,
    "edgecolor": style.ORANGE,
    "hatch": "....",
    "linewidth": 0.8,
}


def _line(ax: Axes, ends: tuple[Point, Point], staked: bool) -> None:
    x, y = zip(*ends, strict=True)
    ax.plot(x, y, zorder=3, **_LINE)
    if staked:
        ax.plot(x, y, "s", color=style.INK, markersize=3.6, zorder=3)


_LINE: dict[str, Any] = {"color": style.ORANGE, "linewidth": 2.0, "linestyle": (0, (4, 1.6))}


def _numbers(ax: Axes, scenario: Scenario) -> None:
    """The number of each opening, outside the fence beside its clockwise post."""
    radius = scenario.corral.diameter / 2.0
    beside = [
        (opening.bearing + math.asin(min(1.0, opening.width / 2.0 / radius)) + 0.09)
        % (2.0 * math.pi)
        for opening in scenario.opening
    ]
    spread = style.spread(beside, 0.16, 0.0, 2.0 * math.pi - 0.16)
    for number, bearing in enumerate(spread, 1):
        x, y = places.on_fence(bearing, _NUMBERS * radius)
        ax.text(x, y, str(number), ha="center", va="center", fontsize=9, fontweight="bold")


def _arrow(ax: Axes, scenario: Scenario) -> None:
    """From where the sounder comes, and one standard deviation of that to either side."""
    radius, bearing = scenario.corral.diameter / 2.0, scenario.arrival.bearing
    tail, tip = (places.on_fence(bearing, radius * r) for r in (_TAIL, _TIP))
    ax.annotate("", xy=tip, xytext=tail, arrowprops=_COMES)
    sd = min(scenario.arrival.bearing_scatter, math.pi)
    arc = bearing + np.linspace(-sd, sd, 61)
    around = _ARC * radius
    ax.plot(around * np.sin(arc), around * np.cos(arc), color=style.MUTED, linewidth=0.9)


_COMES: dict[str, Any] = {
    "arrowstyle": "-|>",
    "color": style.INK,
    "linewidth": 1.6,
    "mutation_scale": 13,
    "shrinkA": 0,
    "shrinkB": 0,
}


def _camera(ax: Axes, scenario: Scenario) -> None:
    """A camera outside the fence, beside the anticlockwise post of opening 1, looking in."""
    radius, opening = scenario.corral.diameter / 2.0, scenario.opening[0]
    at = opening.bearing - math.asin(min(1.0, opening.width / 2.0 / radius)) - 0.09
    ax.plot(*places.on_fence(at, 1.07 * radius), zorder=4, **_camera_look(at))


def _camera_look(bearing: float = 0.0) -> dict[str, Any]:
    """A box with the mouth of its lens towards the middle of the corral."""
    from matplotlib.markers import MarkerStyle
    from matplotlib.path import Path
    from matplotlib.transforms import Affine2D

    box = Path(
        [(-0.6, -0.2), (-0.6, 1.0), (0.6, 1.0), (0.6, -0.2), (0.2, -0.2), (0.6, -1.0),
         (-0.6, -1.0), (-0.2, -0.2), (-0.6, -0.2)],
        closed=True,
    )  # fmt: skip
    turn = Affine2D().rotate(-bearing)
    return {
        "marker": MarkerStyle(box, transform=turn),
        "color": style.INK,
        "markersize": 9,
        "linestyle": "none",
    }


# ---- how far it is ---------------------------------------------------------------------------


def _rail_sides(scenario: Scenario) -> tuple[bool, bool]:
    """Whether distances stand at the left, and at the right, of the plan.

    They are told beside the diameter through opening 1 where that is nearly upright; where the
    sounder comes from the right, at the left.
    """
    _, y = _toward(scenario.opening[0].bearing)
    if abs(y) < _UPRIGHT:
        return False, False
    left = _toward(scenario.arrival.bearing)[0] > 0.5
    return left, not left


_UPRIGHT = 0.97
"""Cosine of the angle with the upright up to which distances are told along a diameter."""


def _distances(ax: Axes, scenario: Scenario, units: Units, inch: float) -> None:
    """Along the diameter through opening 1: how far bait, staked lines and the far side are."""
    left, right = _rail_sides(scenario)
    if not (left or right):
        return
    side = -1.0 if left else 1.0
    radius, bearing = scenario.corral.diameter / 2.0, scenario.opening[0].bearing
    across = math.copysign(_RAIL * radius, side * _toward(bearing)[1])
    # aside is to the right of one who walks in, which at the top of the plan is its left
    marks = [(away, name) for away, name in _marks(scenario) if away < 2.0 * radius - 1e-9]
    marks = [(0.0, ""), *marks, (2.0 * radius, "far side")]
    points = [places.from_opening(bearing, radius, away, -across) for away, _ in marks]
    ax.plot(*zip(points[0], points[-1], strict=True), color=style.MUTED, linewidth=0.8)
    told = style.spread(
        [y for _, y in points], 0.17 * inch, -_RAIL * radius, _RAIL * radius + 0.1 * inch
    )
    for (away, name), (x, y), label in zip(marks, points, told, strict=True):
        ax.plot([x - 0.04 * inch, x + 0.04 * inch], [y, y], color=style.INK, linewidth=0.9)
        if not name:
            continue
        beside = x + side * 0.16 * inch
        ax.plot([x, beside], [y, label], color=style.MUTED, linewidth=0.6)
        ax.text(
            beside + side * 0.04 * inch, label, f"{name} {units.length(away)}", fontsize=8.5,
            ha="left" if side > 0 else "right", va="center",
        )  # fmt: skip


def _marks(scenario: Scenario) -> list[tuple[float, str]]:
    """(m from opening 1, what is there) of what lies square to the diameter through it."""
    bearing, radius = scenario.opening[0].bearing, scenario.corral.diameter / 2.0
    u, v = _toward(bearing)
    found = []
    for patch in places.patches(scenario)[:_MOST_MARKS]:
        x, y = patch.middle
        if abs(x * v - y * u) < 1e-6:
            found.append((radius - (x * u + y * v), "bait"))
    lines = [line for line in places.lines(scenario) if line.between is None]
    found += [(line.distance, "line") for line in lines[:_MOST_MARKS]]
    return sorted(dict.fromkeys(found))


_MOST_MARKS = 4


def _scale(ax: Axes, scenario: Scenario, units: Units, foot: float) -> None:
    """A bar of a round length below the fence, at its left."""
    bar = scale_bar(scenario.corral.diameter, units)
    radius = scenario.corral.diameter / 2.0
    x, y, tick = -1.05 * radius, foot + 0.06 * radius, 0.035 * radius
    end = x + bar["length"]
    ax.plot([x, x, end, end], [y + tick, y, y, y + tick], color=style.INK, linewidth=1.0)
    ax.text(end + 0.05 * radius, y, bar["words"], va="center", fontsize=8.5)


# ---- the key ---------------------------------------------------------------------------------


class _Arrow:
    """Stands for the arrow in the key."""


def _key(scenario: Scenario, units: Units) -> list[tuple[Any, str]]:
    """(sample, words) of everything that is drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    rows: list[tuple[Any, str]] = []
    for told in words.opening_rows(scenario, units):
        if words.ONE_WAY in told:
            look = {**_inwards(0.0), **_ONE_WAY, "linestyle": "-"}
        else:
            look = _LEAF if "side-hinged" in told else _GATE
        rows.append((Line2D([], [], **look), told))
    rows.append((Patch(**_BAIT), words.bait_row(scenario, units)))
    rows += [(Line2D([], [], **_LINE), told) for told in words.line_rows(scenario, units)]
    rows.append((_Arrow(), words.sounder_row(scenario)))
    if words.watched(scenario):
        rows.append((Line2D([], [], **_camera_look()), "camera"))
    return [(handle, textwrap.fill(told, _LINE_OF_KEY)) for handle, told in rows]


_LINE_OF_KEY = 45
"""Letters in a line of the key."""


class _ArrowHandler:
    """Draws the arrow's sample in a key."""

    def legend_artist(self, legend: Any, _: Any, fontsize: float, box: Any) -> Artist:
        from matplotlib.patches import FancyArrowPatch

        y = box.ydescent + 0.5 * box.height
        x0, x1 = box.xdescent, box.xdescent + box.width
        look = {key: value for key, value in _COMES.items() if key != "arrowstyle"}
        arrow = FancyArrowPatch((x0, y), (x1, y), arrowstyle="-|>", **look)
        box.add_artist(arrow)
        return arrow
