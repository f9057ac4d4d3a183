"""How a night of the kernel begins and what is written down of it at its end: twin of
`engine.reference.stage`'s start, of `Night.arrivals` and of `engine.reference.fates`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.carried import Carried
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import put, wait_for
from soundergate.engine.kernel.bodies import is_inside, size_up
from soundergate.engine.kernel.early import draw_early, early_chance, early_draw, late_draw
from soundergate.engine.kernel.layout import Animal
from soundergate.engine.kernel.openings import gates_set_up, holds
from soundergate.engine.kernel.scratch import Night, Scratch
from soundergate.engine.kernel.triggers import minutes_watched, set_up
from soundergate.engine.luck.draws import count_at
from soundergate.engine.plan import Floats, Ints, NightPlan

# Columns of the whole-number and float results of a night.
(R_ARRIVED, R_RELEASED, R_HELD, R_CAUGHT, R_BEFORE, R_DURING, R_AFTER, R_NEVER, R_EDUCATED,
 R_STRUCK, R_EVENTS, R_GROUP, R_LAST, RESULT_INTS) = range(14)  # fmt: skip
R_RELEASE_S, R_ENERGY, R_OPERATOR, R_NIGHT_S, RESULT_FLOATS = range(5)


@inlined
def begin(scratch: Scratch, plan: NightPlan, carried: Carried, row: int) -> None:
    """Everything as it is before the first animal comes."""
    night = scratch.night
    nothing_yet(night, carried.number[row], carried.traits[row])
    night.agenda.due[:] = k.NEVER
    night.clocks.waits[:] = k.NEVER
    draw_early(night.luck, scratch.table)
    clocks_at_rest(night)
    openings_open(night)
    animals_on_their_way(night, plan, carried, row)
    set_up(night, plan)
    put(night.agenda, s.CHECK, night.behaviour.check, k.CHECKED, k.NOBODY)
    when = early_draw(night.luck, t.E_FALSE, k.T_FALSE, k.D_FALSE, k.NOBODY, k.FIRST)
    put(night.agenda, s.FALSE_RELEASE, when, k.FALSE_RELEASE, k.NOBODY)
    gates_set_up(night)


@inlined
def nothing_yet(night: Night, number: int, traits: int) -> None:
    state = night.state
    state.number = number
    state.traits = traits
    state.now = 0.0
    state.events = 0
    state.finished = 0
    state.group_size = 0
    state.led = 0
    state.arrived = 0
    state.anyone_came = 0
    state.inside = 0
    state.leaders = 0
    state.feeding = 0
    state.intake = 0
    state.level = 0
    state.bait_level = 0
    state.gone = 0
    state.over = 0
    state.departures = 0
    state.oldest_departure = 0
    state.speeds_of = -1
    state.heads_changed = 0
    state.came_last_by = -1
    state.commands_under_way = 0
    state.pulled_at = math.nan
    state.acted = 0
    state.released_at = math.nan
    state.alarmed = 0
    state.held = 0
    state.closed_once = 0
    state.strike_energy = 0.0
    state.pending = 0
    state.way_until = 0.0
    state.refresh_at = math.inf


@inlined
def clocks_at_rest(night: Night) -> None:
    for q in range(len(night.clocks.clock)):
        clock = night.clocks.clock[q]
        clock.t0 = 0.0
        clock.h0 = 0.0
        clock.speed = 0.0
        clock.head_at = math.inf
        clock.head = k.LAST
        clock.head_changed = 0
    wait_for(night.clocks, night.constants.bait_clock, k.NOBODY, night.constants.bait_marks[0])


@inlined
def openings_open(night: Night) -> None:
    for o in range(len(night.gates)):
        gate = night.gates[o]
        one_way = night.openings[o].one_way != 0
        gate.state = k.ONE_WAY if one_way else k.OPEN
        gate.occupied = 0
        gate.queued = 0
        gate.stirred = 0
        gate.move_due = 0
        gate.let_go_at = math.inf
    for p in range(len(night.patch_states)):
        night.patch_states[p].taken = 0


@inlined
def animals_on_their_way(night: Night, plan: NightPlan, carried: Carried, row: int) -> None:
    """Stage.__init__, Stage.arrival_times: who comes tonight, and when."""
    state, luck = night.state, night.luck
    alone = carried.before.shape[0] == 0
    size_up_sounders(night, plan)
    for i in range(night.constants.animals):
        animal = night.animals[i]
        before = k.AS_DRAWN if alone else carried.before[row, i]
        comes_tonight(night, animal, before)
        animal.stay = -1
        animal.mouth = 0
        animal.patch = -1
        animal.sides = 0
        animal.bolting = 0
        is_wary(night, animal, before, i)
        animal.entered = 0
        animal.held = 0
        animal.witness = 0
        animal.struck = 0
        animal.broke_out = 0
        if animal.present == 0:
            animal.state = k.GONE
            state.gone += 1
            continue
        animal.state = k.AWAY
        size_up(luck, animal, night.behaviour, i)
        state.group_size += 1
        state.led |= animal.leads
        party_comes = when_party_comes(night, animal)
        when = party_comes + early_draw(luck, t.E_SPREAD, k.T_SPREAD, k.D_SPREAD, i, k.FIRST)
        if when <= night.behaviour.check:
            state.arrived += 1
        put(night.agenda, night.constants.animal_slots + i, when, k.ARRIVES, i)


@inlined
def comes_tonight(night: Night, animal: Animal, before: int) -> None:
    """Stage.comes_tonight."""
    drawn = animal.turn < night.sounders[animal.sounder].heads
    comes = drawn if before == k.AS_DRAWN else before != k.ABSENT
    animal.present = 1 if comes else 0


@inlined
def is_wary(night: Night, animal: Animal, before: int, i: int) -> None:
    """Stage.is_wary."""
    u = early_chance(night.luck, t.E_SPREAD, k.D_SPREAD, i, k.SECOND)
    wary = u < night.behaviour.shy_share if before == k.AS_DRAWN else before == k.WARY
    animal.shy = 1 if wary else 0


@inlined
def size_up_sounders(night: Night, plan: NightPlan) -> None:
    """Stage.size_tonight."""
    for number in range(len(night.sounders)):
        sounder = night.sounders[number]
        sounder.came = 0
        sounder.heads = sounder.fixed_heads
        if sounder.fixed_heads < 0:
            u = early_chance(night.luck, t.E_SIZE, k.D_SIZE, number, k.FIRST)
            sounder.heads = count_at(plan.size_cdf[number], u)
        sounder.first = early_draw(night.luck, t.E_FIRST, k.T_FIRST, k.D_FIRST, number, k.FIRST)


@inlined
def when_party_comes(night: Night, animal: Animal) -> float:
    """When an animal's sounder comes, and how far its subgroup is behind."""
    offset = 0.0
    if animal.party != 0:
        who = animal.sounder * k.PARTIES_A_SOUNDER + animal.party
        offset = late_draw(night.luck, k.T_OFFSET, k.D_OFFSET, who, k.FIRST)
    return night.sounders[animal.sounder].first + offset


@inlined
def tally(night: Night, whole: Ints, real: Floats) -> None:
    """The outcome of a night; every animal has exactly one fate."""
    state = night.state
    for column in range(RESULT_INTS):
        whole[column] = 0
    held = holds(night.gates)
    for i in range(night.constants.animals):
        animal = night.animals[i]
        if animal.present == 0:
            continue
        whole[R_STRUCK] += animal.struck
        if held and is_inside(animal.state):
            whole[R_CAUGHT] += 1
            continue
        whole[R_EDUCATED] += animal.witness
        if animal.broke_out != 0:
            whole[R_AFTER] += 1
        elif animal.held != 0:
            whole[R_DURING] += 1
        elif animal.entered != 0:
            whole[R_BEFORE] += 1
        else:
            whole[R_NEVER] += 1
    whole[R_ARRIVED] = state.arrived
    whole[R_RELEASED] = state.closed_once
    whole[R_HELD] = state.held
    whole[R_EVENTS] = state.events
    whole[R_GROUP] = state.group_size
    never_moved = state.released_at != state.released_at
    real[R_RELEASE_S] = state.pulled_at if never_moved else state.released_at
    real[R_ENERGY] = state.strike_energy
    real[R_OPERATOR] = minutes_watched(night)
    real[R_NIGHT_S] = state.now


@inlined
def what_they_take(night: Night, after: Ints) -> None:
    """`tally.what_they_take`."""
    held = holds(night.gates)
    for i in range(night.constants.animals):
        animal = night.animals[i]
        flags = 0
        if animal.present != 0:
            flags = k.WAS_THERE + k.WAS_HELD * animal.held + k.WAS_WITNESS * animal.witness
            flags += k.WAS_WARY * animal.shy + k.WAS_INSIDE * animal.entered
            flags += k.WAS_CAUGHT if held and is_inside(animal.state) else 0
        after[i] = flags
