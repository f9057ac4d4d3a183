"""Whether a figure can be read: no label cut off, none over another, a unit on every axis."""

from __future__ import annotations

import itertools
from typing import Any
from unittest import mock

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

Words = list[tuple[str, Bbox]]


def texts(figure: Figure) -> Words:
    """Words that really are drawn and the box around each, in pixels."""
    found: Words = []
    draw = Text.draw

    def noted(text: Text, renderer: Any, *rest: Any, **more: Any) -> Any:
        if text.get_visible() and text.get_text().strip():
            found.append((text.get_text(), Text.get_window_extent(text, renderer)))
        return draw(text, renderer, *rest, **more)

    with mock.patch.object(Text, "draw", noted):
        FigureCanvasAgg(figure).draw()
    return found


def cut_off(figure: Figure, drawn: Words | None = None) -> list[str]:
    """Words that reach past the edge of the paper."""
    width, height = figure.get_size_inches() * figure.dpi
    return [
        words
        for words, box in drawn or texts(figure)
        if box.x0 < -1 or box.y0 < -1 or box.x1 > width + 1 or box.y1 > height + 1
    ]


def overlapping(figure: Figure, drawn: Words | None = None) -> list[tuple[str, str]]:
    """Pairs of words that cover more than a sliver of each other; slanted ones are left out."""
    pairs = []
    for (one, box), (other, box2) in itertools.combinations(drawn or texts(figure), 2):
        common = Bbox.intersection(box, box2)
        if common is None or common.width < 2 or common.height < 2:
            continue
        if common.width * common.height > 0.12 * min(
            box.width * box.height, box2.width * box2.height
        ):
            pairs.append((one, other))
    return pairs


def unlabelled(figure: Figure) -> list[str]:
    """Axes with numbers on them and neither a label nor a unit anywhere."""
    missing = []
    for axes in figure.axes:
        if not axes.axison:
            continue
        numbers = [t.get_text() for t in axes.get_xticklabels() if t.get_visible()]
        if any(text.strip() for text in numbers) and axes.xaxis.get_tick_params().get(
            "labelbottom", True
        ):
            label = axes.get_xlabel() or figure.get_supxlabel()
            missing += [] if label else [f"x of {axes.get_title()!r}"]
    return missing


def assert_legible(figure: Figure, named: str = "", *, least: int = 1) -> None:
    """All of the above, drawn once; ``least`` texts are there."""
    drawn = texts(figure)
    assert len(drawn) >= least, named
    assert cut_off(figure, drawn) == [], named
    assert overlapping(figure, drawn) == [], named
    assert unlabelled(figure) == [], named
