"""What many nights say, as pictures: fates, counts, estimates, differences.

Every function draws on the axes given, or on a figure of its own, and returns the axes.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from soundergate.engine.outcomes import Outcomes
from soundergate.report import style
from soundergate.report.quantities import fate_shares, group_words, tally_of
from soundergate.report.words.numbers import digits_shown, scale_of
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.sentences import about_percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.studies.estimate import RunResult


class Estimated(Protocol):
    """An estimate with its interval, in SI."""

    @property
    def estimate(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def level(self) -> float: ...


class Difference(Estimated, Protocol):
    """Measure of `a` less measure of `b` on the same nights, with its interval."""

    @property
    def a(self) -> str: ...
    @property
    def b(self) -> str: ...
    @property
    def measure(self) -> str: ...
    @property
    def settled(self) -> bool: ...


def wrapped(name: str, width: int = 30, most: int = 4) -> str:
    """An arm's name on as many lines as it needs, broken at a comma before anywhere else.

    Past `most` lines it ends in an ellipsis.
    """
    parts = [name] if len(name) <= width else name.replace(", ", ",\n").split("\n")
    lines = [line for part in parts for line in textwrap.wrap(part, width, break_on_hyphens=False)]
    if len(lines) <= most:
        return "\n".join(lines)
    return textwrap.fill(name, width, max_lines=most, placeholder=" …", break_on_hyphens=False)


def pair_label(a: str, b: str) -> str:
    """The two of a difference, what they share said once: "drop gate: line − bait container"."""
    ours, theirs = a.split(", "), b.split(", ")
    shared = [one for one, other in zip(ours, theirs, strict=False) if one == other]
    if len(ours) != len(theirs) or not shared:
        return f"{wrapped(a)}\n− {wrapped(b)}"
    first, second = (
        ", ".join(part for part in parts if part not in shared) for parts in (ours, theirs)
    )
    return f"{wrapped(', '.join(shared))}:\n{wrapped(f'{first} − {second}', 52, 2)}"


def pair_cell(a: str, b: str) -> str:
    """The same for a table: on one line where that is short."""
    line = f"{a} − {b}"
    return line if len(line) <= 60 else pair_label(a, b)


def fates(
    arms: Outcomes | RunResult | Mapping[str, Outcomes | RunResult], ax: Axes | None = None
) -> Axes:
    """What became of the group, as mean shares over nights, one stacked bar an arm.

    `arms` is one run or several by name, as nights or as a result. Shares are of the group, so an
    arm's bar is 100 % long.
    """
    single = isinstance(arms, Outcomes) or not isinstance(arms, Mapping)
    named: dict[str, Any] = {"": arms} if single else dict(arms)  # type: ignore[arg-type]
    shares = {name: fate_shares(item) for name, item in named.items()}
    with style.sheet():
        ax = style.axes_of(ax, 1.3 + (0.62 if len(named) <= 6 else 0.42) * len(named))
        for row, of_arm in enumerate(shares.values()):
            _fate_bar(ax, -row, of_arm)
        ax.set_yticks([-k for k in range(len(named))], [wrapped(name) for name in named])
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        ax.set_xlim(0, 100)
        ax.set_ylim(0.5 - len(named), 0.5)
        ax.set_xlabel("mean share of the group (%)")
        _fate_legend(ax, {f for of_arm in shares.values() for f, share in of_arm.items() if share})
    return ax


def _fate_bar(ax: Axes, row: float, shares: Mapping[str, float]) -> None:
    left = 0.0
    for fate, (_, fill) in style.FATES.items():
        share = 100 * shares.get(fate, 0.0)
        if share <= 0:
            continue
        ax.barh(row, share, 0.62, left, **style.fill_of(fate))
        if share >= 4.5:
            ax.text(
                left + share / 2,
                row,
                f"{share:.0f} %",
                ha="center",
                va="center",
                fontsize=8,
                **style.text_on(fill),
            )
        left += share


def _fate_legend(ax: Axes, present: set[str]) -> None:
    from matplotlib.patches import Patch

    handles = [
        Patch(label=words, **style.fill_of(fate))
        for fate, (words, _) in style.FATES.items()
        if fate in present
    ]
    ax.legend(handles=handles, loc="lower right", bbox_to_anchor=(1, 1.0), ncols=3)


def caught_distribution(item: Outcomes | RunResult, ax: Axes | None = None) -> Axes:
    """Share of nights with 0, 1, ... animals caught; the mean stands as a line.

    The hatched part of a bar is nights on which that was the whole group.
    """
    tally = tally_of(item)
    with style.sheet():
        ax = style.axes_of(ax, 2.6)
        tallest = draw_catches(ax, tally)
        mean, whole = tally.moments["caught"].mean, tally.moments["whole_group"].mean
        above = ax.get_xaxis_transform()
        if tally.nights:
            ax.text(mean, 1.02, f"mean {mean:.1f}", transform=above, ha="center", fontsize=8)
            left = mean > tally.largest_group / 2  # beside the line, not across it
            ax.text(
                -0.4 if left else tally.largest_group + 0.4,
                0.97,
                f"hatched: whole group, {about_percent(whole)} of nights",
                transform=above,
                ha="left" if left else "right",
                va="top",
                fontsize=8,
                bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 1},
            )
        ax.set_ylim(0, max(1.2 * tallest, 1.0))
        group = group_words(tally.smallest_group, tally.largest_group)
        ax.set_xlabel(f"animals caught in a night ({group})")
        ax.set_ylabel("share of nights (%)")
        if tally.largest_group <= 25:
            ax.set_xticks(range(tally.largest_group + 1))
    return ax


def draw_catches(ax: Axes, tally: Tally, line_to: float = 1.0) -> float:
    """The bars of `caught_distribution` and the line at the mean; the tallest bar in %.

    The line ends at a share `line_to` of the height, so that there is room for words above.
    """
    size, nights = tally.largest_group, max(tally.nights, 1)
    caught, whole = (
        100 * np.array([*counts, *([0] * (size + 1 - len(counts)))]) / nights
        for counts in (tally.catches, tally.wholes)
    )
    numbers = np.arange(size + 1)
    for height, foot, colour, hatch, edge in (
        (whole, np.zeros(size + 1), style.BLUE, "////", style.PAPER),
        (caught - whole, whole, style.PALE_BLUE, "", style.BLUE),
    ):
        drawn = height > 0
        ax.bar(
            numbers[drawn], height[drawn], 0.8, foot[drawn],
            facecolor=colour, hatch=hatch, edgecolor=edge,
        )  # fmt: skip
    if tally.nights:
        mean = tally.moments["caught"].mean
        ax.axvline(mean, ymax=line_to, color=style.INK, linestyle="--", linewidth=1.2)
    ax.set_xlim(-0.7, size + 0.7)
    ax.grid(axis="y")
    return float(caught.max())


def forest(
    differences: Sequence[Difference], measure: str = "fraction_caught", ax: Axes | None = None
) -> Axes:
    """Paired differences of one measure with their simultaneous intervals.

    A filled mark is a difference whose interval leaves out zero, an open one a difference that
    the nights played do not settle, or that rests on too few of them.
    """
    rows = [item for item in differences if item.measure == measure]
    with style.sheet():
        labels = [pair_label(item.a, item.b) for item in rows]
        ax = style.axes_of(ax, 0.9 + row_height(labels) * max(len(rows), 1))
        factor, unit = scale_of(measure)
        for row, item in enumerate(rows):
            look = style.SERIES[0]
            _interval_row(ax, -row, item, factor, look, open_mark=not item.settled, sign=True)
        ax.axvline(0, color=style.INK, linewidth=1.0, linestyle="--", zorder=0)
        name_rows(ax, labels)
        words = MEASURES[measure].words if measure in MEASURES else measure
        points = unit.replace("%", "points,")
        ax.set_xlabel(f"difference in {words} ({points})" if unit else f"difference in {words}")
        _level_note(ax, rows, "all together, ")
    return ax


def _interval_row(
    ax: Axes,
    row: float,
    item: Estimated,
    factor: float,
    look: tuple[str, str, str],
    open_mark: bool = False,
    sign: bool = False,
) -> None:
    colour, _, marker = look
    low, middle, high = (factor * value for value in (item.low, item.estimate, item.high))
    if isfinite(low) and isfinite(high):
        ax.plot([low, high], [row, row], color=colour, linewidth=2, solid_capstyle="butt")
        ax.plot([low, high], [row, row], "|", color=colour, markersize=8)
    ax.plot(
        middle, row, marker, color=colour, markersize=7, mfc=style.PAPER if open_mark else colour
    )
    digits = digits_shown(item.low, item.high, factor)
    form = f"{'+' if sign else ''}.{digits}f"
    text = f"{middle:{form}}  ({low:{form}} to {high:{form}})".replace("-", "−")
    if not isfinite(low):
        text = f"{middle:{form}}  (no interval)".replace("-", "−")
    ax.annotate(
        text,
        (1.015, row),
        xycoords=("axes fraction", "data"),
        va="center",
        fontsize=8,
        annotation_clip=False,
    )


def row_height(labels: Sequence[str]) -> float:
    """Height in inches of a row that the longest of some labels fits in."""
    return 0.16 + 0.15 * max((label.count("\n") + 1 for label in labels), default=1)


def name_rows(ax: Axes, names: Sequence[str]) -> None:
    ax.set_yticks([-k for k in range(len(names))], names)
    ax.set_ylim(0.5 - max(len(names), 1), 0.5)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    ax.grid(axis="x")
    ax.margins(x=0.06)


def _level_note(ax: Axes, items: Sequence[Any], words: str) -> None:
    """Say above the axes what the lines stand for."""
    levels = sorted({float(item.level) for item in items})
    if not levels:
        return
    text = " and ".join(f"{100 * level:.4g} %" for level in levels)
    note = f"Lines: {words}{text} confidence."
    if words:
        note += " Open mark: not settled by these nights."
    style.note_above(ax, note)
