"""Statics of a trip line between an animal's push and a latch or a switch.

A light line of span S hangs with the tension T0 it was set with. Pushed sideways at mid-span with a
force P until it stands delta out, it carries a tension T, and

    P = 2 T sin(a),  tan(a) = 2 delta / S,

while its ends have given 2 (sqrt((S/2)^2 + delta^2) - S/2) =: d of line. That line comes from what
gives at no more tension (slack in knots, eyes and posts), from the travel of what it works, and
from stretch, (T - T0)/k with k the stiffness of the whole line. Written by d,

    P = 4 T sqrt(d/2 (S + d/2)) / (S + d).

A line hung without tension is the limit T0 = 0. Of one that does not stretch the tension it was
hung with makes no difference to the push, only to whether it stands at all. Each bend leaves
exp(-mu theta) of the tension on its way to the latch (capstan equation, Euler 1769 and Eytelwein
1808); of the tension it was hung with, too, since it is drawn tight from the far end.

The engines compile `push_for`, and `mechanics.chain` calls it with arrays: one formula for a night
and for `check`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from soundergate.scenario.constants import GRAVITY


def sag(span: float, weight: float, tension: float) -> float:
    """Sag in m at mid-span, w S^2 / (8 T0), of a line of ``weight`` kg/m hung with T0 N."""
    return weight * GRAVITY * span * span / (8.0 * tension)


def share_left(turn: float, friction: float) -> float:
    """Share of the tension that is left after bends of ``turn`` rad in all."""
    return math.exp(-friction * turn)


def push_for(tension: Any, hung: Any, give: Any, stiffness: Any, span: Any) -> Any:
    """Sideways push in N at mid-span under which the line carries ``tension`` N.

    ``hung`` N is the tension without a push, at most ``tension``; ``give`` m of line comes from
    slack and travel, ``stiffness`` N/m is that of the whole line, ``span`` m. Numbers or arrays.
    """
    drawn = give + (tension - hung) / stiffness
    return 4.0 * tension * np.sqrt(0.5 * drawn * (span + 0.5 * drawn)) / (span + drawn)
