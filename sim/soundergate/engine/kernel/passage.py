"""Going through an opening, and what a moving gate sets off.

The rest of the twin of `reference.openings`, with `Night.came_in` and `Night.went_out`.
"""

from __future__ import annotations

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel.animals import draws_others_after_it, goes_away, lingers, sets_off
from soundergate.engine.kernel.bodies import chance
from soundergate.engine.kernel.captives import captives_begin, hold, may_slip_out
from soundergate.engine.kernel.early import early_chance, late_draw
from soundergate.engine.kernel.ground import comes_in_at
from soundergate.engine.kernel.onlookers import waits_on
from soundergate.engine.kernel.openings import holds, let_go, passable, watch_gate
from soundergate.engine.kernel.release import alarm
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.kernel.triggers import counted


@inlined
def grant_room(night: Night) -> None:
    """Gatehouse.grant_room: once an event, before it settles."""
    for o in range(len(night.gates)):
        if night.gates[o].stirred != 0:
            night.gates[o].stirred = 0
            grant(night, o)


@inlined
def grant(night: Night, o: int) -> None:
    """Gatehouse.grant: let in or out whom there is room for."""
    gate = night.gates[o]
    blocked = False
    left = 0
    for place in range(gate.queued):
        i = night.queue[o, place]
        animal = night.animals[i]
        has_room = gate.occupied == 0 or gate.occupied + animal.space <= gate.width
        if not passable(night, i, o):
            turns_away(night, i)
        elif has_room and (not blocked or animal.small != 0):
            step_through(night, i, o)
        else:
            blocked = True
            animal.waited = 1
            night.queue[o, left] = i
            left += 1
    gate.queued = left


@inlined
def step_through(night: Night, i: int, o: int) -> None:
    """Gatehouse.step_through."""
    animal, state = night.animals[i], night.state
    inward = animal.state == k.WAIT_IN
    night.gates[o].occupied += animal.space
    if inward:
        animal.state = k.CROSS_IN
    else:
        state.inside -= 1
        state.leaders -= animal.leads
        animal.state = k.CROSS_OUT
    animal.began = state.now
    animal.ends = state.now + crossing_time(night, i, o, inward)
    watch_gate(night, i, o)


@inlined
def crossing_time(night: Night, i: int, o: int, inward: bool) -> float:
    """Gatehouse.crossing_time."""
    animal, behaviour = night.animals[i], night.behaviour
    if night.luck.times[k.T_CROSS, 2] >= 0.0:
        purpose = k.D_CROSS_IN if inward else k.D_CROSS_OUT
        took = late_draw(night.luck, k.T_CROSS, purpose, i, animal.stay)
    else:
        speed = behaviour.bolt_speed if animal.bolting != 0 else behaviour.cross_speed
        took = (night.openings[o].depth + animal.length) / speed
    if animal.waited != 0:
        purpose = k.D_HEAD_IN if inward else k.D_HEAD_OUT
        took += late_draw(night.luck, k.T_HEADWAY, purpose, i, animal.stay)
    return took


@inlined
def leave_opening(night: Night, rank: int, i: int) -> bool:
    """Gatehouse.crossed by animal ``i``, Gatehouse.prop_ends of gate ``i``, and what both lead to,
    Gatehouse.leave_opening; whether the animal went out and is `outside` anew."""
    falls_on = rank == k.PROP_ENDS
    o = i if falls_on else night.animals[i].at
    i = night.gates[o].propped_by if falls_on else i
    animal, gate = night.animals[i], night.gates[o]
    inward = animal.state == k.CROSS_IN
    if falls_on:
        gate.state = k.CLOSING
        gate.since = night.state.now
        inward = chance(night.luck, k.D_STRUCK_OUT, i, k.FIRST) >= night.behaviour.out_share
    gate.occupied -= animal.space
    gate.stirred = 1
    if night.constants.counters > 0:
        counted(night, i, inward)
    anew = False
    if inward:
        came_in(night, i)
    else:
        anew = went_out(night, i)
    if falls_on:
        let_go(night, o)
    return anew


@inlined
def came_in(night: Night, i: int) -> None:
    """Night.came_in."""
    animal, state = night.animals[i], night.state
    state.inside += 1
    state.leaders += animal.leads
    animal.entered = 1
    animal.mouth = animal.at
    state.came_last_by = animal.at
    comes_in_at(night, i, animal.at)
    if night.gates[animal.at].state == k.ONE_WAY and state.inside > 1:
        may_slip_out(night, i)
    if holds(night.gates):
        hold(night, i)
    if state.alarmed != 0:
        lingers(night, i)
    else:
        sets_off(night, i)


@inlined
def went_out(night: Night, i: int) -> bool:
    """Night.went_out; whether it comes back to the trap."""
    if night.state.alarmed == 0:
        draws_others_after_it(night)
        u = early_chance(night.luck, t.E_RETURN, k.D_RETURN, i, night.animals[i].stay)
        if u < night.behaviour.return_share:
            return True
    goes_away(night, i)
    return False


# ---- the gate ------------------------------------------------------------------------------


@inlined
def moves(night: Night, o: int) -> None:
    """Gatehouse.moves: the gate starts to close, or hangs."""
    gate, state = night.gates[o], night.state
    gate.move_due = 0
    if state.released_at != state.released_at:
        state.released_at = state.now
    hangs = (
        early_chance(night.luck, t.E_HANG, k.D_HANG, o, k.FIRST)
        < night.openings[o].hang_probability
    )
    gate.state = k.HUNG if hangs else k.CLOSING
    gate.since = state.now
    if state.alarmed == 0:
        alarm(night)
    if not hangs:
        let_go(night, o)


@inlined
def shut(night: Night, o: int) -> None:
    """Gatehouse.shut."""
    gate = night.gates[o]
    gate.state = k.CLOSED
    night.state.closed_once = 1
    for place in range(gate.queued):
        turns_away(night, night.queue[o, place])
    gate.queued = 0
    captives_begin(night)


@inlined
def turns_away(night: Night, i: int) -> None:
    """Gatehouse.turns_away."""
    if night.animals[i].state == k.WAIT_IN:
        waits_on(night, i)
    else:
        lingers(night, i)
