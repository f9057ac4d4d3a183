"""Every gate with every latch in one opening, as a grid: which will do, how soon, and why not."""

from __future__ import annotations

import textwrap
from math import isnan
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.advice.pairs import GATES, LATCHES, LEAVES
from soundergate.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.advice.pairs import Pair, Pairs

_PARTS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("trigger to movement", {"facecolor": style.GREY, "edgecolor": style.MUTED}),
    ("until a juvenile no longer passes", {"facecolor": style.BLUE, "edgecolor": style.BLUE}),
    (
        "until it is shut",
        {"facecolor": style.PALE_BLUE, "edgecolor": style.BLUE, "hatch": "////"},
    ),
)
_EDGE = 0.05


def pairs_figure(pairs: Pairs, title: str = "") -> Figure:
    """A cell a pair: gates down, latches across.

    A pair that can be relied on says how long after the trigger a median juvenile still gets by,
    with a bar of that and the time until shut, on one scale for all; the soonest has a thick
    frame. Any other says why not.
    """
    rows = pairs.pairs
    gates, latches = (list(dict.fromkeys(getattr(p, name) for p in rows)) for name in _SIDES)
    gates.sort(key=_ORDER.index)
    latches.sort(key=_ORDER.index)
    last = max((p.shut_time for p in rows if p.feasible), default=1.0)
    with style.sheet():
        figure = style.new_figure(1.3 + 1.05 * len(gates))
        ax = figure.subplots()
        for pair in rows:
            place = (latches.index(pair.latch), gates.index(pair.gate))
            _cell(ax, place, pair, last, pair is pairs.best)
        ax.set_xlim(-0.01, len(latches) + 0.01)
        ax.set_ylim(len(gates) + 0.01, -0.01)
        ax.set_xticks([k + 0.5 for k in range(len(latches))], [f"{name} latch" for name in latches])
        ax.xaxis.tick_top()
        ax.set_yticks([k + 0.5 for k in range(len(gates))], [_two_lines(name) for name in gates])
        ax.tick_params(length=0)
        for spine in ax.spines.values():
            spine.set_visible(False)
        if title:
            ax.set_title(title, pad=14)
        if pairs.best is None:
            ax.set_xlabel("No pair can be relied on with this puller.", fontsize=9)
        else:
            ax.set_xlabel(
                f"The bars run from the trigger; one across its whole cell would be {last:.2f} s.",
                fontsize=8,
            )
            _legend(figure)
    return figure


_SIDES = ("gate", "latch")
_ORDER = (*GATES, *LATCHES)


def _two_lines(name: str) -> str:
    """ "side-hinged, double" as people say it, on two lines."""
    kind, _, leaves = name.partition(", ")
    return f"{kind}\n{LEAVES.get(leaves, 'gate')}"


def _cell(ax: Axes, place: tuple[int, int], pair: Pair, last: float, best: bool) -> None:
    from matplotlib.patches import Rectangle

    x, y = place
    frame = Rectangle(
        (x + 0.02, y + 0.02),
        0.96,
        0.96,
        facecolor=style.PAPER if pair.feasible else style.GREY,
        edgecolor=style.INK if best else style.RULE,
        linewidth=2.4 if best else 0.8,
    )
    ax.add_patch(frame)
    if not pair.feasible:
        words = textwrap.fill(f"No: {pair.why}", 30, max_lines=7, placeholder=" …")
        ax.text(x + _EDGE, y + 0.5, words, fontsize=6.8, va="center", linespacing=1.15)
        return
    ax.text(x + _EDGE, y + 0.14, "a juvenile gets by until", fontsize=7.5, va="center")
    ax.text(x + _EDGE, y + 0.42, f"{pair.juvenile_time:.2f} s", fontsize=12, weight="bold")
    margin = "" if isnan(pair.margin) else f"margin {_short(pair.margin)}, "
    ax.text(x + _EDGE, y + 0.58, f"{margin}releases", fontsize=7.5, va="center")
    ax.text(x + _EDGE, y + 0.7, _share(pair), fontsize=7.5, va="center")
    _bar(ax, x, y, pair, last)


def _short(margin: float) -> str:
    return f"{margin:.0f}" if margin >= 10 else f"{margin:.1f}"


def _share(pair: Pair) -> str:
    from soundergate.mechanics.numbers_in_words import percent

    hangs = f", sticks {percent(pair.hang_probability)}" if pair.hang_probability >= 0.01 else ""
    return f"{percent(pair.release_probability)}{hangs}"


def _bar(ax: Axes, x: float, y: float, pair: Pair, last: float) -> None:
    from matplotlib.patches import Rectangle

    left, width = 0.0, 1.0 - 2.0 * _EDGE
    ends = (pair.release_time, pair.juvenile_time, pair.shut_time)
    for end, (_, look) in zip(ends, _PARTS, strict=True):
        share = width * max(end - left, 0.0) / last
        corner = (x + _EDGE + width * left / last, y + 0.8)
        ax.add_patch(Rectangle(corner, share, 0.11, linewidth=0.6, **look))
        left = max(end, left)


def _legend(figure: Figure) -> None:
    from matplotlib.patches import Patch

    handles = [Patch(label=words, linewidth=0.6, **look) for words, look in _PARTS]
    figure.legend(handles=handles, loc="outside lower center", ncols=3)
