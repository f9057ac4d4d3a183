"""The one style sheet of every figure: colours, hatches, marks, and how a figure is saved.

Nothing is told by colour alone: every colour has a hatch, a line style, a marker or a thickness
beside it, and the colours differ enough in lightness to be told apart in grey print. Hues keep to
the blue-orange axis, which the common colour-vision deficiencies leave intact. Words name a hatch,
a line or a place rather than a shade, because a page is also dark.

Axes carry words and the units that the scenario is written in. A figure says of how many nights it
is made, and what its lines or bands stand for. Figures are drawn without a window and saved without
dates, so that equal figures are equal bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.engine import codes
from soundergate.files import write_bytes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#1b1f24"
PAPER = "#ffffff"
MUTED = "#5f6771"
RULE = "#c4cad1"
BLUE = "#1f5a93"
PALE_BLUE = "#9fc4e4"
ORANGE = "#d4640a"
PALE_ORANGE = "#f6c98f"
GREY = "#d9dde2"

WIDTH = 7.2
"""Width of a full figure in inches: letter or A4 paper less its margins."""

RC: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 9,
    "axes.titlesize": 10,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 8,
    "axes.labelsize": 9,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.facecolor": PAPER,
    "axes.axisbelow": True,
    "figure.facecolor": PAPER,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "hatch.linewidth": 0.7,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "legend.handlelength": 2.4,
    "legend.handleheight": 1.1,
    "savefig.facecolor": PAPER,
    "svg.fonttype": "path",
    "svg.hashsalt": "soundergate",
    "text.color": INK,
    "text.parse_math": False,  # a "$" in a user's title is money, not mathematics
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 8.5,
    "ytick.labelsize": 8.5,
}


@dataclass(frozen=True, slots=True)
class Fill:
    """How an area is filled: colour, hatch, colour of hatch and edge, colour of text on it."""

    colour: str
    hatch: str
    edge: str
    text: str


FATES: dict[str, tuple[str, Fill]] = {
    codes.CAUGHT: ("caught", Fill(BLUE, "", BLUE, PAPER)),
    codes.ESCAPED_DURING: ("escaped before it was shut", Fill(ORANGE, "////", PAPER, INK)),
    codes.ESCAPED_AFTER: ("escaped after it was shut", Fill(PALE_ORANGE, "xxx", ORANGE, INK)),
    codes.ESCAPED_BEFORE: ("left before the release", Fill(PALE_BLUE, "|||", BLUE, INK)),
    codes.NEVER_ENTERED: ("never went in", Fill(GREY, "", MUTED, INK)),
}
"""Outcome column -> (words, fill), in the order in which shares are stacked."""

SERIES: tuple[tuple[str, str, str], ...] = (
    (BLUE, "-", "o"),
    (ORANGE, "--", "s"),
    (MUTED, "-.", "^"),
    (INK, ":", "D"),
    (PALE_BLUE, "-", "v"),
    (PALE_ORANGE, "--", "P"),
)
"""(colour, line style, marker) of the first, second, ... of several curves."""


@contextmanager
def sheet() -> Iterator[None]:
    """Draw or save under this style sheet alone, and leave the caller's settings as they were.

    What a matplotlibrc of the folder or the user says would draw other pictures elsewhere.
    """
    import matplotlib

    usual = {
        key: value
        for key, value in matplotlib.rcParamsDefault.items()
        if not key.startswith(_OF_THE_SCREEN) and matplotlib.rcParams[key] != value
    }
    with matplotlib.rc_context(usual | RC):
        yield


_OF_THE_SCREEN = ("backend", "interactive", "toolbar")
"""Settings of windows, which no picture depends on."""


def new_figure(height: float, width: float = WIDTH) -> Figure:
    """An empty figure in inches; it belongs to no window, so it needs no display."""
    from matplotlib.figure import Figure

    with sheet():
        return Figure(figsize=(width, height), layout="constrained")


def axes_of(ax: Axes | None, height: float, width: float = WIDTH) -> Axes:
    """The axes given, or the only axes of a new figure."""
    return ax if ax is not None else new_figure(height, width).subplots()


def fill_of(fate: str) -> dict[str, Any]:
    """Keyword arguments of a bar for a fate of `FATES`."""
    fill = FATES[fate][1]
    return {
        "facecolor": fill.colour,
        "hatch": fill.hatch,
        "edgecolor": fill.edge,
        "linewidth": 0.6,
    }


def note_above(ax: Axes, words: str) -> None:
    """A muted line over the axes; it grows to the left, over the names of rows, if it is long."""
    ax.set_title(words, loc="right", fontsize=8, fontweight="normal", color=MUTED)


def text_on(fill: Fill) -> dict[str, Any]:
    """Keyword arguments of a text on a fill; a patch of ground keeps it off the hatch lines."""
    box = {"boxstyle": "round,pad=0.15", "facecolor": fill.colour, "edgecolor": "none"}
    return {"color": fill.text, "bbox": box if fill.hatch else None}


def spread(positions: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move label positions apart until neighbours differ by `gap`, staying within low..high.

    Order is kept. Where there is no room for all of them they are spread evenly over low..high.
    """
    number = len(positions)
    if number == 0:
        return []
    order = sorted(range(number), key=lambda i: positions[i])
    if gap * (number - 1) >= high - low:
        step = (high - low) / max(number - 1, 1)
        placed = [low + step * k for k in range(number)]
    else:
        placed = [min(max(positions[i], low), high) for i in order]
        for k in range(1, number):
            placed[k] = max(placed[k], placed[k - 1] + gap)
        placed[-1] = min(placed[-1], high)
        for k in range(number - 2, -1, -1):
            placed[k] = min(placed[k], placed[k + 1] - gap)
    result = [0.0] * number
    for k, i in enumerate(order):
        result[i] = placed[k]
    return result


def save(
    figure: Figure, stem: str | Path, formats: Sequence[str] = ("png", "svg"), dpi: int = 150
) -> list[Path]:
    """Write stem.png, stem.svg, ... and return their paths; equal figures give equal bytes."""
    without_date: dict[str, dict[str, Any]] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    }
    paths = []
    with sheet():
        for suffix in formats:
            path = Path(f"{stem}.{suffix}")
            path.parent.mkdir(parents=True, exist_ok=True)
            drawn = io.BytesIO()
            figure.savefig(drawn, format=suffix, dpi=dpi, metadata=without_date.get(suffix))
            paths.append(write_bytes(path, drawn.getvalue()))
    return paths
