"""End of the visit, alarm and captives in the kernel: twin of `visit`, `startle` and `captives`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import cancel, drop, put, wait_for
from soundergate.engine.kernel.animals import (
    goes_away,
    heads_for,
    may_leave_later,
    stops_feeding,
    time_to_opening,
)
from soundergate.engine.kernel.bodies import chance, is_inside, time_to_break_out
from soundergate.engine.kernel.early import early_chance, early_draw
from soundergate.engine.kernel.ground import means_to_leave_by, stops
from soundergate.engine.kernel.openings import (
    holds,
    join_queue,
    late_entrance,
    leave_queue,
    turn_back,
)
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.luck.philox import uniform_pair

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
        if not (state.alarmed != 0 and may_come_back(night, i)):
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


# ---- captives ------------------------------------------------------------------------------


@inlined
def captives_begin(night: Night) -> None:
    """Night.captives_begin."""
    if holds(night.gates):
        for i in range(night.constants.animals):
            if is_inside(night.animals[i].state):
                hold(night, i)


@inlined
def hold(night: Night, i: int) -> None:
    """Captives.hold: when will it break out, if ever before the trap check?"""
    when = night.state.now + time_to_break_out(night.luck, night.animals[i], night.behaviour, i)
    if when < night.behaviour.check:
        night.state.pending += 1
        put(night.agenda, night.constants.breakout_slots + i, when, k.BREAKS_OUT, i)


@inlined
def breaks_out(night: Night, i: int) -> None:
    """Captives.breaks_out."""
    night.state.pending -= 1
    gets_out(night, i)


@inlined
def gets_out(night: Night, i: int) -> None:
    """Captives.gets_out."""
    animal, state = night.animals[i], night.state
    stops(night, i)
    stops_feeding(night, i)
    if animal.state == k.WAIT_OUT:
        leave_queue(night, i)
    drop(night.clocks, night.animals[i], s.LEAVING, i)
    cancel(night.agenda, night.constants.animal_slots + i)
    animal.broke_out = 1 if holds(night.gates) else 0
    state.inside -= 1
    state.leaders -= animal.leads
    goes_away(night, i)


@inlined
def may_slip_out(night: Night, i: int) -> None:
    """Captives.may_slip_out: another may use the gap by which animal ``i`` comes in."""
    state, agenda = night.state, night.agenda
    u, v = uniform_pair(state.seed, state.number, k.D_SLIP, i, night.animals[i].stay)
    if u >= night.behaviour.slip_share:
        return
    others = 0
    for j in range(night.constants.animals):
        others += is_inside(night.animals[j].state)
    pick = int(v * others)
    for j in range(night.constants.animals):
        if is_inside(night.animals[j].state):
            if pick == 0:
                slot = night.constants.breakout_slots + j
                if agenda.due[slot] != k.NEVER:
                    state.pending -= 1
                    cancel(agenda, slot)
                gets_out(night, j)
            pick -= 1


@inlined
def may_come_back(night: Night, i: int) -> bool:
    """Captives.may_come_back."""
    u = early_chance(night.luck, t.E_LATE, k.D_LATE, i, k.FIRST)
    if u >= night.constants.late_share:
        return False
    night.state.pending += 1
    night.animals[i].state = k.FLED
    wait = early_draw(night.luck, t.E_LATE, k.T_LATE, k.D_LATE, i, k.SECOND)
    put(night.agenda, night.constants.animal_slots + i, night.state.now + wait, k.COMES_BACK, i)
    return True


@inlined
def comes_back(night: Night, i: int) -> None:
    """Captives.comes_back."""
    night.state.pending -= 1
    o = late_entrance(night, i)
    if o == len(night.gates):
        goes_away(night, i)
    else:
        night.animals[i].state = k.WAIT_IN
        join_queue(night, i, o)
