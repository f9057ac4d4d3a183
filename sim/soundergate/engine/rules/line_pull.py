"""A pushed line and a latch, tonight: the rule of `mechanics.chain` for one push, line and latch.

Shared by both engines. Forces in N, lengths in m; a latch's need is given by its logarithm, inf for
one that no pull frees.
"""

from __future__ import annotations

import math

from soundergate.engine.compiled.decorators import compiled_as
from soundergate.engine.luck.elementary import exp, ln
from soundergate.engine.luck.normal import normal_quantile
from soundergate.mechanics import trip_line

NO_PULL = -1e300
"""Stands for ln 0: what needs no pull is freed by any puller, also by one that gives none."""

push_for = compiled_as("f8(f8, f8, f8, f8, f8)")(trip_line.push_for)


@compiled_as("f8(f8, f8, f8, f8)")
def ln_pull(mu: float, sigma: float, steady: float, z: float) -> float:
    """ln of a pull (N) of which exp(mu + sigma z) scatters and ``steady`` does not.

    `NO_PULL` where that is none at all: what the load does by itself, or seals take whole.
    """
    if steady == 0.0:
        return mu + sigma * z
    pull = exp(mu + sigma * z) + steady
    return ln(pull) if pull > 0.0 else NO_PULL


@compiled_as("f8(f8, f8, f8, f8)")
def share_left(turn: float, mu: float, sigma: float, u: float) -> float:
    """Share of a line's tension that bends of ``turn`` rad leave, of the number ``u`` in (0, 1).

    The friction in them is exp(mu + sigma z). No bends, or none that rub, have a turn of 0.
    """
    if turn <= 0.0:
        return 1.0
    friction = exp(mu + sigma * normal_quantile(u)) if sigma > 0.0 else exp(mu)
    return exp(-turn * friction)


@compiled_as("b1(f8, f8, f8, f8)")
def drawn_by_itself(ln_need: float, share: float, hung: float, breaks: float) -> bool:
    """Whether the tension that a line was hung with frees a latch, if the line bears it."""
    return exp(ln_need) <= share * min(hung, breaks)


@compiled_as("b1(f8, f8, f8, f8, f8, f8, f8, f8)")
def frees(
    push: float, ln_need: float, share: float, hung: float, give: float, stiffness: float,
    breaks: float, span: float,
) -> bool:  # fmt: skip
    """Whether a push on a line frees a latch before the line breaks.

    ``give`` is slack and the latch's own travel.
    """
    need = exp(ln_need)
    if need > share * breaks:
        return False
    if need <= share * hung:
        return True
    return push >= push_for(need / share, hung, give, stiffness, span)


@compiled_as("b1(f8, f8, f8, f8, f8, f8, f8, f8)")
def snaps(
    push: float, ln_need: float, share: float, hung: float, slack: float, stiffness: float,
    breaks: float, span: float,
) -> bool:  # fmt: skip
    """Whether a push breaks a line; ``ln_need`` is that of the easiest latch that it pulls."""
    if exp(ln_need) <= share * breaks:
        return False
    return breaks <= hung or push >= push_for(breaks, hung, slack, stiffness, span)


@compiled_as("f8(f8, f8, f8, f8, f8, f8)")
def switch_push(
    force: float, share: float, hung: float, give: float, stiffness: float, span: float
) -> float:
    """Push that works a switch, which is set on the hung line and takes ``force`` more than that.

    ``give`` is slack and the switch's own travel.
    """
    if share <= 0.0:
        return 0.0 if force == 0.0 else math.inf
    return push_for(hung + force / share, hung, give, stiffness, span)
