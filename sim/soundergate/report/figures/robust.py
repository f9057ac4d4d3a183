"""Pictures of a comparison over plausible worlds: how differences lie, what is worth knowing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report import style
from soundergate.report.figures.estimates import name_rows, pair_label, row_height, wrapped
from soundergate.report.words.numbers import scale
from soundergate.scenario.units import figures
from soundergate.studies.worlds.phrases import phrase

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.robust_rows import RobustDifference

_SHOWN = 10


def worlds(
    result: RobustComparison, measure: str = "", ax: Axes | None = None, most: int = 24
) -> Axes:
    """How the difference of each pair lies over the plausible worlds.

    A thin line holds nine worlds of ten, a thick one the middle half, a dot the median. At the
    right stands the share of worlds in which the first of the pair has more.
    """
    name = measure or result.measures[0]
    rows = [d for d in result.differences if d.measure == name][:most]
    factor, unit = scale(result.kind(name).unit)
    with style.sheet():
        labels = [pair_label(d.a, d.b) for d in rows]
        ax = style.axes_of(ax, 1.2 + row_height(labels) * len(rows))
        for row, d in enumerate(rows):
            _spread(ax, -row, d, factor)
        ax.axvline(0, color=style.INK, linewidth=1.0, linestyle="--", zorder=0)
        name_rows(ax, labels)
        words = result.kind(name).words
        ax.set_xlabel(f"difference in {words} ({unit.replace('%', 'points,')})")
        style.note_above(
            ax,
            f"{result.worlds} plausible worlds. Thin line: nine of ten. Thick: the middle half. "
            "Dot: median.",
        )
        ax.annotate(
            "first has more in",
            (1.015, 0.62),
            xycoords=("axes fraction", "data"),
            fontsize=8,
            color=style.MUTED,
            va="center",
            annotation_clip=False,
        )
        ax.set_ylim(0.9 - len(rows) - 0.4, 0.9)
    return ax


def worth(
    result: RobustComparison,
    measure: str = "",
    arms: Sequence[str] | None = None,
    ax: Axes | None = None,
) -> Axes:
    """What each unknown would be worth, known before choosing between arms; the largest ones.

    Pale bars end before the dashed line: the largest may seem worth that much if none tells
    anything.
    """
    name = measure or result.measures[0]
    every = result.worth(name, arms or next(iter(result.choices.values())))
    rows = [w for w in every if w.evppi > 0.02 * every[0].evppi][:_SHOWN] or every[:3]
    factor, unit = scale(result.kind(name).unit)
    labels = [
        f"{wrapped(phrase(w.unknown), 44)}\n{w.unknown}\n{range_words(w.low, w.high, w.range_unit)}"
        for w in rows
    ]
    with style.sheet():
        ax = style.axes_of(ax, 1.1 + (0.1 + row_height(labels)) * len(rows))
        for row, w in enumerate(rows):
            colour = style.BLUE if w.shown else style.PALE_BLUE
            ax.barh(-row, factor * w.evppi, 0.62, color=colour, edgecolor=style.BLUE, linewidth=0.6)
        ax.axvline(factor * rows[0].chance, color=style.INK, linewidth=1.2, linestyle="--")
        name_rows(ax, labels)
        ax.set_xlim(0, 1.08 * factor * max(rows[0].evppi, rows[0].chance, 1e-9))
        ax.set_xlabel(f"worth of knowing it before choosing ({unit.replace('%', 'points,')})")
        style.note_above(ax, "Dashed: what the largest may seem worth if none tells anything.")
    return ax


def share_over_worlds(over: OverWorlds, as_assumed: float, ax: Axes | None = None) -> Axes:
    """In how many plausible worlds one setup catches what share of the group."""
    assert over.found is not None
    values = 100 * over.found.means["fraction_caught"][:, 0]
    low, middle, high = (100 * q.estimate for q in over.quantiles("fraction_caught"))
    with style.sheet():
        ax = style.axes_of(ax, 3.0)
        ax.hist(values, bins=range(0, 105, 5), color=style.PALE_BLUE, edgecolor=style.BLUE)
        top = 1.1 * ax.get_ylim()[1]
        ax.set_ylim(0, 1.12 * top)
        ax.plot([low, high], [top, top], color=style.BLUE, linewidth=2.5, solid_capstyle="butt")
        ax.plot(middle, top, "o", color=style.PAPER, markeredgecolor=style.BLUE, markersize=7)
        ax.axvline(100 * as_assumed, color=style.INK, linewidth=1.2, linestyle="--")
        ax.set_xlim(0, 100)
        ax.set_xlabel("share of the group caught (%)")
        ax.set_ylabel("plausible worlds")
        style.note_above(ax, "Line: nine of ten worlds. Dot: the middle one. Dashed: as assumed.")
    return ax


def arm_spreads(result: RobustComparison, measure: str = "", ax: Axes | None = None) -> Axes:
    """How the answer of each arm lies over the plausible worlds, marked as in `worlds`."""
    name = measure or result.measures[0]
    rows = [one for one in result.arm_spreads if one.measure == name]
    factor, unit = scale(result.kind(name).unit)
    with style.sheet():
        ax = style.axes_of(ax, 1.2 + row_height([one.arm for one in rows]) * len(rows))
        for row, one in enumerate(rows):
            _line(ax, -row, one.quantiles, factor)
        name_rows(ax, [one.arm for one in rows])
        ax.set_xlabel(f"{result.kind(name).words} ({unit or rows[0].unit})")
        style.note_above(
            ax,
            f"{result.worlds} plausible worlds. Thin line: nine of ten. Thick: the middle half. "
            "Dot: median.",
        )
        ax.set_ylim(0.9 - len(rows) - 0.4, 0.9)
    return ax


def _line(ax: Axes, row: float, quantiles: Sequence[float], factor: float) -> None:
    q05, q25, q50, q75, q95 = (factor * q for q in quantiles)
    line: dict[str, Any] = {"color": style.BLUE, "solid_capstyle": "butt"}
    ax.plot([q05, q95], [row, row], linewidth=1.5, **line)
    ax.plot([q25, q75], [row, row], linewidth=6, **line)
    ax.plot(q50, row, "o", color=style.PAPER, markeredgecolor=style.BLUE, markersize=6)


def _spread(ax: Axes, row: float, d: RobustDifference, factor: float) -> None:
    _line(ax, row, d.quantiles, factor)
    low, high = 100 * d.low, 100 * d.high
    ax.annotate(
        f"{100 * d.share:.0f} % ({low:.0f} to {high:.0f})",
        (1.015, row),
        xycoords=("axes fraction", "data"),
        va="center",
        fontsize=8,
        annotation_clip=False,
    )


def range_words(low: Any, high: Any, unit: str) -> str:
    """The plausible range of an unknown, "10 to 300 s"."""
    if isinstance(low, list):
        return "several numbers"
    return f"{figures(low, 4)} to {figures(high, 4)} {unit}".strip().replace("-", "−")
