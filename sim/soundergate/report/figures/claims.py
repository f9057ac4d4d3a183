"""Claims of the trade with what came of each, part by part, on one sheet."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from soundergate.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from soundergate.mechanics.advice.claims import Verdict
    from soundergate.scenario.unit_system import Units

_LINE = 0.155
"""Height of a line of text, inches."""

_MARKS = {"agree": "●", "depends": "◐", "disagree": "○"}


def claims_figure(verdicts: Sequence[Verdict], units: Units, case: str = "") -> Figure:
    """A claim a block: the verdict, each part that came out or did not, and the reason."""
    from soundergate.mechanics.numbers_in_words import told

    blocks = [_block(verdict, told(verdict.reason, units)) for verdict in verdicts]
    head = textwrap.wrap(_HEAD + (f" Worked out for {told(case, units)}." if case else ""), 112)
    lines = len(head) + 0.6 + sum(len(block) + 0.7 for block in blocks)
    with style.sheet():
        figure = style.new_figure(lines * _LINE + 0.2)
        figure.set_layout_engine("none")
        ax = figure.add_axes((0.015, 0.01, 0.97, 0.98))
        ax.axis("off")
        ax.set_xlim(0, 1)
        ax.set_ylim(lines, 0)
        place = 0.5
        for words in head:
            ax.text(0, place, words, fontsize=8, va="center", color=style.MUTED)
            place += 1.0
        place += 0.6
        for block in blocks:
            place = _write(ax, block, place) + 0.7
    return figure


_HEAD = (
    "Claims of the trade (common practice, no source), each tested by computing. ● agree, ○ "
    "disagree, ◐ depends; + came out, − did not."
)

Line = tuple[str, float, bool, str]


def _block(verdict: Verdict, reason: str) -> list[Line]:
    """Text, indent, bold, colour of each line."""
    head = f"{_MARKS[verdict.verdict]}  {verdict.claim}: {verdict.verdict}"
    lines: list[Line] = [
        (words, 0.0, True, style.INK) for words in textwrap.wrap(head, 96, subsequent_indent="    ")
    ]
    parts = [f"{'+' if good else '−'} {part}" for part, good in verdict.checks.items()]
    for words in _filled(parts, 118):
        lines.append((words, 0.025, False, style.BLUE))
    lines += [
        (words, 0.025, False, style.INK)
        for words in textwrap.wrap(f"{reason[:1].upper()}{reason[1:]}.", 112)
    ]
    return lines


def _filled(parts: Sequence[str], width: int) -> list[str]:
    """The parts on as few lines as hold them, each whole."""
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + 4 + len(part) <= width:
            lines[-1] += "    " + part
        else:
            lines.append(part)
    return lines


def _write(ax: Axes, block: list[Line], place: float) -> float:
    for words, indent, bold, colour in block:
        ax.text(
            indent,
            place,
            words,
            fontsize=8.2 if bold else 7.6,
            fontweight="bold" if bold else "normal",
            color=colour,
            va="center",
        )
        place += 1.0
    return place
