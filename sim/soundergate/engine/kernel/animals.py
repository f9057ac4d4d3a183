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
from soundergate.engine.kernel.bodies import chance, fits
from soundergate.engine.kernel.early import early_draw, early_frailty, late_draw
from soundergate.engine.kernel.openings import a_way_stays_open, join_queue, pushes_in, way_out
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.kernel.triggers import group_arrives, next_line, touch_at


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
        join(night.clocks, night.animals[i], s.ENTRY, i, x / early_frailty(luck, t.E_FRAILTY, i))


@inlined
def goes_away(night: Night, i: int) -> None:
    night.animals[i].state = k.GONE
    night.state.gone += 1


@inlined
def tries(night: Night, i: int) -> bool:
    """Night.tries; whether it turns away and is `outside` anew."""
    animal = night.animals[i]
    drop(night.clocks, night.animals[i], s.ENTRY, i)
    o = choose(night, i)
    if not fits(animal, night.gates[o], night.openings[o], night.behaviour):
        return False
    if night.gates[o].state == k.ONE_WAY and not pushes_in(night, i, o):
        return len(night.gates) > 1
    animal.state = k.WAIT_IN
    join_queue(night, i, o)
    return False


@inlined
def choose(night: Night, i: int) -> int:
    """Facts.choose."""
    last = len(night.gates) - 1
    o = 0
    if last > 0:
        u = chance(night.luck, k.D_CHOICE, i, night.animals[i].stay)
        while o < last and u >= night.openings[o].choice:
            o += 1
    return o


@inlined
def sets_off(night: Night, i: int) -> None:
    """Night.sets_off. Its stay's two draws make one block: when it leaves, how long it dwells."""
    animal, luck, now = night.animals[i], night.luck, night.state.now
    x = early_draw(luck, t.E_STAY, k.T_LEAVE, k.D_STAY, i, 2 * animal.stay)
    animal.dwell = early_draw(luck, t.E_STAY, k.T_DWELL, k.D_STAY, i, 2 * animal.stay + 1)
    join(night.clocks, night.animals[i], s.LEAVING, i, x)
    animal.state = k.WALK_IN
    animal.inside_since = now
    animal.leg_started = now
    animal.leg_time = walk_time(night, i, k.D_TRAVEL)
    walks_to(night, i, 0.0)


@inlined
def walk_time(night: Night, i: int, purpose: int) -> float:
    """Stage.walk_time."""
    animal = night.animals[i]
    if night.luck.times[k.T_TRAVEL, 2] >= 0.0:
        return late_draw(night.luck, k.T_TRAVEL, purpose, i, animal.stay)
    return night.openings[animal.at].bait_distance / night.behaviour.walk_speed


@inlined
def walks_to(night: Night, i: int, share: float) -> None:
    """Night.walks_to: the next line across the way, or the bait."""
    animal = night.animals[i]
    rank, animal.leg_to = k.REACHES, 1.0
    if night.constants.lines > 0:
        line = next_line(night, share)
        if line < math.inf:
            rank, animal.leg_to = k.TOUCHES, line
    when = animal.leg_started + animal.leg_time * animal.leg_to
    put(night.agenda, night.constants.animal_slots + i, when, rank, i)


@inlined
def crosses_line(night: Night, i: int) -> None:
    """Night.crosses_line."""
    share = night.animals[i].leg_to
    touch_at(night, i, share)
    walks_to(night, i, share)


@inlined
def reaches(night: Night, i: int) -> None:
    """Night.reaches."""
    animal = night.animals[i]
    animal.state = k.AT_BAIT
    put(night.agenda, night.constants.animal_slots + i, night.state.now + animal.dwell, k.FEEDS, i)


@inlined
def feeds(night: Night, i: int) -> None:
    """Night.feeds."""
    animal, state = night.animals[i], night.state
    animal.state = k.FEEDING
    animal.eats = math.floor(animal.mass * night.behaviour.intake + 0.5)
    state.feeding += 1
    state.intake += animal.eats
    roaming_again(night, i)


@inlined
def roaming_again(night: Night, i: int) -> None:
    """Night.roaming_again."""
    if night.constants.beyond > 0:
        animal = night.animals[i]
        x = early_draw(night.luck, t.E_ROAM, k.T_ROAM, k.D_ROAM, i, animal.roams)
        animal.roams += 1
        join(night.clocks, night.animals[i], s.ROAMING, i, x)


@inlined
def presses_on(night: Night, i: int) -> None:
    """Night.presses_on."""
    drop(night.clocks, night.animals[i], s.ROAMING, i)
    touch_at(night, i, math.inf)
    roaming_again(night, i)


@inlined
def stops_feeding(night: Night, i: int) -> None:
    """Night.stops_feeding."""
    animal, state = night.animals[i], night.state
    if animal.state == k.FEEDING:
        state.feeding -= 1
        state.intake -= animal.eats
        if night.constants.beyond > 0:
            drop(night.clocks, night.animals[i], s.ROAMING, i)


@inlined
def leaves(night: Night, i: int) -> None:
    """Night.leaves: back to the opening it came in by."""
    animal, now = night.animals[i], night.state.now
    drop(night.clocks, night.animals[i], s.LEAVING, i)
    back = now - animal.inside_since
    if animal.state != k.WALK_IN:
        back = walk_time(night, i, k.D_WALK_BACK)
    stops_feeding(night, i)
    animal.state = k.WALK_OUT
    animal.leg_started = now
    animal.leg_time = back
    put(night.agenda, night.constants.animal_slots + i, now + back, k.AT_OPENING, i)


@inlined
def from_opening(night: Night, i: int) -> float:
    """Stage.from_opening: distance in m to the opening it came in by."""
    animal = night.animals[i]
    run = night.openings[animal.at].bait_distance
    if animal.state == k.WAIT_OUT:
        return 0.0
    walking = animal.state == k.WALK_IN or animal.state == k.WALK_OUT
    if walking and animal.leg_time > 0.0:
        share = (night.state.now - animal.leg_started) / animal.leg_time
        return run * share if animal.state == k.WALK_IN else run * (1.0 - share)
    return run


@inlined
def comes_to_opening(night: Night, i: int) -> None:
    """Night.comes_to_opening."""
    animal = night.animals[i]
    o = way_out(night.gates, animal.at)
    if o == len(night.gates):
        lingers(night, i)
    else:
        animal.state = k.WAIT_OUT
        join_queue(night, i, o)


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
