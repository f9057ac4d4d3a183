"""Openings, gates and latches in the kernel: twin of `reference.openings`, up to who goes through.

What follows when an animal has passed or a gate has moved is in `passage`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import called, inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import cancel, of_opening, put
from soundergate.engine.kernel.bodies import chance, fits, need, push
from soundergate.engine.kernel.early import early, early_chance, late_draw
from soundergate.engine.kernel.layout import Animal, Gate
from soundergate.engine.kernel.line import (
    by_animals,
    drawn_by_a_line,
    needed,
    pulled_by_line,
    pulls,
)
from soundergate.engine.kernel.scratch import Luck, Night
from soundergate.engine.luck.draws import micrometres, sample
from soundergate.engine.luck.elementary import ln
from soundergate.engine.place.ways import distance
from soundergate.engine.plan import Behaviour, Floats, Ints, Opening
from soundergate.engine.rules.breakout import push_that_opens
from soundergate.engine.rules.clocks import look_up, look_up_from
from soundergate.engine.rules.line_pull import ln_pull


@inlined
def holds(gates: Sequence[Gate]) -> bool:
    """Gatehouse.holds: whether no opening lets an animal out."""
    for o in range(len(gates)):
        if gates[o].state != k.CLOSED and gates[o].state != k.ONE_WAY:
            return False
    return True


@inlined
def a_way_stays_open(gates: Sequence[Gate]) -> bool:
    """Gatehouse.a_way_stays_open."""
    for o in range(len(gates)):
        if gates[o].state == k.OPEN or gates[o].state == k.HUNG:
            return True
    return False


@inlined
def nobody_crosses(gates: Sequence[Gate]) -> bool:
    """Whether no animal is in an opening."""
    for o in range(len(gates)):
        if gates[o].occupied != 0:
            return False
    return True


@inlined
def nothing_moves(gates: Sequence[Gate]) -> bool:
    """Whether no gate is about to move or moving."""
    for o in range(len(gates)):
        gate = gates[o]
        if gate.move_due != 0 or gate.state == k.CLOSING or gate.state == k.PROPPED:
            return False
    return True


@inlined
def lets_out(animal: Animal, gate: Gate, opening: Opening, behaviour: Behaviour) -> bool:
    """Gatehouse.lets_out."""
    if gate.state == k.CLOSED or gate.state == k.ONE_WAY:
        return False
    return fits(animal, gate, opening, behaviour)


@called
def nearest_way_out(
    animal: Animal, gates: Sequence[Gate], openings: Sequence[Opening], behaviour: Behaviour
) -> int:
    """Gatehouse.nearest_way_out; the number of openings if there is none."""
    nearest = len(gates)
    least = math.inf
    for o in range(len(gates)):
        if lets_out(animal, gates[o], openings[o], behaviour):
            far = distance_to(animal, openings[o])
            if far < least:
                least = far
                nearest = o
    return nearest


@inlined
def distance_to(animal: Animal, opening: Opening) -> float:
    """Ground.distance_to."""
    return distance(animal.x, animal.y, opening.x, opening.y)


@inlined
def join_queue(night: Night, i: int, o: int) -> None:
    """Gatehouse.join: come to opening ``o`` and pass as soon as there is room."""
    animal, gate, behaviour = night.animals[i], night.gates[o], night.behaviour
    factor = behaviour.bolt_clearance if animal.bolting != 0 else behaviour.side_clearance
    animal.at = o
    animal.space = micrometres(animal.shoulder * factor)
    animal.waited = 0
    night.queue[o, gate.queued] = i
    gate.queued += 1
    gate.stirred = 1


@inlined
def leave_queue(night: Night, i: int) -> None:
    """Gatehouse.forget: animal ``i`` no longer waits."""
    o = night.animals[i].at
    strike_off(night.queue[o], night.gates[o], i)


@called
def strike_off(queue: Ints, gate: Gate, i: int) -> None:
    j = 0
    while queue[j] != i:
        j += 1
    gate.queued -= 1
    for later in range(j, gate.queued):
        queue[later] = queue[later + 1]
    gate.stirred = 1


@inlined
def pushes_in(night: Night, i: int, o: int) -> bool:
    """Gatehouse.pushes_in: whether it is willing and able to open a one-way entrance."""
    if chance(night.luck, k.D_WILLING, i, k.FIRST) >= night.openings[o].willing_share:
        return False
    return push(night.luck, night.animals[i], i) >= push_tonight(night.luck, night.openings[o], o)


@inlined
def push_tonight(luck: Luck, opening: Opening, o: int) -> float:
    """Gatehouse.push_tonight: push in N that opens a one-way entrance."""
    median, sigma = opening.push_force, opening.push_sigma
    return push_that_opens(median, sigma, luck.state.seed, luck.state.number, o)


@inlined
def late_entrance(night: Night, i: int) -> int:
    """Gatehouse.late_entrance: the first that it can push open; their number if none."""
    o = 0
    while o < len(night.gates) and not (
        night.gates[o].state == k.ONE_WAY
        and fits(night.animals[i], night.gates[o], night.openings[o], night.behaviour)
        and push(night.luck, night.animals[i], i) >= push_tonight(night.luck, night.openings[o], o)
    ):
        o += 1
    return o


@inlined
def stands_open_for(night: Night, i: int) -> int:
    """Gatehouse.stands_open_for; the number of openings if none does."""
    o = 0
    while o < len(night.gates) and not (
        (night.gates[o].state == k.OPEN or night.gates[o].state == k.HUNG)
        and fits(night.animals[i], night.gates[o], night.openings[o], night.behaviour)
    ):
        o += 1
    return o


@inlined
def exit_force(night: Night) -> float:
    """Gatehouse.exit_force, Gatehouse.lock_fails."""
    least = math.inf
    for o in range(len(night.gates)):
        u = early_chance(night.luck, t.E_HANG, k.D_HANG, o, k.SECOND)
        if u < night.openings[o].lock_fails:
            least = min(least, night.openings[o].exit_force)
    return least


# ---- the falling gate ----------------------------------------------------------------------


@inlined
def fallen_to(night: Night, o: int, what: int, share: float) -> float:
    """Seconds or joules at the clearance ``share`` of gate ``o``, from where it was let go."""
    return found_in(night.closing[o, what], night.gates[o].let_go_at, share)


@called
def found_in(table: Floats, let_go_at: float, share: float) -> float:
    """From the last row for a gate let go when set, else from those above it."""
    last = table.shape[0] - 1
    if let_go_at == math.inf:
        return look_up(table[last], share)
    return look_up_from(table[:last], let_go_at, share)


@inlined
def passable_until(night: Night, i: int, o: int) -> float:
    """Gatehouse.passable_until."""
    share = need(night.animals[i], night.openings[o], night.behaviour)
    return night.gates[o].since + fallen_to(night, o, s.SECONDS, share)


@inlined
def passable(night: Night, i: int, o: int) -> bool:
    """Gatehouse.passable."""
    gate = night.gates[o]
    if gate.state == k.CLOSING:
        return night.state.now < passable_until(night, i, o)
    if gate.state == k.PROPPED:
        share = need(night.animals[i], night.openings[o], night.behaviour)
        return share < gate.let_go_at
    if gate.state == k.ONE_WAY:
        return night.animals[i].state == k.WAIT_IN
    return gate.state != k.CLOSED


@inlined
def watch_gate(night: Night, i: int, o: int) -> None:
    """Gatehouse.watch_gate: will it be through, or will the gate come down on it first?"""
    animal = night.animals[i]
    hit = passable_until(night, i, o) if night.gates[o].state == k.CLOSING else math.inf
    slot = night.constants.animal_slots + i
    if hit < animal.ends:
        put(night.agenda, slot, max(hit, night.state.now), k.STRUCK, i)
    else:
        put(night.agenda, slot, animal.ends, k.CROSSED, i)


@inlined
def is_crossing(night: Night, i: int, o: int) -> bool:
    animal = night.animals[i]
    return animal.at == o and (animal.state == k.CROSS_IN or animal.state == k.CROSS_OUT)


@inlined
def turn_back(night: Night, i: int) -> None:
    """Gatehouse.turn_back."""
    animal, now = night.animals[i], night.state.now
    animal.state = k.CROSS_OUT
    animal.ends = now + (now - animal.began)
    watch_gate(night, i, animal.at)


@inlined
def let_go(night: Night, o: int) -> None:
    """Gatehouse.let_go: the gate falls; who is under it, and when is it shut?"""
    when = night.gates[o].since + fallen_to(night, o, s.SECONDS, 0.0)
    put(night.agenda, of_opening(night.constants, o, s.SHUTTING), when, k.SHUT, o)
    for i in range(night.constants.animals):
        if is_crossing(night, i, o):
            watch_gate(night, i, o)


@inlined
def strike(night: Night, i: int) -> None:
    """Gatehouse.strike: the gate lands on an animal, which props it for a while."""
    animal = night.animals[i]
    o = animal.at
    gate = night.gates[o]
    share = need(animal, night.openings[o], night.behaviour)
    energy = fallen_to(night, o, s.JOULES, share)
    animal.struck = 1
    night.state.strike_energy = max(night.state.strike_energy, energy)
    gate.state = k.PROPPED
    gate.let_go_at = share
    gate.propped_by = i
    cancel(night.agenda, of_opening(night.constants, o, s.SHUTTING))
    for j in range(night.constants.animals):
        if j != i and is_crossing(night, j, o):
            watch_gate(night, j, o)
    when = night.state.now + late_draw(night.luck, k.T_PROP, k.D_PROP, i, k.FIRST)
    put(night.agenda, of_opening(night.constants, o, s.PROP), when, k.PROP_ENDS, o)


# ---- the latch -----------------------------------------------------------------------------


@inlined
def latch_lets_go(night: Night, o: int, force: float, by: int) -> bool:
    """Gatehouse.latch_lets_go."""
    row, luck = night.openings[o], night.luck
    if row.one_way != 0:
        return False
    ln_need = needed(night, o)
    if row.own_pull != 0:
        z = early(luck, t.E_PULL, k.FIRST, o)
        return ln_pull(row.pull_mu, row.pull_sigma, row.pull_steady, z) >= ln_need
    if force < 0.0:
        return ln_need < math.inf
    if pulls(night, by):
        return pulled_by_line(night, by, force, ln_need, row.trip_travel)
    return force > 0.0 and ln(force) >= ln_need


@inlined
def lets_go_by_itself(night: Night, o: int) -> bool:
    """Gatehouse.lets_go_by_itself."""
    row = night.openings[o]
    if row.one_way != 0:
        return False
    if early(night.luck, t.E_NEED, k.FIRST, o) < row.slips_below:
        return True
    return by_animals(row) and drawn_by_a_line(night, needed(night, o))


@inlined
def delay(night: Night, o: int) -> float:
    """Seconds until the gate moves."""
    luck, row = night.luck, night.openings[o]
    if luck.constants.place[t.E_DELAY, k.FIRST] >= 0:
        return early(luck, t.E_DELAY, k.FIRST, o)
    seed, number, a, b = luck.state.seed, luck.state.number, row.delay_a, row.delay_b
    return sample(row.delay_kind, a, b, seed, number, k.D_DELAY, o, k.FIRST)


@inlined
def will_move(night: Night, o: int) -> None:
    """Gatehouse.will_move."""
    when = night.state.now + delay(night, o)
    night.gates[o].move_due = 1
    put(night.agenda, of_opening(night.constants, o, s.MOVING), when, k.MOVES, o)


@inlined
def gates_set_up(night: Night) -> None:
    """Gatehouse.set_up."""
    state = night.state
    for o in range(len(night.gates)):
        if lets_go_by_itself(night, o):
            state.pulled_at = state.now
            state.acted = 1
            will_move(night, o)


@inlined
def pull(night: Night, force: float, by: int) -> None:
    """Gatehouse.pull: a trigger acts on every latch; a negative force works a switch."""
    state = night.state
    if state.acted != 0:
        return
    if state.pulled_at != state.pulled_at:
        state.pulled_at = state.now
    for o in range(len(night.gates)):
        if latch_lets_go(night, o, force, by):
            will_move(night, o)
            state.acted = 1
    if force < 0.0:
        state.acted = 1
