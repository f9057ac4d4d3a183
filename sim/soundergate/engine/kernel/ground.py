"""Where animals are in the kernel: twin of `reference.ground`."""

from __future__ import annotations

import math
from collections.abc import Sequence

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import called, inlined
from soundergate.engine.kernel.agenda import put
from soundergate.engine.kernel.bodies import chance, picked
from soundergate.engine.kernel.layout import Animal, NightState
from soundergate.engine.kernel.openings import nearest_way_out
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.kernel.triggers import touch
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.outings import LOOK_AHEAD, aim, pause
from soundergate.engine.place.ways import (
    between,
    on_piece,
    passes,
    share_gone,
    side_of,
)
from soundergate.engine.plan import Behaviour, Floats, Trigger

# ---- standing ------------------------------------------------------------------------------


@inlined
def stands_at(night: Night, i: int, x: float, y: float) -> None:
    """Ground.stands_at."""
    stand(night.animals[i], x, y, night.state.now)
    if night.constants.lines > 0:
        night.animals[i].sides = sides_at(night.triggers, x, y)


@inlined
def stand(animal: Animal, x: float, y: float, now: float) -> None:
    animal.x0 = animal.x = x
    animal.y0 = animal.y = y
    animal.way_began = now
    animal.takes = 0.0
    animal.met = 0.0


@called
def sides_at(triggers: Sequence[Trigger], x: float, y: float) -> int:
    """On which side of each line a place lies, a bit each."""
    sides = 0
    for t in range(len(triggers)):
        row = triggers[t]
        if row.kind == k.LINE:
            sides |= side_of(x, y, row.line_ax, row.line_ay, row.line_bx, row.line_by) << t
    return sides


@inlined
def comes_in_at(night: Night, i: int, o: int) -> None:
    """Ground.comes_in."""
    night.animals[i].seeks = 0
    stands_at(night, i, night.openings[o].x, night.openings[o].y)


@inlined
def arrives(night: Night, i: int) -> None:
    """Ground.arrives."""
    stands_at(night, i, night.animals[i].x, night.animals[i].y)


@inlined
def stops(night: Night, i: int) -> None:
    """Ground.stops: it breaks off what it was about and stands where it is."""
    stands_here(night.animals[i], night.behaviour, night.luck.times, night.state, night.triggers, i)
    gives_up_its_place(night, i)


@called
def stands_here(
    animal: Animal, b: Behaviour, times: Floats, state: NightState, triggers: Sequence[Trigger],
    i: int,
) -> None:  # fmt: skip
    """Where it is, and on which side of each line. After the alarm sides matter no more."""
    x0, y0, x1, y1, met = animal.x0, animal.y0, animal.x, animal.y, animal.met
    on_an_outing = animal.state == k.FEEDING
    if on_an_outing:
        x0, y0 = animal.x, animal.y
        number, x1, y1, progress = outing_now(animal, b, times, state, i)
        met = met if number == animal.outing else 0.0
    else:
        progress = share_gone(animal.way_began, animal.takes, met, state.now)
    if state.alarmed == 0:
        for t in range(len(triggers)):
            if triggers[t].kind == k.LINE:
                turn_side(animal, triggers[t], t, x0, y0, x1, y1, progress, met, on_an_outing)
    share = progress if progress <= 1.0 else 2.0 - progress
    stand(animal, between(x0, x1, share), between(y0, y1, share), state.now)


@inlined
def turn_side(
    animal: Animal, row: Trigger, t: int, x0: float, y0: float, x1: float, y1: float,
    progress: float, met: float, on_an_outing: bool,
) -> None:  # fmt: skip
    """Ground.sides_now, for one line."""
    ax, ay, bx, by = row.line_ax, row.line_ay, row.line_bx, row.line_by
    there = passes(x0, y0, x1, y1, ax, ay, bx, by, (animal.sides >> t) & 1)
    if there == math.inf:
        return
    touchable = animal.back > row.line_height and on_piece(x0, y0, x1, y1, ax, ay, bx, by, there)
    done = met if touchable else progress
    passed = there <= done
    if on_an_outing and 2.0 - there <= done:
        passed = not passed
    if passed:
        animal.sides ^= 1 << t


# ---- ways ----------------------------------------------------------------------------------


@inlined
def walks(night: Night, i: int, x: float, y: float, takes: float, rank: int, after: float) -> None:
    """Ground.walks."""
    animal = night.animals[i]
    animal.x0 = animal.x
    animal.y0 = animal.y
    animal.x = x
    animal.y = y
    animal.way_began = night.state.now + after
    animal.takes = takes
    animal.met = 0.0
    animal.arrival = rank
    goes_on(night, i)


@inlined
def goes_on(night: Night, i: int) -> None:
    """Ground.goes_on: to the next line across its way, or to its end."""
    animal, slot = night.animals[i], night.constants.animal_slots + i
    meeting = math.inf
    if night.constants.lines > 0 and night.state.alarmed == 0:
        meeting = next_line(night.animals[i], night.triggers)
    animal.next_meeting = meeting
    if meeting < math.inf:
        put(night.agenda, slot, animal.way_began + animal.takes * meeting, k.TOUCHES, i)
    else:
        put(night.agenda, slot, animal.way_began + animal.takes, animal.arrival, i)


@called
def next_line(animal: Animal, triggers: Sequence[Trigger]) -> float:
    """Ground.next_line."""
    nearest = math.inf
    for t in range(len(triggers)):
        if triggers[t].kind == k.LINE:
            share = meets(animal, triggers[t], t, animal.x0, animal.y0, animal.x, animal.y)
            if animal.met < share < nearest:
                nearest = share
    return nearest


@inlined
def meets(
    animal: Animal, row: Trigger, t: int, x0: float, y0: float, x1: float, y1: float
) -> float:
    """Ground.meets: the share of a way at which it touches line ``t``; inf if it does not."""
    if animal.back <= row.line_height:
        return math.inf
    ax, ay, bx, by = row.line_ax, row.line_ay, row.line_bx, row.line_by
    share = passes(x0, y0, x1, y1, ax, ay, bx, by, (animal.sides >> t) & 1)
    if share < math.inf and on_piece(x0, y0, x1, y1, ax, ay, bx, by, share):
        return share
    return math.inf


@inlined
def touches(night: Night, i: int) -> None:
    """Ground.touches, Ground.touches_on_an_outing."""
    animal = night.animals[i]
    if animal.state == k.FEEDING:
        touches_on_an_outing(night, i)
        return
    at = animal.next_meeting
    animal.met = at
    for t in range(len(night.triggers)):
        if night.triggers[t].kind == k.LINE:
            row = night.triggers[t]
            if meets(animal, row, t, animal.x0, animal.y0, animal.x, animal.y) == at:
                touch(night, i, t)
    goes_on(night, i)


@inlined
def means_to_leave_by(night: Night, i: int) -> int:
    """Ground.way_out."""
    came_by = night.animals[i].at
    if len(night.gates) == 1:
        return came_by
    u = chance(night.luck, k.D_WAY_OUT, i, night.animals[i].stay)
    if u >= night.behaviour.nearest_share:
        return came_by
    nearest = nearest_way_out(night.animals[i], night.gates, night.openings, night.behaviour)
    return came_by if nearest == len(night.gates) else nearest


# ---- a place at the bait -------------------------------------------------------------------


@inlined
def seek(night: Night, i: int) -> tuple[float, float]:
    """Ground.seek: where it looks for a place at the bait."""
    count = seek_number(night, i)
    p = 0
    if len(night.patches) > 1:
        p = picked(night.patches, chance(night.luck, k.D_PATCH, i, count))
    night.animals[i].goal = p
    patch, state = night.patches[p], night.state
    return in_disc(
        patch.x, patch.y, patch.radius, night.behaviour.fence,
        state.seed, state.number, k.D_PLACE, i, count,
    )  # fmt: skip


@inlined
def seek_number(night: Night, i: int) -> int:
    """Ground.seek_number."""
    animal = night.animals[i]
    return animal.stay * k.SEEKS_A_STAY + animal.seeks % k.SEEKS_A_STAY


@inlined
def finds_room(night: Night, i: int) -> bool:
    """Ground.finds_room."""
    p = night.animals[i].goal
    if night.patch_states[p].taken >= night.patches[p].room:
        return False
    night.patch_states[p].taken += 1
    night.animals[i].patch = p
    return True


@inlined
def gives_up_its_place(night: Night, i: int) -> None:
    """Ground.gives_up_its_place."""
    p = night.animals[i].patch
    if p >= 0:
        night.patch_states[p].taken -= 1
        night.animals[i].patch = -1


# ---- outings -------------------------------------------------------------------------------


@inlined
def begins_outings(night: Night, i: int) -> None:
    """Ground.begins_outings."""
    animal = night.animals[i]
    animal.outing = 0
    animal.outing_since = night.state.now
    animal.met = 0.0
    for t in range(len(night.triggers)):
        if night.triggers[t].kind == k.LINE and animal.back > night.triggers[t].line_height:
            goes_out(night, i)
            break


@inlined
def outing_of(
    animal: Animal, b: Behaviour, times: Floats, state: NightState, i: int, number: int,
    since: float,
) -> tuple[float, float, float, float]:  # fmt: skip
    """Ground.outing_of: when it begins, where it goes, and the seconds of one way."""
    seed, night, stay = state.seed, state.number, animal.stay
    wait, far = pause(times, seed, night, i, stay, number)
    if wait == math.inf:
        return math.inf, animal.x, animal.y, 0.0
    x, y, takes = aim(
        far, times, b.outing_share, b.outing_reach, b.fence, b.walk_speed, animal.x, animal.y,
        seed, night, i, stay, number,
    )  # fmt: skip
    return since + wait, x, y, takes


@called
def outing_now(
    animal: Animal, b: Behaviour, times: Floats, state: NightState, i: int
) -> tuple[int, float, float, float]:
    """Ground.outing_now: its number, where it goes and its progress; -1 for none."""
    number, since, now = animal.outing, animal.outing_since, state.now
    while True:
        begin, x, y, takes = outing_of(animal, b, times, state, i, number, since)
        met = animal.met if number == animal.outing else 0.0
        if now <= begin and met == 0.0:
            return -1, animal.x, animal.y, 0.0
        end = begin + 2.0 * takes
        if now < end or (met > 0.0 and now <= end):
            gone = (now - begin) / takes if takes > 0.0 else met
            gone = gone if gone < 2.0 else 2.0
            return number, x, y, gone if gone > met else met
        number, since = number + 1, end


@inlined
def goes_out(night: Night, i: int) -> None:
    """Ground.goes_out, Ground.waits_for."""
    when = looks_ahead(
        night.animals[i], night.behaviour, night.luck.times, night.state, night.triggers, i
    )
    put(night.agenda, night.constants.animal_slots + i, when, k.TOUCHES, i)


@called
def looks_ahead(
    animal: Animal, b: Behaviour, times: Floats, state: NightState, triggers: Sequence[Trigger],
    i: int,
) -> float:  # fmt: skip
    """When on its next outings it will meet a line, or has to look again."""
    number, since, met = animal.outing, animal.outing_since, animal.met
    meeting = math.inf
    when = math.inf
    for _ in range(LOOK_AHEAD):
        begin, x, y, takes = outing_of(animal, b, times, state, i, number, since)
        for t in range(len(triggers)):
            if triggers[t].kind == k.LINE:
                there = meets(animal, triggers[t], t, animal.x, animal.y, x, y)
                back = 2.0 - there
                if met < there < meeting:
                    meeting = there
                elif met < back < meeting:
                    meeting = back
        if meeting < math.inf:
            when = begin + takes * meeting
            break
        number, since, met = number + 1, begin + 2.0 * takes, 0.0
        when = since
    animal.next_outing = number
    animal.next_since = since
    animal.next_meeting = meeting
    return when


@inlined
def touches_on_an_outing(night: Night, i: int) -> None:
    """Ground.touches_on_an_outing."""
    animal = night.animals[i]
    at = animal.next_meeting
    animal.outing = animal.next_outing
    animal.outing_since = animal.next_since
    animal.met = at if at < math.inf else 0.0
    if at < math.inf:
        _, x, y, _ = outing_of(
            animal, night.behaviour, night.luck.times, night.state, i, animal.outing,
            animal.outing_since,
        )  # fmt: skip
        for t in range(len(night.triggers)):
            if night.triggers[t].kind == k.LINE:
                there = meets(animal, night.triggers[t], t, animal.x, animal.y, x, y)
                if there == at or 2.0 - there == at:
                    touch(night, i, t)
    goes_out(night, i)
