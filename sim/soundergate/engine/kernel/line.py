"""Trip lines in the kernel: twin of the lines in `reference.triggers` and of what they pull."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as e
from soundergate.engine.kernel.bodies import chance
from soundergate.engine.kernel.early import early
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.plan import Floats
from soundergate.engine.rules.line_pull import (
    drawn_by_itself,
    frees,
    ln_pull,
    share_left,
    snaps,
    switch_push,
)


@inlined
def hang(night: Night, t: int) -> None:
    """Triggers.share_tonight, and the push that works the line's switch."""
    row, trigger = night.trigger[t], night.triggers[t]
    u = chance(night.luck, k.D_LINE, t, k.FIRST)
    share = share_left(row[k.LINE_TURN], row[k.LINE_RUB_MU], row[k.LINE_RUB_SIGMA], u)
    trigger.share_left = share
    give = row[k.LINE_SLACK] + row[k.LINE_TRAVEL]
    trigger.switch_push = switch_push(
        row[k.LINE_SWITCH], share, row[k.LINE_HUNG], give, row[k.LINE_STIFFNESS], row[k.LINE_SPAN]
    )


@inlined
def pulls(night: Night, t: int) -> bool:
    """Triggers.pulls."""
    return t >= 0 and night.triggers[t].kind == k.LINE and night.trigger[t, k.LINE_SWITCH] < 0.0


@inlined
def needed(night: Night, o: int) -> float:
    """Gatehouse.needed."""
    row = night.opening[o]
    z = early(night.luck, e.E_NEED, k.FIRST, o)
    return ln_pull(row[k.O_NEED_MU], row[k.O_NEED_SIGMA], row[k.O_NEED_STEADY], z)


@inlined
def by_animals(row: Floats) -> bool:
    """gatehouse._by_animals."""
    return row[k.O_OWN_PULL] == 0.0 and row[k.O_ONE_WAY] == 0.0


@inlined
def easiest(night: Night) -> float:
    """Gatehouse.easiest."""
    least = math.inf
    for o in range(len(night.gates)):
        if by_animals(night.opening[o]):
            least = min(least, needed(night, o))
    return least


@inlined
def drawn_by_a_line(night: Night, ln_need: float) -> bool:
    """Triggers.drawn_by_a_line."""
    for t in range(len(night.triggers)):
        row = night.trigger[t]
        share = night.triggers[t].share_left
        if pulls(night, t) and drawn_by_itself(
            ln_need, share, row[k.LINE_HUNG], row[k.LINE_BREAKS]
        ):
            return True
    return False


@inlined
def pulled_by_line(night: Night, t: int, push: float, ln_need: float, travel: float) -> bool:
    """Triggers.pulled_by_line."""
    row = night.trigger[t]
    return frees(
        push, ln_need, night.triggers[t].share_left, row[k.LINE_HUNG],
        row[k.LINE_SLACK] + travel, row[k.LINE_STIFFNESS], row[k.LINE_BREAKS], row[k.LINE_SPAN],
    )  # fmt: skip


@inlined
def breaks(night: Night, t: int, push: float) -> bool:
    """Whether a push breaks line ``t``."""
    row = night.trigger[t]
    return snaps(
        push, easiest(night), night.triggers[t].share_left, row[k.LINE_HUNG], row[k.LINE_SLACK],
        row[k.LINE_STIFFNESS], row[k.LINE_BREAKS], row[k.LINE_SPAN],
    )  # fmt: skip
