"""The defaults that move the answer most, as bars about the answer as it is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.contents import source_of
from soundergate.report.words.numbers import scale_of
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.worlds.tornado import DifferenceTornado

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.worlds.tornado import Swing, Tornado

_ENDS = (
    ("low", style.PALE_BLUE, "", "at the low end"),
    ("high", style.ORANGE, "////", "at the high end"),
)


def tornado(result: Tornado, ax: Axes | None = None) -> Axes:
    """One row a default: where the measure goes at either end of its range, with intervals.

    Of a difference between two setups a dashed line marks none at all.
    """
    factor, unit = scale_of(result.measure)
    base = factor * result.base.estimate
    apart = isinstance(result, DifferenceTornado)
    with style.sheet():
        ax = style.axes_of(ax, 1.2 + 0.46 * len(result.swings))
        for row, one in enumerate(result.swings):
            for side, (name, colour, hatch, _) in enumerate(_ENDS):
                found: Difference | None = getattr(one, name)
                if found is not None:
                    place = -row + 0.18 - 0.36 * side
                    _bar(ax, place, base, found, factor, (colour, hatch), apart)
        ax.axvline(base, color=style.INK, linewidth=1.0)
        if apart:
            ax.axvline(0, color=style.INK, linewidth=1.0, linestyle="--", zorder=0)
        names = [_name(one) for one in result.swings]
        ax.set_yticks([-k for k in range(len(names))], names)
        ax.set_ylim(0.6 - len(names), 0.6)
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        ax.grid(axis="x")
        words = MEASURES[result.measure].words
        if apart:
            words, unit = f"difference in {words}", unit.replace("%", "points,")
        ax.set_xlabel(f"{words} ({unit})" if unit else words)
        _legend(ax)
    return ax


def _bar(
    ax: Axes,
    y: float,
    base: float,
    found: Difference,
    factor: float,
    look: tuple[str, str],
    apart: bool,
) -> None:
    colour, hatch = look
    ax.barh(
        y, factor * found.estimate, 0.34, base, color=colour, hatch=hatch,
        edgecolor=style.INK, linewidth=0.6,
    )  # fmt: skip
    most = 100.0 if factor == 100.0 else math.inf
    least = -most if apart else 0.0
    # no share is below 0 or above 100 %, none differ by more than 100 points, no count is below 0
    ends = [min(max(base + factor * end, least), most) for end in (found.low, found.high)]
    ax.plot(ends, [y, y], "|-", color=style.INK, linewidth=1.0, markersize=5)


def _name(one: Swing) -> str:
    return f"{one.id}\n{source_of(one.id, one.input.entry).range}"


def _legend(ax: Axes) -> None:
    from matplotlib.patches import Patch

    handles: list[Any] = [
        Patch(facecolor=colour, hatch=hatch, edgecolor=style.INK, label=words)
        for _, colour, hatch, words in _ENDS
    ]
    ax.legend(handles=handles, loc="lower right", bbox_to_anchor=(1, 1.0), ncols=2)
