"""Pictures of costs: what a pig costs and of what, and where the dearer setup begins to pay."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.report import style
from soundergate.report.figures.estimates import wrapped
from soundergate.report.style import Fill

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.seasons.money.break_even import ValueBreakEven
    from soundergate.seasons.money.cost_summary import CostSummary
    from soundergate.seasons.money.price_surface import BreakEvenSurface

PART_FILLS: dict[str, Fill] = {
    "setup labour": Fill(style.BLUE, "", style.BLUE, style.PAPER),
    "visit labour": Fill(style.PALE_BLUE, "////", style.BLUE, style.INK),
    "removal labour": Fill(style.BLUE, "...", style.PAPER, style.PAPER),
    "watching": Fill(style.PALE_BLUE, "", style.BLUE, style.INK),
    "travel": Fill(style.ORANGE, "", style.ORANGE, style.INK),
    "bait": Fill(style.PALE_ORANGE, "xxx", style.ORANGE, style.INK),
    "equipment": Fill(style.GREY, "", style.MUTED, style.INK),
    "data plan": Fill(style.PAPER, "\\\\\\\\", style.MUTED, style.INK),
    "alarm": Fill(style.GREY, "...", style.INK, style.INK),
    "alarm plan": Fill(style.PAPER, "ooo", style.MUTED, style.INK),
}
"""Part of the cost -> fill, in the order in which they are stacked; labour is blue."""

_WORDS = {
    "costs.wage": "wage ({money} an hour)",
    "costs.trip": "travel ({money} a trip, there and back)",
    "costs.watch_wage": "wage of watching ({money} an hour)",
    "costs.bait": "bait ({money} a heap)",
    "costs.equipment": "equipment, bought ({money})",
    "costs.equipment_campaigns": "use of equipment (campaigns)",
    "costs.data_plan": "data plan ({money} a month)",
    "costs.alarm": "alarm, bought ({money})",
    "costs.alarm_plan": "alarm plan ({money} a month)",
    "costs.damage_per_pig": "damage of a pig ({money} a year)",
}


def cost_parts(summaries: Sequence[CostSummary], ax: Axes | None = None) -> Axes:
    """Parts of the cost per pig as one stacked bar a setup, its total and interval at the end.

    A setup that caught no pig, or whose cost is not known, has words in place of a bar. What is
    not counted stands under each. Raises ValueError without summaries or for several currencies.
    """
    if len({one.currency for one in summaries}) != 1:
        raise ValueError("draw one setup or more, all in one currency")
    unit = summaries[0].currency or "money"
    with style.sheet():
        ax = style.axes_of(ax, 1.35 + 0.95 * len(summaries))
        ends = [_longest(one) for one in summaries]
        ax.set_xlim(0, 1.02 * max(ends) or 1.0)
        for row, one in enumerate(summaries):
            _part_bar(ax, -row, one, max(ends) or 1.0)
        ax.set_yticks([-k for k in range(len(summaries))], [wrapped(s.label) for s in summaries])
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        ax.set_ylim(0.4 - len(summaries), 0.62)
        ax.xaxis.set_major_formatter("{x:,.10g}")
        ax.set_xlabel(f"cost per pig caught ({unit} a pig)")
        _part_legend(ax, [name for name in PART_FILLS if any(s.money.get(name) for s in summaries)])
    return ax


def _longest(summary: CostSummary) -> float:
    """Where the bar, or its interval if that has an end, ends."""
    cost = summary["cost_per_pig"]
    return float(np.nanmax([0.0, cost.estimate, cost.high if np.isfinite(cost.high) else 0.0]))


def _part_bar(ax: Axes, row: float, summary: CostSummary, longest: float) -> None:
    cost, pigs = summary["cost_per_pig"], summary["pigs_per_campaign"].estimate
    if np.isnan(cost.estimate):
        ax.text(0.01 * longest, row, f"no cost per pig: {cost.why}", va="center")
        return
    left = 0.0
    for name, fill in PART_FILLS.items():
        share = summary.money.get(name, 0.0) / pigs
        if share <= 0:
            continue
        look: dict[str, Any] = {"facecolor": fill.colour, "hatch": fill.hatch}
        ax.barh(row, share, 0.4, left, edgecolor=fill.edge, linewidth=0.6, **look)
        if share > 0.06 * longest:
            middle = left + share / 2
            ax.text(middle, row, _amount(share), ha="center", va="center", **style.text_on(fill))
        left += share
    _total(ax, row, summary, longest)


def _total(ax: Axes, row: float, summary: CostSummary, longest: float) -> None:
    """The interval as a line under the bar's end, and in words; what is not counted below."""
    cost = summary["cost_per_pig"]
    high = cost.high if np.isfinite(cost.high) else 1.02 * longest
    if np.isfinite(cost.low):
        ax.plot([cost.low, high], [row - 0.26] * 2, color=style.INK, linewidth=2.0)
    words = f"{_amount(cost.estimate)} a pig"
    if np.isfinite(cost.high):
        words += f" ({_amount(cost.low)} to {_amount(cost.high)}, {100 * cost.level:g} %)"
    elif cost.why:
        words += f" ({cost.why})"
    ax.text(0, row + 0.24, words, fontsize=8.5, fontweight="bold", va="bottom")
    if summary.not_counted:
        missing = ", ".join(one.what for one in summary.not_counted)
        told = textwrap.shorten(f"not counted: {missing}", 80, placeholder=" ...")
        ax.text(0, row - 0.31, told, fontsize=7.5, color=style.MUTED, va="top")


def _part_legend(ax: Axes, names: list[str]) -> None:
    from matplotlib.patches import Patch

    patches = []
    for name in names:
        fill = PART_FILLS[name]
        look: dict[str, Any] = {"facecolor": fill.colour, "hatch": fill.hatch}
        patches.append(Patch(edgecolor=fill.edge, linewidth=0.6, label=name, **look))
    if patches:
        ax.legend(handles=patches, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4)


def _amount(value: float) -> str:
    """Money in a figure: whole from 100 on, else three digits that say something."""
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"


def break_even_map(surface: BreakEvenSurface, ax: Axes | None = None) -> Axes:
    """Which of two setups is ahead over two prices, by how much, and the line of equality.

    Dotted: the campaigns do not settle it there. The cross is the file's own pair of prices.
    """
    unit = surface.currency or "money"
    with style.sheet():
        ax = style.axes_of(ax, 5.0)
        x, y = surface.x, surface.y
        _sides(ax, surface)
        taken = [*_own_point(ax, surface), *_equality(ax, surface), *_name_sides(ax, surface)]
        _levels(ax, surface, taken)
        ax.set_xlim(x[0], x[-1])
        ax.set_ylim(y[0], y[-1])
        ax.set_xlabel(_axis_words(surface.x_axis, unit))
        ax.set_ylabel(_axis_words(surface.y_axis, unit))
        ax.set_title(_map_title(surface, unit), fontsize=9)
    return ax


def _sides(ax: Axes, surface: BreakEvenSurface) -> None:
    """A colour for each setup's side, and dots where the interval holds 0."""
    sign = 1.0 if surface.measure == "net_per_campaign" else -1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        score = np.nan_to_num(sign * surface.difference / surface.half_width)
    sides = [style.PALE_ORANGE, style.PALE_BLUE]
    score = np.clip(score, -1e3, 1e3)
    ax.contourf(surface.x, surface.y, score, levels=[-2e3, 0, 2e3], colors=sides, alpha=0.55)
    if not surface.settled.all():
        ax.contourf(*(surface.x, surface.y, score), levels=[-1, 1], colors="none", hatches=["..."])


def _axis_words(name: str, unit: str) -> str:
    key, _, of = name.partition(" of ")
    words = _WORDS[key].format(money=unit)
    return f"{of}: {words}" if of else words


def _map_title(surface: BreakEvenSurface, unit: str) -> str:
    first, second = surface.labels
    what = "Cost per pig" if surface.measure == "cost_per_pig" else "Net of a campaign"
    per = "a pig" if surface.measure == "cost_per_pig" else "a campaign, first year"
    lines = textwrap.wrap(f"{what}, {first} less {second} (thin lines, {unit} {per})", 76)
    if not surface.settled.all():
        lines.append(f"Dotted: not settled at {100 * surface.level:g} % by these campaigns.")
    lines += textwrap.wrap(surface.held_words.strip(), 76)
    return "\n".join(lines)


def _levels(ax: Axes, surface: BreakEvenSurface, taken: list[Any]) -> None:
    """Thin lines of equal difference, each with its number where there is room."""
    from matplotlib.ticker import MaxNLocator

    low, high = (float(q) for q in np.quantile(surface.difference, (0.02, 0.98)))
    found = [v for v in MaxNLocator(7).tick_values(low, high) if low < v < high and abs(v) > 1e-9]
    if not found:
        return
    lines = ax.contour(
        *(surface.x, surface.y, surface.difference),
        levels=found,
        colors=style.MUTED,
        linewidths=0.7,
        linestyles="solid",
    )
    for level, segments in zip(lines.levels, lines.allsegs, strict=True):
        points = np.concatenate([_even(one) for one in segments]) if segments else np.empty((0, 2))
        place = _roomiest(surface, points, taken, 0.11)
        if place is not None:
            _label(ax, place, _signed(float(level)), fontsize=7.5, color=style.MUTED)
            taken.append(place)


def _even(segment: Any) -> Any:
    """A line's points with others between them, so that a straight one has more than its ends."""
    steps = np.linspace(0, len(segment) - 1, max(4 * len(segment), 40))
    at = np.arange(len(segment))
    return np.column_stack([np.interp(steps, at, segment[:, k]) for k in (0, 1)])


def _roomiest(surface: BreakEvenSurface, points: Any, taken: list[Any], least: float) -> Any:
    """The point farthest from the places taken and well within the axes; None if all are close."""
    low = np.array([surface.x[0], surface.y[0]])
    part = (points - low) / [np.ptp(surface.x), np.ptp(surface.y)]
    inside = points[((part > 0.06) & (part < 0.94)).all(axis=1)]
    if not len(inside):
        return None
    room = np.min([_span(surface, inside, one) for one in taken] or [np.ones(len(inside))], axis=0)
    best = int(np.argmax(np.minimum(room, 0.5)))
    return inside[best] if room[best] > least else None


def _label(ax: Axes, place: Any, words: str, edge: str = "none", **look: Any) -> None:
    box = {"boxstyle": "round,pad=0.2", "facecolor": style.PAPER, "edgecolor": edge}
    x, y = place
    ax.text(x, y, words, ha="center", va="center", bbox=box, **look)


def _signed(value: float) -> str:
    return f"{value:+,.4g}".replace("-", "−")


def _equality(ax: Axes, surface: BreakEvenSurface) -> list[Any]:
    """The line of equality and its name; where the name stands."""
    if len(surface.line) < 2:
        return []
    ax.plot(*surface.line.T, color=style.INK, linewidth=2.2)
    middle = surface.line[len(surface.line) // 2]
    away = [np.minimum(_span(surface, surface.line, surface.own), 0.3)] if surface.own else [0.0]
    best = int(np.argmax(away[0] - 0.2 * _span(surface, surface.line, middle)))
    _label(ax, surface.line[best], "equal", style.INK, fontweight="bold")
    return [surface.line[best]]


def _span(surface: BreakEvenSurface, points: Any, of: Any) -> Any:
    """How far points (..., 2) are from one, the axes' lengths as units."""
    size = np.array([np.ptp(surface.x), np.ptp(surface.y)])
    return np.hypot(*np.moveaxis((np.asarray(points) - np.asarray(of)) / size, -1, 0))


def _name_sides(ax: Axes, surface: BreakEvenSurface) -> list[Any]:
    """Words where each setup has the most room around them; where they stand."""
    from scipy.ndimage import distance_transform_edt

    words = "nets more" if surface.measure == "net_per_campaign" else "cheaper"
    first = surface.first_ahead & (surface.difference != 0)
    second = ~surface.first_ahead & (surface.difference != 0)
    grid = np.stack(np.meshgrid(surface.x, surface.y), axis=-1)
    free = _span(surface, grid, surface.own) > 0.25 if surface.own else np.ones(first.shape, bool)
    places = []
    for label, side in zip(surface.labels, (first, second), strict=True):
        if side.mean() < 0.03:
            continue
        room = distance_transform_edt(np.pad(side & free, 1))[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(room)), room.shape)
        place, text = (
            np.array([surface.x[column], surface.y[row]]),
            f"{wrapped(label, 24)}\n{words}",
        )
        _label(ax, place, text, fontweight="bold")
        places += _across(surface, place, text)
    return places


_LETTER = 0.014
"""Width of a letter, as a share of the axes' width."""


def _across(surface: BreakEvenSurface, place: Any, text: str) -> list[Any]:
    """Points along a text that is centred on a place."""
    half = _LETTER / 2 * max(len(line) for line in text.split("\n")) * np.ptp(surface.x)
    return [place + np.array([half * part, 0.0]) for part in (-1.0, -0.5, 0.0, 0.5, 1.0)]


def _own_point(ax: Axes, surface: BreakEvenSurface) -> list[Any]:
    """The file's own prices, if they lie within the axes; the places that it takes."""
    if surface.own is None:
        return []
    x, y = surface.own
    if not (surface.x[0] <= x <= surface.x[-1] and surface.y[0] <= y <= surface.y[-1]):
        return []
    ax.plot(x, y, "X", color=style.ORANGE, markeredgecolor=style.INK, markersize=10, clip_on=False)
    right = x < (surface.x[0] + surface.x[-1]) / 2
    ax.annotate(
        *("the file's own", (x, y)),
        xytext=(9 if right else -9, 0),
        textcoords="offset points",
        ha="left" if right else "right",
        va="center",
        fontsize=8,
        bbox={"boxstyle": "round,pad=0.15", "facecolor": style.PAPER, "edgecolor": "none"},
    )
    beside = (0.1 if right else -0.1) * np.ptp(surface.x)
    return [np.array([x + shift, y]) for shift in (0.0, beside, 1.4 * beside)]


def value_line(result: ValueBreakEven, ax: Axes | None = None) -> Axes:
    """Gain of the setup that catches more over the value of a pig, with its interval."""
    unit = result.currency or "money"
    reach = result.value.high if 0 < result.value.high < np.inf else abs(result.value.estimate)
    values = np.linspace(0, 2 * reach if np.isfinite(reach) and reach > 0 else 1.0, 101)
    with style.sheet():
        ax = style.axes_of(ax, 3.4)
        mean, low, high = result.gain(values)
        ax.fill_between(values, low, high, color=style.PALE_BLUE, alpha=0.6, linewidth=0)
        ax.plot(values, mean, color=style.BLUE, linewidth=2.0)
        ax.axhline(0, color=style.INK, linewidth=1.0, linestyle="--")
        if result.kind == "pays above" and result.value.estimate > 0:
            ax.plot(result.value.estimate, 0, "o", color=style.INK, markersize=7)
        ax.set_xlim(values[0], values[-1])
        ax.set_xlabel(f"value of removing a pig ({unit} a pig)")
        ax.set_ylabel(f"gain of {wrapped(result.better)}\n({unit} a campaign)")
        ax.set_title("\n".join(textwrap.wrap(result.told, 76)), fontsize=9)
        ax.grid()
    return ax
