"""Trip lines in the kernel: twin of the lines in `reference.triggers` and of what they pull."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as e
from soundergate.engine.kernel.bodies import chance
from soundergate.engine.kernel.early import early
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.plan import Opening
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
    row, trigger = night.triggers[t], night.trigger_states[t]
    u = chance(night.luck, k.D_LINE, t, k.FIRST)
    share = share_left(row.line_turn, row.friction_mu, row.friction_sigma, u)
    trigger.share_left = share
    give = row.line_slack + row.switch_travel
    trigger.switch_push = switch_push(
        row.switch_force, share, row.line_tension, give, row.line_stiffness, row.line_span
    )


@inlined
def pulls(night: Night, t: int) -> bool:
    """Triggers.pulls."""
    return t >= 0 and night.triggers[t].kind == k.LINE and night.triggers[t].switch_force < 0.0


@inlined
def needed(night: Night, o: int) -> float:
    """Gatehouse.needed."""
    row = night.openings[o]
    z = early(night.luck, e.E_NEED, k.FIRST, o)
    return ln_pull(row.need_mu, row.need_sigma, row.need_steady, z)


@inlined
def by_animals(row: Opening) -> bool:
    """Whether animals pull the latch of an opening."""
    return row.own_pull == 0 and row.one_way == 0


@inlined
def easiest(night: Night) -> float:
    """Gatehouse.easiest."""
    least = math.inf
    for o in range(len(night.gates)):
        if by_animals(night.openings[o]):
            least = min(least, needed(night, o))
    return least


@inlined
def drawn_by_a_line(night: Night, ln_need: float) -> bool:
    """Triggers.drawn_by_a_line."""
    for t in range(len(night.trigger_states)):
        row = night.triggers[t]
        share = night.trigger_states[t].share_left
        if pulls(night, t) and drawn_by_itself(ln_need, share, row.line_tension, row.break_force):
            return True
    return False


@inlined
def pulled_by_line(night: Night, t: int, push: float, ln_need: float, travel: float) -> bool:
    """Triggers.pulled_by_line."""
    row = night.triggers[t]
    return frees(
        push, ln_need, night.trigger_states[t].share_left, row.line_tension,
        row.line_slack + travel, row.line_stiffness, row.break_force, row.line_span,
    )  # fmt: skip


@inlined
def breaks(night: Night, t: int, push: float) -> bool:
    """Whether a push breaks line ``t``."""
    row = night.triggers[t]
    return snaps(
        push, easiest(night), night.trigger_states[t].share_left, row.line_tension, row.line_slack,
        row.line_stiffness, row.break_force, row.line_span,
    )  # fmt: skip
