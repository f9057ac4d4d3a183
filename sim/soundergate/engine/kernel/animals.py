"""An animal's way in and out in the kernel: twin of `engine.reference`, but for the openings.

The functions stand in the order of the reference's and bear its names. Where an animal steps
through an opening, `passage` takes over.
"""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import drop, join, put
from soundergate.engine.kernel.bodies import chance, ease, fits, picked
from soundergate.engine.kernel.early import early_draw, early_frailty, late_draw
from soundergate.engine.kernel.ground import (
    arrives,
    begins_outings,
    finds_room,
    means_to_leave_by,
    seek,
    seek_number,
    stops,
    walks,
)
from soundergate.engine.kernel.openings import (
    a_way_stays_open,
    distance_to,
    join_queue,
    lets_out,
    nearest_way_out,
    pushes_in,
)
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.kernel.triggers import group_arrives
from soundergate.engine.place.ways import distance


@inlined
def arrive(night: Night, i: int) -> None:
    """Night.arrive, before it is `outside`."""
    state = night.state
    if state.anyone_came == 0:
        state.anyone_came = 1
        group_arrives(night)
    number = night.animals[i].sounder
    sounder = night.sounders[number]
    if sounder.came == 0:  # Night.sounder_comes, Visit.lasts
        sounder.came = 1
        wait = early_draw(night.luck, t.E_PATIENCE, k.T_PATIENCE, k.D_PATIENCE, number, k.FIRST)
        put(night.agenda, s.VISIT_END, state.now + wait, k.VISIT_ENDS, k.NOBODY)
        if state.alarmed == 0 and state.bait_level < k.SPENT:
            state.over = 0
            state.level = state.bait_level
    if len(night.gates) > 1:
        who = number * k.PARTIES_A_SOUNDER + night.animals[i].party
        u = chance(night.luck, k.D_FROM, who, k.FIRST)
        night.animals[i].mouth = picked(night.openings, u)


@inlined
def outside(night: Night, i: int) -> None:
    """Night.outside."""
    animal, luck = night.animals[i], night.luck
    animal.stay += 1
    if night.state.over != 0:
        goes_away(night, i)
        return
    animal.state = k.OUTSIDE
    if animal.shy == 0:
        x = early_draw(luck, t.E_ENTRY, k.T_ENTRY, k.D_ENTRY, i, animal.stay)
        readiness = early_frailty(luck, t.E_FRAILTY, i) * ease(
            animal, night.gates[animal.mouth], night.behaviour
        )
        join(night.clocks, night.animals[i], s.ENTRY, i, x / readiness)


@inlined
def goes_away(night: Night, i: int) -> None:
    night.animals[i].state = k.GONE
    night.state.gone += 1


@inlined
def tries(night: Night, i: int) -> bool:
    """Night.tries; whether it turns away and is `outside` anew."""
    animal = night.animals[i]
    drop(night.clocks, night.animals[i], s.ENTRY, i)
    o = way_in(night, i)
    animal.mouth = (o + 1) % len(night.gates)  # the next one, should this one be none for it
    if not fits(animal, night.gates[o], night.openings[o], night.behaviour):
        return fits_another(night, i)
    if night.gates[o].state == k.ONE_WAY and not pushes_in(night, i, o):
        return len(night.gates) > 1
    animal.state = k.WAIT_IN
    join_queue(night, i, o)
    return False


@inlined
def fits_another(night: Night, i: int) -> bool:
    """Whether there is an opening that it can pass."""
    for o in range(len(night.gates)):
        if fits(night.animals[i], night.gates[o], night.openings[o], night.behaviour):
            return True
    return False


@inlined
def way_in(night: Night, i: int) -> int:
    """Night.way_in."""
    if len(night.gates) == 1:
        return 0
    u = chance(night.luck, k.D_CHOICE, i, night.animals[i].stay)
    if u < night.behaviour.follow_share and night.state.came_last_by >= 0:
        return night.state.came_last_by
    return night.animals[i].mouth


@inlined
def sets_off(night: Night, i: int) -> None:
    """Night.sets_off. Its stay's two draws make one block: when it leaves, how long it dwells."""
    animal, luck = night.animals[i], night.luck
    x = early_draw(luck, t.E_STAY, k.T_LEAVE, k.D_STAY, i, 2 * animal.stay)
    animal.dwell = early_draw(luck, t.E_STAY, k.T_DWELL, k.D_STAY, i, 2 * animal.stay + 1)
    join(night.clocks, night.animals[i], s.LEAVING, i, x)
    goes_to_the_bait(night, i)


@inlined
def goes_to_the_bait(night: Night, i: int) -> None:
    """Night.goes_to_the_bait."""
    night.animals[i].state = k.WALK_IN
    x, y = seek(night, i)
    walks(night, i, x, y, time_to_bait(night, i, x, y), k.REACHES, 0.0)


@inlined
def time_to_bait(night: Night, i: int, x: float, y: float) -> float:
    """Night.time_to_bait."""
    animal, luck = night.animals[i], night.luck
    if luck.times[k.T_TRAVEL, 2] < 0.0:
        return distance(animal.x, animal.y, x, y) / night.behaviour.walk_speed
    if animal.seeks == 0:
        return late_draw(luck, k.T_TRAVEL, k.D_TRAVEL, i, animal.stay)
    return late_draw(luck, k.T_TRAVEL, k.D_SEEK, i, seek_number(night, i))


@inlined
def reaches(night: Night, i: int) -> None:
    """Night.reaches."""
    animal, slot, now = night.animals[i], night.constants.animal_slots + i, night.state.now
    animal.state = k.AT_BAIT
    arrives(night, i)
    if finds_room(night, i):
        put(night.agenda, slot, now + animal.dwell, k.FEEDS, i)
    else:
        wait = late_draw(night.luck, k.T_RETRY, k.D_RETRY, i, seek_number(night, i))
        put(night.agenda, slot, now + wait, k.SEEKS, i)


@inlined
def seeks_again(night: Night, i: int) -> None:
    """Night.seeks_again."""
    night.animals[i].seeks += 1
    goes_to_the_bait(night, i)


@inlined
def feeds(night: Night, i: int) -> None:
    """Night.feeds."""
    animal, state = night.animals[i], night.state
    animal.state = k.FEEDING
    animal.eats = math.floor(animal.mass * night.behaviour.intake + 0.5)
    state.feeding += 1
    state.intake += animal.eats
    begins_outings(night, i)


@inlined
def stops_feeding(night: Night, i: int) -> None:
    """Night.stops_feeding."""
    animal, state = night.animals[i], night.state
    if animal.state == k.FEEDING:
        state.feeding -= 1
        state.intake -= animal.eats


@inlined
def leaves(night: Night, i: int) -> None:
    """Night.leaves: to an opening, from wherever it is."""
    animal, now = night.animals[i], night.state.now
    drop(night.clocks, night.animals[i], s.LEAVING, i)
    just_came = animal.state == k.WALK_IN and animal.seeks == 0
    so_far = now - animal.way_began
    stops(night, i)
    stops_feeding(night, i)
    animal.state = k.WALK_OUT
    o = means_to_leave_by(night, i)
    if just_came and night.luck.times[k.T_TRAVEL, 2] >= 0.0:
        takes = so_far
    else:
        takes = time_to_opening(night, i, o)
    heads_for(night, i, o, takes, 0.0)


@inlined
def heads_for(night: Night, i: int, o: int, takes: float, after: float) -> None:
    """Night.heads_for."""
    night.animals[i].mouth = o
    row = night.openings[o]
    walks(night, i, row.x, row.y, takes, k.AT_OPENING, after)


@inlined
def comes_to_opening(night: Night, i: int) -> None:
    """Night.comes_to_opening: there it waits for room; if it is shut, on to the nearest."""
    animal, behaviour = night.animals[i], night.behaviour
    arrives(night, i)
    mouth = animal.mouth
    if lets_out(animal, night.gates[mouth], night.openings[mouth], behaviour):
        animal.state = k.WAIT_OUT
        join_queue(night, i, mouth)
        return
    other = nearest_way_out(animal, night.gates, night.openings, behaviour)
    if other == len(night.gates):
        lingers(night, i)
        return
    heads_for(night, i, other, time_to_opening(night, i, other), 0.0)


@inlined
def time_to_opening(night: Night, i: int, o: int) -> float:
    """Night.time_to_opening."""
    animal, behaviour = night.animals[i], night.behaviour
    if animal.bolting != 0:
        return distance_to(animal, night.openings[o]) / behaviour.bolt_speed
    if night.luck.times[k.T_TRAVEL, 2] < 0.0:
        return distance_to(animal, night.openings[o]) / behaviour.walk_speed
    return late_draw(night.luck, k.T_TRAVEL, k.D_WALK_BACK, i, animal.stay)


@inlined
def lingers(night: Night, i: int) -> None:
    """Night.lingers."""
    night.animals[i].state = k.STILL
    if a_way_stays_open(night.gates):
        may_leave_later(night, i)


@inlined
def may_leave_later(night: Night, i: int) -> None:
    """Night.may_leave_later."""
    animal = night.animals[i]
    animal.stay += 1
    x = late_draw(night.luck, k.T_LEAVE, k.D_LINGER, i, animal.stay)
    join(night.clocks, night.animals[i], s.LEAVING, i, x)


@inlined
def draws_others_after_it(night: Night) -> None:
    """Night.draws_others_after_it."""
    state = night.state
    if state.departures < k.DEPARTURES_KEPT:
        last = (state.oldest_departure + state.departures) % k.DEPARTURES_KEPT
        state.last_departures[last] = state.now + night.behaviour.contagion_window
        state.departures += 1
        if state.departures == 1:
            put(night.agenda, s.CALM, state.last_departures[last], k.CALMED, k.NOBODY)


@inlined
def calmed(night: Night) -> None:
    """Night.calmed: the oldest departure no longer draws others after it."""
    state = night.state
    state.oldest_departure = (state.oldest_departure + 1) % k.DEPARTURES_KEPT
    state.departures -= 1
    if state.departures > 0:
        put(
            night.agenda,
            s.CALM,
            state.last_departures[state.oldest_departure],
            k.CALMED,
            k.NOBODY,
        )
