"""The batch engine's kernel: a night as one compiled loop, the twin of `engine.reference`.

Read the reference first. A function here bears the name of the method that it mirrors, and the
files are divided alike: `animals` for the way of an animal, `openings` and
`passage` for the gatehouse, `triggers` for triggers, `release` for the end of
the visit and the alarm, `captives` and `onlookers` for those shut in and out, `agenda` for
timers and clocks, `bodies` for luck and bodies, `bounds` for the beginning and the tally. All are
inlined into `play_nights`, which is compiled as one function. The order of work is the
reference's: an event makes its changes, waiting animals get the room that came free, and then
speeds are looked up once.
"""

from __future__ import annotations

from soundergate.engine import codes as k
from soundergate.engine.carried import Carried
from soundergate.engine.compiled.decorators import compiled, inlined
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import settle_clock, settle_waiting, slots_in_use, take_next
from soundergate.engine.kernel.animals import (
    arrive,
    calmed,
    comes_to_opening,
    feeds,
    leaves,
    outside,
    reaches,
    seeks_again,
    tries,
)
from soundergate.engine.kernel.bounds import (
    R_EVENTS,
    R_LAST,
    RESULT_FLOATS,
    RESULT_INTS,
    begin,
    tally,
    what_they_take,
)
from soundergate.engine.kernel.captives import breaks_out
from soundergate.engine.kernel.ground import touches
from soundergate.engine.kernel.onlookers import comes_back
from soundergate.engine.kernel.openings import holds, nobody_crosses, nothing_moves, pull, strike
from soundergate.engine.kernel.passage import grant_room, leave_opening, moves, shut
from soundergate.engine.kernel.release import bait_falls, visit_ends
from soundergate.engine.kernel.scratch import Agenda, Clocks, Night, Scratch
from soundergate.engine.kernel.triggers import (
    bucket_moves,
    commands,
    decides,
    fire,
    refreshes,
    settle_people,
    watches,
)
from soundergate.engine.plan import Floats, Ints, NightPlan

__all__ = ["RESULT_FLOATS", "RESULT_INTS", "play_nights"]


@compiled
def play_nights(
    plan: NightPlan,
    scratch: Scratch,
    carried: Carried,
    seed: int,
    whole: Ints,
    real: Floats,
) -> None:
    """Play the nights of ``carried`` and fill ``whole`` and ``real``.

    Parameters
    ----------
    plan : NightPlan
    scratch : Scratch
        Working memory of `engine.kernel.scratch`, one a thread.
    carried : Carried, of C nights
    seed : int
    whole : int64[C, RESULT_INTS], columns R_* of `bounds`
    real : float64[C, RESULT_FLOATS], likewise; times in s, energy in J, watching in min
    """
    night = scratch.night
    state, constants = night.state, night.constants
    state.seed = seed
    for row in range(carried.number.shape[0]):
        begin(scratch, plan, carried, row)
        rank = k.CHECKED
        while state.finished == 0 and state.events < k.MOST_EVENTS:
            state.now, key = take_next(night.agenda, slots_in_use(constants, state.pending))
            if state.refresh_at <= state.now:
                key = refreshes(night, plan, key)
                if state.events >= k.MOST_EVENTS:
                    rank = k.REFRESHES
                    break
            state.events += 1
            priority = key >> k.SLOT_BITS
            rank = priority >> k.RANK_BITS
            i = priority & (k.RANK_STEP - 1)
            anew = False
            if rank == k.ARRIVES:
                arrive(night, i)
                anew = True
            elif rank == k.TRIES:
                anew = tries(night, i)
            elif rank == k.CROSSED or rank == k.PROP_ENDS:
                anew = leave_opening(night, rank, i)
            elif rank == k.TOUCHES:
                touches(night, i)
            elif rank == k.REACHES:
                reaches(night, i)
            elif rank == k.FEEDS:
                feeds(night, i)
            elif rank == k.SEEKS:
                seeks_again(night, i)
            elif rank == k.LEAVES:
                leaves(night, i)
            elif rank == k.AT_OPENING:
                comes_to_opening(night, i)
            elif rank == k.BAIT_LEVEL:
                bait_falls(night)
            elif rank == k.VISIT_ENDS:
                visit_ends(night)
            elif rank == k.CALMED:
                calmed(night)
            elif rank == k.BUCKET:
                bucket_moves(night, i)
            elif rank == k.DWELT:
                fire(night, i, -1.0)
            elif rank == k.COMMAND:
                commands(night, i)
            elif rank == k.FALSE_RELEASE:
                pull(night, -1.0, -1)
            elif rank == k.WATCHES:
                watches(night, i)
            elif rank == k.LOOKS:
                decides(night, i)
            elif rank == k.MOVES:
                moves(night, i)
            elif rank == k.STRUCK:
                strike(night, i)
            elif rank == k.SHUT:
                shut(night, i)
            elif rank == k.COMES_BACK:
                comes_back(night, i)
            elif rank == k.BREAKS_OUT:
                breaks_out(night, i)
            else:  # the trap check
                state.finished = 1
            if anew:
                outside(night, i)
            grant_room(night)
            settle(night, plan)
            if nothing_more_happens(night):
                state.finished = 1
        if state.finished == 0:  # the next of the nights would not end either
            whole[row, R_EVENTS] = state.events
            whole[row, R_LAST] = rank
            return
        tally(night, whole[row], real[row])
        if carried.after.shape[0] > 0:
            what_they_take(night, carried.after[row])


@inlined
def settle(night: Night, plan: NightPlan) -> None:
    """Night.settle: the one place where speeds are looked up and clocks move, once an event."""
    state, constants, clocks, agenda = night.state, night.constants, night.clocks, night.agenda
    settle_entry_and_leaving(clocks, agenda, plan)
    settle_clock(clocks, agenda, constants.bait_clock, float(state.intake), k.BAIT_LEVEL)
    if constants.containers > 0:
        for t in range(len(night.trigger_states)):
            if night.triggers[t].kind == k.BAIT:
                speed = plan.bucket_speed[t, state.feeding, state.level]
                settle_clock(clocks, agenda, constants.trigger_clocks + t, speed, k.BUCKET)
    if constants.people > 0:
        settle_people(night, plan)


@inlined
def settle_entry_and_leaving(clocks: Clocks, agenda: Agenda, plan: NightPlan) -> None:
    """Nothing is looked up if no count has changed that these speeds depend on."""
    state, tempos = clocks.state, clocks.constants.tempos
    inside, level, over = state.inside, state.level, state.over
    recent = min(state.departures, plan.leave_speed.shape[3] - 1)
    lead = 1 if state.leaders > 0 or state.led == 0 else 0
    counts = (((lead * 1024 + inside) * 8 + level) * 8 + recent) * 2 + over
    if counts == state.speeds_of and state.heads_changed == 0:
        return
    state.speeds_of = counts
    state.heads_changed = 0
    for c in range(tempos):
        speed = 0.0 if over != 0 else plan.entry_speed[c, lead, inside, level]
        settle_waiting(clocks, agenda, s.ENTRY * tempos + c, speed, k.TRIES)
        speed = plan.leave_speed[c, inside, level, recent]
        settle_waiting(clocks, agenda, s.LEAVING * tempos + c, speed, k.LEAVES)


@inlined
def nothing_more_happens(night: Night) -> bool:
    """Night.nothing_more_happens."""
    state, gates = night.state, night.gates
    everybody_gone = state.gone == night.constants.animals
    if state.alarmed == 0 and not everybody_gone:
        return False
    if state.alarmed != 0 and holds(gates):
        return state.pending == 0 and nobody_crosses(gates)
    return everybody_gone and state.commands_under_way == 0 and nothing_moves(gates)
