"""Pieces of the batch kernel: bodies, clock heads, the pull on the latch, the seen count.

Each mirrors one method of the reference engine. They take the few arrays they need, one row an
animal, clock, opening or trigger; see `engine.kernel` for the layout.
"""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.breakout import break_out, push_of
from soundergate.engine.clocks import due_time, look_up, look_up_from, reading
from soundergate.engine.compiled import compiled, compiled_as
from soundergate.engine.draws import (
    ln,
    micrometres,
    sample,
)
from soundergate.engine.early import E_BODY, E_CLIMB, E_ROOT, normal_of
from soundergate.engine.normal import normal_quantile
from soundergate.engine.philox import uniform

# Columns of the whole numbers kept for an animal.
(STATE, STAY, ROAMS, AT, BOLTS, ENTERED, HELD, WITNESS, HURT, WAITED, SPACE, EATS,
 SHY, BROKE_OUT, ABSENT) = range(15)  # fmt: skip
ANIMAL_INTS = 15
# Columns of the floats kept for an animal.
(BEGAN, ENDS, LEG_STARTED, LEG_TIME, LEG_TO, SINCE, MASS, SHOULDER, BACK, LENGTH,
 FRAILTY, DWELL) = range(12)  # fmt: skip
ANIMAL_FLOATS = 12
# Columns of the whole numbers and floats kept for an opening.
(GATE, QUEUED, OCCUPIED, STIRRED, MOVE_DUE, PROPPED_BY) = range(6)
OPENING_INTS = 6
GATE_SINCE, LET_GO_AT = range(2)
OPENING_FLOATS = 2
# Columns of the whole numbers kept for a trigger.
(FIRED, BROKEN, COUNT, SEEN, SEEN_TIMES, SEEN_OF, WATCHING, DECIDED) = range(8)
TRIGGER_INTS = 8


@compiled
def clear(agenda):  # type: ignore[no-untyped-def]
    """Nothing is due."""
    agenda.place[:] = -1
    agenda.coming[0] = 0


@compiled
def put(agenda, slot, when, rank, who):  # type: ignore[no-untyped-def]
    """Set the one coming event of a slot, in place of any other; inf for none."""
    j = agenda.place[slot]
    if j < 0:
        if when == math.inf:
            return
        j = agenda.coming[0]
        agenda.coming[0] = j + 1
        agenda.slot[j] = slot
        agenda.place[slot] = j
    agenda.due[j] = when
    agenda.priority[j] = rank * k.RANK_STEP + who


@compiled
def cancel(agenda, slot):  # type: ignore[no-untyped-def]
    """The slot has no coming event; it is struck off when next met."""
    j = agenda.place[slot]
    if j >= 0:
        agenda.due[j] = math.inf


@compiled
def is_due(agenda, slot):  # type: ignore[no-untyped-def]
    """Whether the slot has a coming event."""
    j = agenda.place[slot]
    return j >= 0 and agenda.due[j] < math.inf


@compiled
def take_next(agenda):  # type: ignore[no-untyped-def]
    """Time and priority of the next event: least time, then least priority. It is taken off."""
    due = agenda.due
    priority = agenda.priority
    count = agenda.coming[0]
    now = math.inf
    first = 0
    best = 0
    j = 0
    while j < count:
        when = due[j]
        if when < now:
            now = when
            best = j
            first = priority[j]
        elif when == math.inf:
            count -= 1
            agenda.place[agenda.slot[j]] = -1
            if j < count:
                due[j] = due[count]
                priority[j] = priority[count]
                agenda.slot[j] = agenda.slot[count]
                agenda.place[agenda.slot[j]] = j
            continue
        elif when == now and priority[j] < first:
            best = j
            first = priority[j]
        j += 1
    agenda.coming[0] = count
    due[best] = math.inf
    return now, first


@compiled
def settle(  # type: ignore[no-untyped-def]
    agenda, n_animals, q, pace, rank, now, t0, h0, speed, head_at, head_who, stir
):
    """Clock.settle: clock ``q`` moves only if its speed differs; its head is due anew."""
    if pace != speed[q]:
        h0[q] = reading(t0[q], h0[q], speed[q], now)
        t0[q] = now
        speed[q] = pace
    elif stir[q] == 0:
        return
    stir[q] = 0
    when = due_time(t0[q], h0[q], pace, head_at[q], now)
    put(agenda, n_animals + q, when, rank, head_who[q])


@compiled_as("f8(i8[::1], f8[:, ::1], i8, i8, i8, i8, i8, i8)")
def draw(plan_kind, plan_ab, row, seed, night, purpose, who, count):  # type: ignore[no-untyped-def]
    """A sample of one row of a table of distributions."""
    return sample(
        plan_kind[row], plan_ab[row, 0], plan_ab[row, 1], seed, night, purpose, who, count
    )


@compiled
def size_up(animal, c, mass, b, early, n, i):  # type: ignore[no-untyped-def]
    """Fill in the body of animal ``i``, whose row is ``animal``, if it is not known yet."""
    if animal[MASS] >= 0.0:
        return
    j = E_BODY * n + i
    ln_mass = mass[c, 0]
    if mass[c, 1] != 0.0:
        ln_mass = mass[c, 0] + mass[c, 1] * normal_of(early.u[j], early.zu[j])
    scatter = 0.0
    if b[k.B_SCATTER] != 0.0:
        scatter = b[k.B_SCATTER] * normal_of(early.v[j], early.zv[j])
    scale = math.exp(b[k.B_EXPONENT] * ln_mass + scatter)
    animal[MASS] = math.exp(ln_mass)
    animal[SHOULDER] = b[k.B_WIDTH] * scale
    animal[BACK] = b[k.B_HEIGHT] * scale
    animal[LENGTH] = b[k.B_LENGTH] * scale


@compiled
def need(animal, opening, b):  # type: ignore[no-untyped-def]
    """Share of the opening's clearance that the body needs."""
    if opening[k.O_BY_GAP] > 0.0:
        return animal[SHOULDER] / opening[k.O_SPAN]
    return animal[BACK] * b[k.B_DUCK] / opening[k.O_SPAN]


@compiled
def passable_until(share, gate, close_time, rest_time):  # type: ignore[no-untyped-def]
    """When the falling gate reaches ``share`` of the clearance."""
    if gate[LET_GO_AT] == math.inf:
        return gate[GATE_SINCE] + look_up(close_time, share)
    return gate[GATE_SINCE] + look_up_from(rest_time, gate[LET_GO_AT], share)


@compiled
def join_clock(at, q, i, value, head_at, head_who, stir):  # type: ignore[no-untyped-def]
    """Animal ``i`` waits for clock ``q`` to read ``value``."""
    at[i] = value
    if value < head_at[q] or (value == head_at[q] and i < head_who[q]):
        head_at[q] = value
        head_who[q] = i
        stir[q] = 1
        stir[-1] = 1


@compiled
def drop_clock(at, q, i, c, tempo_of, head_at, head_who, stir):  # type: ignore[no-untyped-def]
    """Animal ``i`` no longer waits for clock ``q`` of tempo ``c``; find who is next."""
    at[i] = math.inf
    if head_who[q] != i:
        return
    best = math.inf
    who = k.RANK_STEP
    for j in range(tempo_of.shape[0]):
        if at[j] < best and tempo_of[j] == c:
            best = at[j]
            who = j
    head_at[q] = best
    head_who[q] = who
    stir[q] = 1
    stir[-1] = 1


@compiled
def latch_lets_go(row, force, seed, night, o):  # type: ignore[no-untyped-def]
    """Whether opening ``o``'s latch gives way to this pull; negative: a switch was worked."""
    if row[k.O_ONE_WAY] > 0.0:
        return False
    needed = row[k.O_NEED_MU] + row[k.O_NEED_SIGMA] * normal_quantile(
        uniform(seed, night, k.D_NEED, o, 0)
    )
    if row[k.O_OWN_PULL] > 0.0:
        z = normal_quantile(uniform(seed, night, k.D_PULL, o, 0))
        return row[k.O_PULL_MU] + row[k.O_PULL_SIGMA] * z >= needed
    if force < 0.0:
        return needed < math.inf
    return force > 0.0 and ln(force) >= needed


@compiled
def pull(  # type: ignore[no-untyped-def]
    force, now, openings, delay_kind, delay, gate_int, agenda, moving, notes, seed, night
):
    """The trigger acts on every latch; ``notes`` is (when pulled, when moved, acted)."""
    if notes[2] > 0.0:
        return
    if notes[0] != notes[0]:
        notes[0] = now
    freed = False
    for o in range(openings.shape[0]):
        if latch_lets_go(openings[o], force, seed, night, o):
            wait = draw(delay_kind, delay, o, seed, night, k.D_DELAY, o, 0)
            gate_int[o, MOVE_DUE] = 1
            put(agenda, moving + o, now + wait, k.MOVES, o)
            freed = True
    if freed or force < 0.0:
        notes[2] = 1.0


@compiled
def fire(  # type: ignore[no-untyped-def]
    t, force, combine_all, trigger_int,
    now, openings, delay_kind, delay, gate_int, agenda, moving, notes, seed, night
):  # fmt: skip
    """Triggers.fire: trigger ``t`` has done its part; pull the latch if that was all it takes."""
    trigger_int[t, FIRED] = 1
    if combine_all != 0:
        for other in range(trigger_int.shape[0]):
            if trigger_int[other, FIRED] == 0:
                return
    pull(force, now, openings, delay_kind, delay, gate_int, agenda, moving, notes, seed, night)
    if notes[2] == 0.0:
        trigger_int[t, FIRED] = 0


@compiled
def touch_force(animal, row, state, kinds, times, seed, night, i):  # type: ignore[no-untyped-def]
    """Triggers.touch: pull in N on the latch, negative for a switch, nan if it passes under."""
    if state[FIRED] != 0 or state[BROKEN] != 0 or animal[BACK] <= row[k.LINE_HEIGHT]:
        return math.nan
    force = push_of(animal[MASS], kinds, times, seed, night, i) * row[k.LINE_GAIN]
    if row[k.LINE_SWITCH] >= 0.0:
        return -1.0 if force >= row[k.LINE_SWITCH] else math.nan
    if force > row[k.LINE_BREAKS]:
        state[BROKEN] = 1
        force = row[k.LINE_BREAKS]
    return force


@compiled
def count_on_screen(row, state, cdf, inside, seed, night, t):  # type: ignore[no-untyped-def]
    """Redraw the person's count if the true one has changed."""
    if state[SEEN_OF] == inside:
        return
    state[SEEN_OF] = inside
    if row[k.SEE_EXACT] > 0.0:
        state[SEEN] = inside
        return
    u = uniform(seed, night, k.D_SEEN, t, state[SEEN_TIMES])
    state[SEEN_TIMES] += 1
    m = 0
    while u > cdf[inside, m]:
        m += 1
    state[SEEN] = m


@compiled_as("b1(i8)")
def is_inside(state):  # type: ignore[no-untyped-def]
    """Inside the fence and not in an opening, `codes.INSIDE_STATES`."""
    return k.WALK_IN <= state <= k.WAIT_OUT or k.STILL <= state <= k.BOLTING


@compiled
def holds(gate):  # type: ignore[no-untyped-def]
    """Gatehouse.holds: no opening lets an animal out."""
    for o in range(gate.shape[0]):
        if gate[o, GATE] != k.CLOSED and gate[o, GATE] != k.ONE_WAY:
            return False
    return True


@compiled
def captive(agenda, slot, i, animal, exit_force, b, kinds, times, early, n, now, seed, night):  # type: ignore[no-untyped-def]
    """Night.captive: put down when animal ``i`` breaks out; 1 if it does before the check."""
    j = E_CLIMB * n + i
    seconds, _ = break_out(
        animal[MASS], animal[BACK], exit_force, b, kinds, times,
        normal_of(early.u[j], early.zu[j]), early.v[j], early.u[E_ROOT * n + i], seed, night, i,
    )  # fmt: skip
    if now + seconds < b[k.B_CHECK]:
        put(agenda, slot, now + seconds, k.BREAKS_OUT, i)
        return 1
    return 0


@compiled
def pushes_in(animal, row, kinds, times, seed, night, i):  # type: ignore[no-untyped-def]
    """Gatehouse.pushes_in."""
    if uniform(seed, night, k.D_WILLING, i, 0) >= row[k.O_WILLING]:
        return False
    return push_of(animal[MASS], kinds, times, seed, night, i) >= row[k.O_PUSH]


@compiled
def fits(animal, row, width, b):  # type: ignore[no-untyped-def]
    """Bodies.fits: whether a body passes the open gate at all."""
    if space_of(animal, 1.0) > width:
        return False
    return animal[BACK] * b[k.B_DUCK] <= row[k.O_HEIGHT]


@compiled
def join_queue(i, o, a, queue, gate, space):  # type: ignore[no-untyped-def]
    """Gatehouse.join."""
    a[i, AT] = o
    a[i, SPACE] = space
    a[i, WAITED] = 0
    queue[o, gate[o, QUEUED]] = i
    gate[o, QUEUED] += 1
    gate[o, STIRRED] = 1


@compiled
def leave_queue(i, o, queue, gate):  # type: ignore[no-untyped-def]
    """Gatehouse.forget."""
    j = 0
    while queue[o, j] != i:
        j += 1
    gate[o, QUEUED] -= 1
    for later in range(j, gate[o, QUEUED]):
        queue[o, later] = queue[o, later + 1]
    gate[o, STIRRED] = 1


@compiled_as("i8(f8, i8, i8, i8)")
def lost_commands(share, seed, night, t):  # type: ignore[no-untyped-def]
    count = 0
    while count < 50 and uniform(seed, night, k.D_DROPOUT, t, count) < share:
        count += 1
    return count


@compiled
def space_of(animal, factor):  # type: ignore[no-untyped-def]
    return micrometres(animal[SHOULDER] * factor)
