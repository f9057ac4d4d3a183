"""Those outside at the alarm in the kernel: twin of `engine.reference.onlookers`."""

from __future__ import annotations

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel.agenda import put
from soundergate.engine.kernel.animals import goes_away
from soundergate.engine.kernel.bodies import chance
from soundergate.engine.kernel.early import early_chance, late_draw
from soundergate.engine.kernel.openings import join_queue, late_entrance, stands_open_for
from soundergate.engine.kernel.scratch import Night


@inlined
def stays_near(night: Night, i: int) -> None:
    """Onlookers.stays_near: it flees from the noise, but not far."""
    animal, state, luck = night.animals[i], night.state, night.luck
    animal.state = k.FLED
    animal.near_until = state.now + late_draw(luck, k.T_NEAR, k.D_NEAR, i, k.FIRST)
    u = early_chance(luck, t.E_LATE, k.D_LATE, i, k.FIRST)
    animal.pushes = 1 if u < night.constants.late_share else 0
    animal.looks = 0
    state.pending += animal.pushes
    will_look(night, i)


@inlined
def will_look(night: Night, i: int) -> None:
    """Onlookers.will_look: back at the trap after a while, at the latest as it leaves for good."""
    animal = night.animals[i]
    when = animal.near_until
    if animal.looks < k.MOST_LOOKS:
        wait = late_draw(night.luck, k.T_LATE, k.D_LATE, i, 1 + animal.looks)
        when = min(when, night.state.now + wait)
    put(night.agenda, night.constants.animal_slots + i, when, k.COMES_BACK, i)


@inlined
def comes_back(night: Night, i: int) -> None:
    """Onlookers.comes_back."""
    o = way_in_again(night, i)
    night.animals[i].looks += 1
    if o == len(night.gates):
        waits_on(night, i)
    else:
        night.animals[i].state = k.WAIT_IN
        join_queue(night, i, o)


@inlined
def way_in_again(night: Night, i: int) -> int:
    """Onlookers.way_in; the number of openings if there is none."""
    animal = night.animals[i]
    nowhere = len(night.gates)
    pushes = animal.pushes != 0
    night.state.pending -= animal.pushes
    animal.pushes = 0
    o = stands_open_for(night, i)
    tempted = o < nowhere and animal.shy == 0
    if tempted and goes_in(night, i):
        return o
    return late_entrance(night, i) if pushes else nowhere


@inlined
def goes_in(night: Night, i: int) -> bool:
    """Whether it takes the opening that stands open, this time."""
    u = chance(night.luck, k.D_OPEN_WAY, i, night.animals[i].looks)
    return u < night.behaviour.open_entry


@inlined
def waits_on(night: Night, i: int) -> None:
    """Onlookers.waits_on: it stays near as long as it would have, and then goes away."""
    animal = night.animals[i]
    animal.state = k.FLED
    if night.state.now < animal.near_until:
        will_look(night, i)
    else:
        goes_away(night, i)
