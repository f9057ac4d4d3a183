"""How a captive gets out between closure and the trap check: by the gate, over or under."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import compiled_as
from soundergate.engine.luck.draws import sample, sample_row
from soundergate.engine.plan import Floats
from soundergate.scenario.constants import GRAVITY


@compiled_as("f8(f8, f8[:, ::1], i8, i8, i8)")
def push_of(mass: float, times: Floats, seed: int, traits: int, who: int) -> float:
    """Push in N of an animal of ``mass`` kg: its strength as a share of its weight.

    ``traits`` is the number of the night whose draws say what animals are like.
    """
    share = sample_row(times, k.T_STRENGTH, seed, traits, k.D_BODY, who, 2)
    return share * mass * GRAVITY


@compiled_as("f8(f8, f8, i8, i8, i8)")
def push_that_opens(median: float, sigma: float, seed: int, night: int, opening: int) -> float:
    """Push in N that opens a one-way entrance tonight: mud, cold and springs differ by night."""
    return median * sample(k.LOGNORMAL, 0.0, sigma, seed, night, k.D_STIFF, opening, k.FIRST)


@compiled_as("UniTuple(f8, 2)(f8, f8, f8, f8, f8[:, ::1], f8, f8, i8, i8, i8, i8)")
def break_out(
    mass: float, back: float, exit_force: float, panel: float, times: Floats,
    reach: float, roots: float, seed: int, night: int, traits: int, who: int,
) -> tuple[float, float]:  # fmt: skip
    """Seconds until a captive is out, inf if it stays, and by which way (`codes.BY_*`).

    It lifts or pries a gate that nothing locks if it is strong enough for ``exit_force`` N; it
    clears a panel of ``panel`` m if that is no more than ``reach`` times its back height; it may
    root a way under, ``roots`` seconds after it was shut in. ``times`` is the table of
    `NightPlan.all_times`, ``traits`` as in `push_of`.
    """
    first = math.inf
    way = 0.0
    if exit_force < math.inf and push_of(mass, times, seed, traits, who) >= exit_force:
        first = sample_row(times, k.T_TRY, seed, night, k.D_TRY, who, 0)
        way = float(k.BY_GATE)
    if reach * back >= panel:
        when = sample_row(times, k.T_CLIMB, seed, night, k.D_CLIMB, who, 1)
        if when < first:
            first = when
            way = float(k.BY_CLIMBING)
    if roots < first:
        first = roots
        way = float(k.BY_ROOTING)
    return first, way
