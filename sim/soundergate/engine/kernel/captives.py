"""Captives in the kernel: twin of `engine.reference.captives`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import cancel, drop, put, when_due
from soundergate.engine.kernel.animals import goes_away, stops_feeding
from soundergate.engine.kernel.bodies import is_inside, time_to_break_out
from soundergate.engine.kernel.early import late_draw
from soundergate.engine.kernel.ground import stops
from soundergate.engine.kernel.openings import exit_force, holds, leave_queue
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.luck.philox import uniform_pair


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
    animal, state = night.animals[i], night.state
    seconds, way = time_to_break_out(night.luck, animal, night.behaviour, exit_force(night), i)
    gets_out_at(night, i, state.now + seconds, int(way))
    if state.way_until > state.now:
        may_follow(night, i, state.way_by, state.way_how, state.way_until)


@inlined
def gets_out_at(night: Night, i: int, when: float, way: int) -> None:
    """Captives.gets_out_at."""
    slot = night.constants.breakout_slots + i
    due = when_due(night.agenda, slot)
    if when < night.behaviour.check and when < due:
        if due == math.inf:
            night.state.pending += 1
        night.animals[i].way = way
        put(night.agenda, slot, when, k.BREAKS_OUT, i)


@inlined
def breaks_out(night: Night, i: int) -> None:
    """Captives.breaks_out, Captives.opens_way."""
    way = night.animals[i].way
    night.state.pending -= 1
    gets_out(night, i)
    if way == k.BY_ROOTING or way == k.BY_GATE:
        row = k.T_HOLE if way == k.BY_ROOTING else k.T_RAISED
        how = k.BY_HOLE if way == k.BY_ROOTING else k.BY_RAISED_GATE
        until = night.state.now + late_draw(night.luck, row, k.D_WAY_STAYS, i, k.FIRST)
        opens_way(night, i, how, until)


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
def opens_way(night: Night, i: int, how: int, until: float) -> None:
    """Captives.opens_way: for a while the others may follow, each in its own time."""
    state = night.state
    if until > state.way_until:
        state.way_by = i
        state.way_how = how
        state.way_until = until
    for j in range(night.constants.animals):
        if is_inside(night.animals[j].state):
            may_follow(night, j, i, how, until)


@inlined
def may_follow(night: Night, j: int, by: int, how: int, until: float) -> None:
    """Captives.may_follow: it finds a way and uses it while it is there, if it is no larger."""
    if night.animals[j].shoulder <= night.animals[by].shoulder:
        when = night.state.now + late_draw(night.luck, k.T_FOLLOW, k.D_FOLLOW, j, by)
        if when < until:
            gets_out_at(night, j, when, how)


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
