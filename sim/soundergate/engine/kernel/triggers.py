"""Triggers in the kernel: twin of `engine.reference.triggers`."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import inlined
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.agenda import (
    cancel,
    of_trigger,
    put,
    slots_in_use,
    take_another,
    wait_for,
    when_due,
)
from soundergate.engine.kernel.bodies import chance, push
from soundergate.engine.kernel.early import early_chance, late_draw
from soundergate.engine.kernel.early_table import E_COUNT
from soundergate.engine.kernel.line import breaks, hang, pulls
from soundergate.engine.kernel.openings import nobody_crosses, pull
from soundergate.engine.kernel.scratch import Night
from soundergate.engine.luck.draws import least_count
from soundergate.engine.luck.elementary import bits_of
from soundergate.engine.luck.philox import uniforms
from soundergate.engine.plan import NightPlan
from soundergate.engine.rules.clocks import acting_look, release_from


@inlined
def draw_own(night: Night, t: int, row: int, purpose: int) -> float:
    """Triggers.draw: a time from one of trigger ``t``'s own distributions."""
    own = k.DURATION_ROWS + k.TRIGGER_DURATIONS * t + row
    return late_draw(night.luck, own, purpose, t, k.FIRST)


@inlined
def set_up(night: Night, plan: NightPlan) -> None:
    """Triggers.__init__, Triggers.set_up, Triggers.rule_tonight."""
    for t in range(len(night.trigger_states)):
        trigger = night.trigger_states[t]
        trigger.fired = 0
        trigger.broken = 0
        trigger.count = 0
        trigger.decided = 0
        trigger.watching = 0
        trigger.seen_times = 0
        trigger.seen_of = -1
        trigger.sight = -1
        trigger.refresh_at = math.inf
        trigger.least = math.inf
        if night.triggers[t].kind == k.LINE:
            hang(night, t)
        if night.triggers[t].kind == k.BAIT:
            amount = draw_own(night, t, k.X_BUCKET, k.D_BUCKET)
            wait_for(night.clocks, night.constants.trigger_clocks + t, t, amount)
        if night.triggers[t].kind == k.PERSON:
            for j in range(night.rule.shape[1]):
                step = plan.rule[t, j]
                night.rule[t, j, 0] = step[0]
                night.rule[t, j, 1] = least_count(step[1], step[2], night.state.group_size)
                trigger.least = min(trigger.least, night.rule[t, j, 1])


@inlined
def fire(night: Night, t: int, force: float) -> None:
    """Triggers.fire: trigger ``t`` has done its part; pull the latch if that was all it takes."""
    night.trigger_states[t].fired = 1
    if night.constants.all_needed != 0:
        for other in range(len(night.trigger_states)):
            if night.trigger_states[other].fired == 0:
                return
    pull(night, force, t)
    if night.state.acted == 0:
        night.trigger_states[t].fired = 0


# ---- a line, a container, a counter --------------------------------------------------------


@inlined
def touch(night: Night, i: int, t: int) -> None:
    """Triggers.touch: animal ``i`` pushes against line ``t``."""
    trigger, animal = night.trigger_states[t], night.animals[i]
    if trigger.fired != 0 or trigger.broken != 0:
        return
    force = push(night.luck, animal, i)
    if not pulls(night, t):
        if force < trigger.switch_push:
            return
        force = -1.0
    elif breaks(night, t, force):
        trigger.broken = 1
    fire(night, t, force)


@inlined
def bucket_moves(night: Night, t: int) -> None:
    """Triggers.bucket_moves."""
    wait_for(night.clocks, night.constants.trigger_clocks + t, t, math.inf)
    fire(night, t, night.triggers[t].container_pull[night.state.level])


@inlined
def counted(night: Night, i: int, inward: bool) -> None:
    """Triggers.counted: a beam or treadle counts a passage: once, not at all, or twice."""
    stay = night.animals[i].stay
    if inward:
        u = early_chance(night.luck, E_COUNT, k.D_COUNT_IN, i, stay)
    else:
        u = chance(night.luck, k.D_COUNT_OUT, i, stay)
    for t in range(len(night.trigger_states)):
        trigger, row = night.trigger_states[t], night.triggers[t]
        if night.triggers[t].kind == k.COUNTER:
            if u >= row.miss_share:
                step = 2 if u >= 1.0 - row.double_share else 1
                trigger.count += step if inward else -step
            check_count(night, t)


@inlined
def check_count(night: Night, t: int) -> None:
    """Triggers.check_count."""
    trigger, row = night.trigger_states[t], night.triggers[t]
    slot = of_trigger(night.constants, t, s.DWELL)
    if trigger.count >= row.count_needed and trigger.fired == 0:
        fire(night, t, -1.0)
    elif trigger.count < 1:
        trigger.decided = 0
        cancel(night.agenda, slot)
    elif trigger.decided == 0:
        trigger.decided = 1
        put(night.agenda, slot, night.state.now + row.count_dwell, k.DWELT, t)


# ---- a person on a link --------------------------------------------------------------------


@inlined
def group_arrives(night: Night) -> None:
    """Triggers.group_arrives."""
    for t in range(len(night.trigger_states)):
        if night.triggers[t].kind == k.PERSON:
            awake = chance(night.luck, k.D_AWAKE, t, k.FIRST) < night.triggers[t].awake_share
            if awake:
                when = night.state.now + draw_own(night, t, k.X_ALERT, k.D_ALERT)
                put(night.agenda, of_trigger(night.constants, t, s.ALERT), when, k.WATCHES, t)


@inlined
def watches(night: Night, t: int) -> None:
    """Triggers.watches."""
    trigger, now = night.trigger_states[t], night.state.now
    trigger.watching = 1
    trigger.began = now
    trigger.refresh_at = now + night.triggers[t].refresh
    first_refresh(night)


@inlined
def first_refresh(night: Night) -> None:
    """When a count is next drawn anew."""
    first = 0
    for t in range(1, len(night.trigger_states)):
        if night.trigger_states[t].refresh_at < night.trigger_states[first].refresh_at:
            first = t
    night.state.refresh_at = night.trigger_states[first].refresh_at


@inlined
def refreshes(night: Night, plan: NightPlan, key: int) -> int:
    """Triggers.refreshes, for all that come before the event ``key``, which has been taken off to
    be played next: the error of a count is drawn anew. What is to be played next thereafter.

    A refresh changes nothing but what the person sees, so it need not stand in the agenda. If it
    moves the look that acts, that look may take the place of the event.
    """
    agenda, state = night.agenda, night.state
    at = state.now
    while state.refresh_at <= at and state.events < k.MOST_EVENTS:
        t = 0
        while night.trigger_states[t].refresh_at != state.refresh_at:
            t += 1
        if state.refresh_at == at and refresh_key(t) > key:
            break
        trigger = night.trigger_states[t]
        state.now = trigger.refresh_at
        state.events += 1
        trigger.seen_of = -1
        trigger.refresh_at = state.now + night.triggers[t].refresh
        first_refresh(night)
        if looks_otherwise(night, plan, t):
            settle_person(night, t)
            slot = of_trigger(night.constants, t, s.LOOK)
            look = when_due(agenda, slot)
            if key == agenda.key[slot]:  # it was this look that was to be played next
                slots = slots_in_use(night.constants, state.pending)
                at, key = take_another(agenda.due, agenda.key, slots)
            elif look < at or (look == at and agenda.key[slot] < key):
                cancel(agenda, slot)
                agenda.due[key & (k.SLOT_STEP - 1)] = bits_of(at)
                at, key = look, agenda.key[slot]
    state.now = at
    return key


@inlined
def refresh_key(t: int) -> int:
    """Where a refresh stands among events at the same instant."""
    return (k.REFRESHES * k.RANK_STEP + t) * k.SLOT_STEP


@inlined
def count_on_screen(night: Night, plan: NightPlan, t: int) -> None:
    """Triggers.count_on_screen: its error stays until the true count changes."""
    trigger, inside = night.trigger_states[t], night.state.inside
    if trigger.seen_of == inside:
        return
    trigger.seen_of = inside
    trigger.seen = inside
    if night.triggers[t].exact_count == 0:
        drawn, begin = night.luck.drawn, night.constants.sights + t * s.SIGHTS
        at = trigger.seen_times % s.SIGHTS
        if at == 0:
            first, state = trigger.seen_times, night.state
            uniforms(state.seed, state.number, k.D_SEEN, t, first, drawn[begin : begin + s.SIGHTS])
        u = drawn[begin + at]
        trigger.seen_times += 1
        seen = inside  # from the likeliest on
        while u > plan.seen_cdf[t, inside, seen]:
            seen += 1
        while seen > 0 and u <= plan.seen_cdf[t, inside, seen - 1]:
            seen -= 1
        trigger.seen = seen


@inlined
def sees_clear(night: Night, t: int) -> bool:
    """Whether nobody stands in an opening, if the person clocks."""
    return night.triggers[t].clear_opening == 0 or nobody_crosses(night.gates)


@inlined
def when_to_act(night: Night, t: int, clear: bool) -> float:
    """Triggers.can_act, and the looks that the reference plays one by one: when one would act."""
    row, trigger, now = night.triggers[t], night.trigger_states[t], night.state.now
    if not clear or trigger.seen < trigger.least:
        return math.inf
    if row.frame_interval > 0.0:
        return acting_look(night.rule[t], trigger.seen, trigger.began, row.frame_interval, now)
    return release_from(night.rule[t], trigger.seen, trigger.began, now)


@inlined
def decides(night: Night, t: int) -> None:
    """Triggers.decides: only a look that acts is played."""
    row, state = night.triggers[t], night.state
    night.trigger_states[t].decided = 1
    state.commands_under_way += 1
    night.trigger_states[t].refresh_at = math.inf
    first_refresh(night)
    lost = 0
    while lost < 50 and chance(night.luck, k.D_DROPOUT, t, lost) < row.dropout_share:
        lost += 1
    wait = row.view_delay + draw_own(night, t, k.X_REACTION, k.D_REACTION)
    wait += draw_own(night, t, k.X_COMMAND, k.D_COMMAND) + lost * row.retry
    put(night.agenda, of_trigger(night.constants, t, s.COMMAND), state.now + wait, k.COMMAND, t)


@inlined
def commands(night: Night, t: int) -> None:
    """Triggers.commands."""
    night.state.commands_under_way -= 1
    fire(night, t, -1.0)


@inlined
def settle_people(night: Night, plan: NightPlan) -> None:
    """Triggers.settle, for people who watch and have not decided yet."""
    for t in range(len(night.trigger_states)):
        trigger = night.trigger_states[t]
        undecided = trigger.watching != 0 and trigger.decided == 0
        if night.triggers[t].kind == k.PERSON and undecided and looks_otherwise(night, plan, t):
            settle_person(night, t)


@inlined
def looks_otherwise(night: Night, plan: NightPlan, t: int) -> bool:
    """Whether person ``t`` sees something else than before.

    As long as they see the same, the look that will act stays the same.
    """
    count_on_screen(night, plan, t)
    trigger = night.trigger_states[t]
    sight = 2 * trigger.seen + sees_clear(night, t)
    changed = sight != trigger.sight
    trigger.sight = sight
    return changed


@inlined
def settle_person(night: Night, t: int) -> None:
    when = when_to_act(night, t, night.trigger_states[t].sight & 1 != 0)
    put(night.agenda, of_trigger(night.constants, t, s.LOOK), when, k.LOOKS, t)


@inlined
def minutes_watched(night: Night) -> float:
    """Triggers.minutes_watched, until the release or the end of the night."""
    state = night.state
    until = state.now if state.released_at != state.released_at else state.released_at
    total = 0.0
    for t in range(len(night.trigger_states)):
        trigger = night.trigger_states[t]
        if trigger.watching != 0 and until > trigger.began:
            total += until - trigger.began
    return total / 60.0
