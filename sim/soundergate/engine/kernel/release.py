"""End of the visit, and the alarm, in the kernel: twin of `visit` and `startle`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import cancel, drop, wait_for
from soundergate.engine.kernel.animals import (
    goes_away,
    heads_for,
    may_leave_later,
    stops_feeding,
    time_to_opening,
)
from soundergate.engine.kernel.bodies import chance, is_inside
from soundergate.engine.kernel.early import early_chance, early_draw
from soundergate.engine.kernel.ground import means_to_leave_by, stops
from soundergate.engine.kernel.onlookers import stays_near
from soundergate.engine.kernel.openings import leave_queue, turn_back
from soundergate.engine.kernel.scratch import Night

# ---- visit ---------------------------------------------------------------------------------


@inlined
def bait_falls(night: Night) -> None:
    """Visit.bait_falls: another quarter of the bait is eaten."""
    state = night.state
    state.bait_level += 1
    if state.over == 0:
        state.level = state.bait_level
    if state.bait_level == k.SPENT:
        wait_for(night.clocks, night.constants.bait_clock, k.NOBODY, math.inf)
        visit_ends(night)
    else:
        mark = night.constants.bait_marks[state.bait_level]
        wait_for(night.clocks, night.constants.bait_clock, k.NOBODY, mark)


@inlined
def visit_ends(night: Night) -> None:
    """Visit.ends."""
    if night.state.over == 0:
        dismiss(night)


@inlined
def dismiss(night: Night) -> None:
    """Visit.dismiss: everyone who is outside or waiting to enter goes away."""
    state = night.state
    state.over = 1
    state.level = k.SPENT
    for i in range(night.constants.animals):
        where = night.animals[i].state
        if where == k.OUTSIDE:
            drop(night.clocks, night.animals[i], s.ENTRY, i)
        elif where == k.WAIT_IN:
            leave_queue(night, i)
        else:
            continue
        if state.alarmed != 0:
            stays_near(night, i)
        else:
            goes_away(night, i)


# ---- startle -------------------------------------------------------------------------------


@inlined
def alarm(night: Night) -> None:
    """Night.alarm, Startle.notice, Startle.react."""
    state = night.state
    state.alarmed = 1
    state.held = state.inside
    for i in range(night.constants.animals):
        animal = night.animals[i]
        animal.witness = 1 if animal.state != k.AWAY and animal.state != k.GONE else 0
        animal.held = 1 if is_inside(animal.state) else 0
    dismiss(night)
    for i in range(night.constants.animals):
        animal = night.animals[i]
        if animal.held != 0:
            startled(night, i)
        elif animal.state == k.CROSS_IN and turns_back(night, i):
            turn_back(night, i)


@inlined
def turns_back(night: Night, i: int) -> bool:
    return chance(night.luck, k.D_TURN, i, k.FIRST) < night.behaviour.turn_back_share


@inlined
def startled(night: Night, i: int) -> None:
    """Startle.startled, Startle.bolts."""
    animal, behaviour = night.animals[i], night.behaviour
    leaving = animal.state == k.WALK_OUT or animal.state == k.WAIT_OUT
    stops(night, i)
    stops_feeding(night, i)
    if animal.state == k.WAIT_OUT:
        leave_queue(night, i)
    if early_chance(night.luck, t.E_BOLT, k.D_BOLT, i, k.FIRST) >= behaviour.bolt_share:
        animal.state = k.STILL
        cancel(night.agenda, night.constants.animal_slots + i)
        if leaving:
            may_leave_later(night, i)
        return
    animal.state = k.BOLTING
    animal.bolting = 1
    drop(night.clocks, night.animals[i], s.LEAVING, i)
    o = animal.mouth if leaving else means_to_leave_by(night, i)
    wait = early_draw(night.luck, t.E_BOLT, k.T_BOLT, k.D_BOLT, i, k.SECOND)
    heads_for(night, i, o, time_to_opening(night, i, o), wait)
