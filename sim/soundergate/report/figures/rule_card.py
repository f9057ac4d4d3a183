"""A release rule as a card: large, light on dark, to be read at night beside a small screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report import style
from soundergate.report.words.rule_answers import rule_lines

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.studies.rule.release_rule import Rule

_NIGHT, _LIGHT, _DIM = "#000000", "#ffd9a0", "#b98a4a"
"""Dark ground and warm light: what dazzles the eye least at night, and prints as it is."""


def rule_card(rule: Rule, group: int, ax: Axes | None = None) -> Axes:
    """The card of a rule for a group of so many; returns the axes."""
    lines = rule_lines(rule, group)
    with style.sheet():
        ax = style.axes_of(ax, 1.5 + 0.62 * len(lines), 5.6)
        ax.set_facecolor(_NIGHT)
        ax.set_xlim(0, 1)
        ax.set_ylim(len(lines) + 1.35, -0.9)
        ax.set_xticks([])
        ax.set_yticks([])
        for spine in ax.spines.values():
            spine.set_visible(False)
        ax.text(0.03, -0.35, "since the alert", color=_DIM, fontsize=12, va="center")
        ax.text(0.44, -0.35, f"counted, of {group}", color=_DIM, fontsize=12, va="center")
        for row, (when, what) in enumerate(lines):
            ax.text(0.03, row + 0.45, when, color=_LIGHT, fontsize=15, va="center")
            ax.text(
                *(0.44, row + 0.45, what), color=_LIGHT, fontsize=17, va="center", weight="bold"
            )
            ax.axhline(row + 0.95, color=_DIM, linewidth=0.6)
        ax.text(
            0.03,
            len(lines) + 0.62,
            "First look that no person, dog or other animal is in the opening.",
            color=_LIGHT,
            fontsize=10.5,
            va="center",
        )
    return ax
