"""End of the visit, alarm and captives in the kernel: twin of `visit`, `startle` and `captives`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import cancel, drop, put, wait_for
from soundergate.engine.kernel.animals import (
    from_opening,
    goes_away,
    may_leave_later,
    stops_feeding,
)
from soundergate.engine.kernel.bodies import chance, is_inside, time_to_break_out
from soundergate.engine.kernel.early import early_chance, early_draw
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
    so_far = night.so_far
    so_far.bait_level += 1
    if so_far.over == 0:
        so_far.level = so_far.bait_level
    if so_far.bait_level == k.SPENT:
        wait_for(night.minds, night.given.bait_clock, k.NOBODY, math.inf)
        visit_ends(night)
    else:
        mark = night.given.bait_marks[so_far.bait_level]
        wait_for(night.minds, night.given.bait_clock, k.NOBODY, mark)


@inlined
def visit_ends(night: Night) -> None:
    """Visit.ends."""
    if night.so_far.over == 0:
        dismiss(night)


@inlined
def dismiss(night: Night) -> None:
    """Visit.dismiss: everyone who is outside or waiting to enter goes away."""
    so_far = night.so_far
    so_far.over = 1
    so_far.level = k.SPENT
    for i in range(night.given.animals):
        state = night.animals[i].state
        if state == k.OUTSIDE:
            drop(night.minds, night.animals[i], s.ENTRY, i)
        elif state == k.WAIT_IN:
            leave_queue(night, i)
        else:
            continue
        if not (so_far.alarmed != 0 and may_come_back(night, i)):
            goes_away(night, i)


# ---- startle -------------------------------------------------------------------------------


@inlined
def alarm(night: Night) -> None:
    """Night.alarm, Startle.notice, Startle.react."""
    so_far = night.so_far
    so_far.alarmed = 1
    so_far.held = so_far.inside
    for i in range(night.given.animals):
        animal = night.animals[i]
        animal.witness = 1 if animal.state != k.AWAY and animal.state != k.GONE else 0
        animal.held = 1 if is_inside(animal.state) else 0
    dismiss(night)
    for i in range(night.given.animals):
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
    run = from_opening(night, i)
    leaving = animal.state == k.WALK_OUT or animal.state == k.WAIT_OUT
    stops_feeding(night, i)
    if animal.state == k.WAIT_OUT:
        leave_queue(night, i)
    if early_chance(night.luck, t.E_BOLT, k.D_BOLT, i, k.FIRST) >= behaviour.bolt_share:
        animal.state = k.STILL
        cancel(night.agenda, night.given.animal_slots + i)
        if leaving:
            may_leave_later(night, i)
        return
    animal.state = k.BOLTING
    animal.bolting = 1
    drop(night.minds, night.animals[i], s.LEAVING, i)
    wait = (
        early_draw(night.luck, t.E_BOLT, k.T_BOLT, k.D_BOLT, i, k.SECOND)
        + run / behaviour.bolt_speed
    )
    put(night.agenda, night.given.animal_slots + i, night.so_far.now + wait, k.AT_OPENING, i)


# ---- captives ------------------------------------------------------------------------------


@inlined
def captives_begin(night: Night) -> None:
    """Night.captives_begin."""
    if holds(night.gates):
        for i in range(night.given.animals):
            if is_inside(night.animals[i].state):
                hold(night, i)


@inlined
def hold(night: Night, i: int) -> None:
    """Captives.hold: when will it break out, if ever before the trap check?"""
    when = night.so_far.now + time_to_break_out(night.luck, night.animals[i], night.behaviour, i)
    if when < night.behaviour.check:
        night.so_far.pending += 1
        put(night.agenda, night.given.breakout_slots + i, when, k.BREAKS_OUT, i)


@inlined
def breaks_out(night: Night, i: int) -> None:
    """Captives.breaks_out."""
    night.so_far.pending -= 1
    gets_out(night, i)


@inlined
def gets_out(night: Night, i: int) -> None:
    """Captives.gets_out."""
    animal, so_far = night.animals[i], night.so_far
    stops_feeding(night, i)
    if animal.state == k.WAIT_OUT:
        leave_queue(night, i)
    drop(night.minds, night.animals[i], s.LEAVING, i)
    cancel(night.agenda, night.given.animal_slots + i)
    animal.broke_out = 1 if holds(night.gates) else 0
    so_far.inside -= 1
    so_far.leaders -= animal.leads
    goes_away(night, i)


@inlined
def may_slip_out(night: Night, i: int) -> None:
    """Captives.may_slip_out: another may use the gap by which animal ``i`` comes in."""
    so_far, agenda = night.so_far, night.agenda
    u, v = uniform_pair(so_far.seed, so_far.number, k.D_SLIP, i, night.animals[i].stay)
    if u >= night.behaviour.slip_share:
        return
    others = 0
    for j in range(night.given.animals):
        others += is_inside(night.animals[j].state)
    pick = int(v * others)
    for j in range(night.given.animals):
        if is_inside(night.animals[j].state):
            if pick == 0:
                slot = night.given.breakout_slots + j
                if agenda.due[slot] != k.NEVER:
                    so_far.pending -= 1
                    cancel(agenda, slot)
                gets_out(night, j)
            pick -= 1


@inlined
def may_come_back(night: Night, i: int) -> bool:
    """Captives.may_come_back."""
    u = early_chance(night.luck, t.E_LATE, k.D_LATE, i, k.FIRST)
    if u >= night.given.late_share:
        return False
    night.so_far.pending += 1
    night.animals[i].state = k.FLED
    wait = early_draw(night.luck, t.E_LATE, k.T_LATE, k.D_LATE, i, k.SECOND)
    put(night.agenda, night.given.animal_slots + i, night.so_far.now + wait, k.COMES_BACK, i)
    return True


@inlined
def comes_back(night: Night, i: int) -> None:
    """Captives.comes_back."""
    night.so_far.pending -= 1
    o = late_entrance(night, i)
    if o == len(night.gates):
        goes_away(night, i)
    else:
        night.animals[i].state = k.WAIT_IN
        join_queue(night, i, o)
