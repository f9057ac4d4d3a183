"""Where animals are in the kernel: twin of `reference.ground`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import called, inlined
from soundergate.engine.kernel.agenda import put
from soundergate.engine.kernel.bodies import chance
from soundergate.engine.kernel.openings import nearest_way_out
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.kernel.triggers import touch
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.outings import aim, pause
from soundergate.engine.place.ways import (
    between,
    on_piece,
    passes,
    share_gone,
    side_of,
)

# ---- standing ------------------------------------------------------------------------------


@inlined
def stands_at(night: Night, i: int, x: float, y: float) -> None:
    """Ground.stands_at, but for the sides of lines."""
    animal = night.animals[i]
    animal.x0 = animal.x = x
    animal.y0 = animal.y = y
    animal.way_began = night.state.now
    animal.takes = 0.0
    animal.met = 0.0


@inlined
def looks_at_sides(night: Night, i: int) -> None:
    """On which side of each line it stands."""
    if night.constants.lines > 0:
        animal = night.animals[i]
        animal.sides = sides_at(night, animal.x, animal.y)


@called
def sides_at(night: Night, x: float, y: float) -> int:
    sides = 0
    for t in range(len(night.triggers)):
        row = night.triggers[t]
        if row.kind == k.LINE:
            sides |= side_of(x, y, row.line_ax, row.line_ay, row.line_bx, row.line_by) << t
    return sides


@inlined
def comes_in_at(night: Night, i: int, o: int) -> None:
    """Ground.comes_in."""
    night.animals[i].seeks = 0
    stands_at(night, i, night.openings[o].x, night.openings[o].y)
    looks_at_sides(night, i)


@inlined
def arrives(night: Night, i: int) -> None:
    """Ground.arrives."""
    stands_at(night, i, night.animals[i].x, night.animals[i].y)
    looks_at_sides(night, i)


@called
def stops(night: Night, i: int) -> None:
    """Ground.stops: it breaks off what it was about and stands where it is."""
    animal = night.animals[i]
    x0, y0, x1, y1, met = animal.x0, animal.y0, animal.x, animal.y, animal.met
    on_an_outing = animal.state == k.FEEDING
    if on_an_outing:
        x0, y0 = animal.x, animal.y
        number, x1, y1, progress = outing_now(night, i)
        met = met if number == animal.outing else 0.0
    else:
        progress = share_gone(animal.way_began, animal.takes, met, night.state.now)
    if night.constants.lines > 0 and night.state.alarmed == 0:
        for t in range(len(night.triggers)):
            if night.triggers[t].kind == k.LINE:
                turn_side(night, i, t, x0, y0, x1, y1, progress, met, on_an_outing)
    gives_up_its_place(night, i)
    share = progress if progress <= 1.0 else 2.0 - progress
    stands_at(night, i, between(x0, x1, share), between(y0, y1, share))


@inlined
def turn_side(
    night: Night, i: int, t: int, x0: float, y0: float, x1: float, y1: float,
    progress: float, met: float, on_an_outing: bool,
) -> None:  # fmt: skip
    """Ground.sides_now, for one line."""
    animal, row = night.animals[i], night.triggers[t]
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
def walks(night: Night, i: int, x: float, y: float, takes: float, rank: int) -> None:
    """Ground.walks."""
    animal = night.animals[i]
    animal.x0 = animal.x
    animal.y0 = animal.y
    animal.x = x
    animal.y = y
    animal.way_began = night.state.now
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
        meeting = next_line(night, i)
    animal.next_meeting = meeting
    if meeting < math.inf:
        put(night.agenda, slot, animal.way_began + animal.takes * meeting, k.TOUCHES, i)
    else:
        put(night.agenda, slot, animal.way_began + animal.takes, animal.arrival, i)


@called
def next_line(night: Night, i: int) -> float:
    """Ground.next_line."""
    animal = night.animals[i]
    nearest = math.inf
    for t in range(len(night.triggers)):
        if night.triggers[t].kind == k.LINE:
            share = meets(night, i, t, animal.x0, animal.y0, animal.x, animal.y)
            if animal.met < share < nearest:
                nearest = share
    return nearest


@inlined
def meets(night: Night, i: int, t: int, x0: float, y0: float, x1: float, y1: float) -> float:
    """Ground.meets: the share of a way at which it touches line ``t``; inf if it does not."""
    animal, row = night.animals[i], night.triggers[t]
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
            if meets(night, i, t, animal.x0, animal.y0, animal.x, animal.y) == at:
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
    nearest = nearest_way_out(night, i)
    return came_by if nearest == len(night.gates) else nearest


# ---- a place at the bait -------------------------------------------------------------------


@inlined
def seek(night: Night, i: int) -> tuple[float, float]:
    """Ground.seek: where it looks for a place at the bait."""
    count, last = seek_number(night, i), len(night.patches) - 1
    p = 0
    if last > 0:
        u = chance(night.luck, k.D_PATCH, i, count)
        while p < last and u >= night.patches[p].choice:
            p += 1
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
    return animal.stay * k.SEEKS_A_STAY + min(animal.seeks, k.SEEKS_A_STAY - 1)


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
    if night.constants.lines > 0:
        goes_out(night, i)


@inlined
def begin_of(night: Night, i: int, number: int, since: float) -> float:
    """Ground.begin_of."""
    luck, state = night.luck, night.state
    stay = night.animals[i].stay
    return since + pause(luck.times, state.seed, state.number, i, stay, number)


@inlined
def aim_of(night: Night, i: int, number: int) -> tuple[float, float, float]:
    """Ground.aim_of."""
    animal, b, state = night.animals[i], night.behaviour, night.state
    return aim(
        night.luck.times, b.outing_share, b.outing_reach, b.fence, b.walk_speed,
        animal.x, animal.y, state.seed, state.number, i, animal.stay, number,
    )  # fmt: skip


@called
def outing_now(night: Night, i: int) -> tuple[int, float, float, float]:
    """Ground.outing_now: its number, where it goes and its progress; -1 for none."""
    animal, now = night.animals[i], night.state.now
    number, since = animal.outing, animal.outing_since
    while True:
        begin = begin_of(night, i, number, since)
        met = animal.met if number == animal.outing else 0.0
        if now <= begin and met == 0.0:
            return -1, animal.x, animal.y, 0.0
        x, y, takes = aim_of(night, i, number)
        end = begin + 2.0 * takes
        if now < end or (met > 0.0 and now <= end):
            gone = (now - begin) / takes if takes > 0.0 else met
            gone = gone if gone < 2.0 else 2.0
            return number, x, y, gone if gone > met else met
        number, since = number + 1, end


@called
def goes_out(night: Night, i: int) -> None:
    """Ground.goes_out: when on its outings will it meet a line next?"""
    animal = night.animals[i]
    number, since, met = animal.outing, animal.outing_since, animal.met
    while True:
        begin = begin_of(night, i, number, since)
        if begin > night.behaviour.check:
            return
        x, y, takes = aim_of(night, i, number)
        meeting = math.inf
        for t in range(len(night.triggers)):
            if night.triggers[t].kind == k.LINE:
                there = meets(night, i, t, animal.x, animal.y, x, y)
                back = 2.0 - there
                if met < there < meeting:
                    meeting = there
                elif met < back < meeting:
                    meeting = back
        if meeting < math.inf:
            animal.outing = number
            animal.outing_since = since
            animal.met = met
            animal.next_meeting = meeting
            slot = night.constants.animal_slots + i
            put(night.agenda, slot, begin + takes * meeting, k.TOUCHES, i)
            return
        number, since, met = number + 1, begin + 2.0 * takes, 0.0


@called
def touches_on_an_outing(night: Night, i: int) -> None:
    """Ground.touches_on_an_outing."""
    animal = night.animals[i]
    at = animal.next_meeting
    animal.met = at
    x, y, _ = aim_of(night, i, animal.outing)
    for t in range(len(night.triggers)):
        if night.triggers[t].kind == k.LINE:
            there = meets(night, i, t, animal.x, animal.y, x, y)
            if there == at or 2.0 - there == at:
                touch(night, i, t)
    goes_out(night, i)
