"""The batch engine's kernel: one flat compiled loop a night, the twin of `engine.reference`.

Every animal, clock, timer and gate owns a slot with the time of its next event and a whole-number
priority; the next event is the least of them. Below about 64 animals that scan beats a heap. The
order of work is the reference's: an event makes its changes, waiting animals get the room that
came free, and then speeds are looked up once. Read the reference first; the comment over a block
names the method that it mirrors.
"""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine import kernel_parts as p
from soundergate.engine.breakout import push_of
from soundergate.engine.clocks import (
    acting_look,
    look_up,
    look_up_from,
    reading,
    release_from,
)
from soundergate.engine.compiled import compiled
from soundergate.engine.draws import count_at, least_count, micrometres
from soundergate.engine.early import (
    E_BOLT,
    E_COUNT,
    E_ENTRY,
    E_LATE,
    E_RETURN,
    E_ROAM,
    E_SPREAD,
    E_STAY,
    draw_early,
    early_draw,
    early_frailty,
    early_uniform,
)
from soundergate.engine.kernel_parts import (
    cancel,
    captive,
    clear,
    count_on_screen,
    draw,
    drop_clock,
    fire,
    fits,
    holds,
    is_due,
    is_inside,
    join_clock,
    join_queue,
    leave_queue,
    lost_commands,
    need,
    passable_until,
    pull,
    pushes_in,
    put,
    settle,
    size_up,
    space_of,
    take_next,
    touch_force,
)
from soundergate.engine.philox import uniform, uniform_pair

_STEP = k.RANK_STEP
_INF = math.inf

# Columns of the whole-number and float results of a night.
(R_ARRIVED, R_RELEASED, R_HELD, R_CAUGHT, R_BEFORE, R_DURING, R_AFTER, R_NEVER, R_EDUCATED,
 R_STRUCK, R_EVENTS, R_GROUP) = range(12)  # fmt: skip
R_RELEASE_S, R_ENERGY, R_OPERATOR, R_NIGHT_S = range(4)
RESULT_INTS = 12
RESULT_FLOATS = 4


@compiled
def play_nights(plan, scratch, seed, first, count, whole, real):  # type: ignore[no-untyped-def]
    """Play ``count`` nights from number ``first`` and fill ``whole`` and ``real``.

    Parameters
    ----------
    plan : NightPlan
    scratch : Scratch
        Working memory of `engine.scratch`, one a thread.
    seed, first, count : int
    whole : int64[count, RESULT_INTS], columns R_*
    real : float64[count, RESULT_FLOATS], columns R_*; times in s, energy in J, watching in min
    """
    class_of = plan.class_of
    b = plan.behaviour
    opening = plan.opening
    kinds = plan.duration_kind
    times = plan.duration
    trigger = plan.trigger
    trigger_kind = plan.trigger_kind
    own_kinds = plan.trigger_duration_kind
    own_times = plan.trigger_duration
    delay_kind = plan.delay_kind
    delay = plan.delay
    combine_all = plan.combine_all[0]
    n_animals = class_of.shape[0]
    n_tempos = plan.entry_speed.shape[0]
    tempo_of = plan.tempo_of
    n_openings = opening.shape[0]
    n_triggers = trigger.shape[0]
    n_sounders = plan.size_cdf.shape[0]
    n_depart = plan.leave_speed.shape[3]

    # Slots: animals, clocks (entry, leaving, roaming by tempo, bait, containers), then timers.
    leaving = n_tempos
    roaming = 2 * n_tempos
    bait = 3 * n_tempos
    bucket = bait + 1
    n_clocks = bucket + n_triggers
    visit_end = n_animals + n_clocks
    calm = visit_end + 1
    false_release = visit_end + 2
    check = visit_end + 3
    arrival = visit_end + 4
    alert = visit_end + 5
    look = alert + n_triggers
    refresh = look + n_triggers
    command = refresh + n_triggers
    dwell = command + n_triggers
    moving = dwell + n_triggers
    shutting = moving + n_openings
    prop = shutting + n_openings
    breakout = prop + n_openings

    agenda = scratch.agenda
    early = scratch.early
    a = scratch.animals
    f = scratch.animal_floats
    gate = scratch.gates
    gate_f = scratch.gate_floats
    queue = scratch.queue
    width = scratch.width
    trig = scratch.triggers
    began = scratch.began
    entry_at = scratch.entry_at
    leave_at = scratch.leave_at
    roam_at = scratch.roam_at
    t0 = scratch.t0
    h0 = scratch.h0
    speed = scratch.speed
    head_at = scratch.head_at
    head_who = scratch.head_who
    stir = scratch.stir
    arrives_at = scratch.arrives_at
    arrives = scratch.arrives
    departures = scratch.departures
    notes = scratch.notes
    rule = scratch.rule
    sizes = scratch.sizes
    came = scratch.came

    exit_force = _INF
    late_share = 0.0
    for o in range(n_openings):
        width[o] = micrometres(opening[o, k.O_WIDTH])
        exit_force = min(exit_force, opening[o, k.O_EXIT])
        late_share = max(late_share, opening[o, k.O_LATE])
    any_beyond = False
    any_bucket = False
    any_counter = False
    any_person = False
    for t in range(n_triggers):
        any_person |= trigger_kind[t] == k.PERSON
        any_bucket |= trigger_kind[t] == k.BAIT
        any_counter |= trigger_kind[t] == k.COUNTER
        any_beyond |= trigger_kind[t] == k.LINE and trigger[t, k.LINE_BEYOND] > 0.0

    for row in range(count):
        night = first + row

        # ---- Night.__init__, Night.arrivals, Triggers.set_up ---------------------------------
        clear(agenda)
        a[:] = 0
        gate[:] = 0
        trig[:] = 0
        entry_at[:] = _INF
        leave_at[:] = _INF
        roam_at[:] = _INF
        t0[:] = 0.0
        h0[:] = 0.0
        speed[:] = 0.0
        head_at[:] = _INF
        head_who[:] = _STEP
        stir[:] = 0
        notes[0] = math.nan
        notes[1] = math.nan
        notes[2] = 0.0
        arrived = 0
        inside = 0
        feeding = 0
        intake = 0
        level = 0
        bait_level = 0
        leaders = 0
        gone = 0
        held = 0
        commands_under_way = 0
        pending = 0
        over = False
        alarmed = False
        closed_once = False
        energy = 0.0
        oldest = 0
        kept = 0
        events = 0
        finished = False
        settled = -1

        draw_early(early, seed, night)
        for s in range(n_sounders):
            sizes[s] = count_at(plan.size_cdf[s], uniform(seed, night, k.D_SIZE, s, 0))
            came[s] = 0
        sounder = -1
        party = 0
        start = 0.0
        offset = 0.0
        present = 0
        led = False
        for i in range(n_animals):
            s = plan.sounder_of[i]
            if plan.turn[i] >= sizes[s]:
                a[i, p.STATE] = k.GONE
                a[i, p.ABSENT] = 1
                gone += 1
                continue
            if s != sounder or plan.party_of[i] != party:
                if s != sounder:
                    sounder = s
                    start = draw(kinds, times, k.T_FIRST, seed, night, k.D_FIRST, s, 0)
                party = plan.party_of[i]
                offset = 0.0
                if party != 0:
                    who = s * k.PARTIES_A_SOUNDER + party
                    offset = draw(kinds, times, k.T_OFFSET, seed, night, k.D_OFFSET, who, 0)
            a[i, p.SHY] = 1 if early.v[i] < b[k.B_SHY] else 0  # E_SPREAD is the first purpose
            when = early_draw(early, E_SPREAD, n_animals, kinds, times, k.T_SPREAD, seed, night,
                              k.D_SPREAD, i, 0)  # fmt: skip
            when = start + offset + when
            led |= plan.leads[class_of[i]] != 0
            j = present
            present += 1
            while j > 0 and arrives_at[j - 1] > when:
                arrives_at[j] = arrives_at[j - 1]
                arrives[j] = arrives[j - 1]
                j -= 1
            arrives_at[j] = when
            arrives[j] = i
            a[i, p.STAY] = -1
            f[i, p.MASS] = -1.0
            f[i, p.FRAILTY] = -1.0
        put(agenda, arrival, arrives_at[0], k.ARRIVES, arrives[0])
        for o in range(n_openings):
            gate_f[o, p.LET_GO_AT] = _INF
            if opening[o, k.O_ONE_WAY] > 0.0:
                gate[o, p.GATE] = k.ONE_WAY
        head_at[bait] = plan.bait_marks[0]
        head_who[bait] = 0
        stir[bait] = 1
        put(agenda, check, b[k.B_CHECK], k.CHECKED, 0)
        put(
            agenda,
            false_release,
            draw(kinds, times, k.T_FALSE, seed, night, k.D_FALSE, 0, 0),
            k.FALSE_RELEASE,
            0,
        )
        for t in range(n_triggers):
            trig[t, p.SEEN_OF] = -1
            if trigger_kind[t] == k.PERSON:  # Triggers.rule_tonight
                for j in range(rule.shape[1]):
                    rule[t, j, 0] = plan.rule[t, j, 0]
                    rule[t, j, 1] = least_count(plan.rule[t, j, 1], plan.rule[t, j, 2], present)
            if trigger_kind[t] == k.BAIT:
                head_at[bucket + t] = draw(
                    own_kinds[t], own_times[t], k.X_BUCKET, seed, night, k.D_BUCKET, t, 0
                )
                head_who[bucket + t] = t
                stir[bucket + t] = 1

        now = 0.0
        while not finished:
            now, first_priority = take_next(agenda)
            rank = first_priority >> k.RANK_BITS
            i = first_priority & (k.RANK_STEP - 1)
            events += 1
            came_in = False
            went_out = False
            new_stay = False
            walks_from = -1.0
            ends_visit = False
            comes_to_opening = False
            sounds_alarm = False
            let_go = -1
            gets_out = -1

            # ---- the event itself ------------------------------------------------------------
            if rank == k.ARRIVES:
                arrived += 1
                new_stay = True
                if arrived < present:
                    put(agenda, arrival, arrives_at[arrived], k.ARRIVES, arrives[arrived])
                s = plan.sounder_of[i]
                if came[s] == 0:  # Night.sounder_comes
                    came[s] = 1
                    wait = draw(kinds, times, k.T_PATIENCE, seed, night, k.D_PATIENCE, s, 0)
                    put(agenda, visit_end, now + wait, k.VISIT_ENDS, 0)
                    if not alarmed and bait_level < k.SPENT:
                        over = False
                        level = bait_level
                if arrived == 1:
                    for t in range(n_triggers):  # Triggers.group_arrives
                        if (
                            trigger_kind[t] == k.PERSON
                            and uniform(seed, night, k.D_AWAKE, t, 0) < trigger[t, k.AWAKE_SHARE]
                        ):
                            wait = draw(
                                own_kinds[t], own_times[t], k.X_ALERT, seed, night, k.D_ALERT, t, 0
                            )
                            put(agenda, alert + t, now + wait, k.WATCHES, t)

            elif rank == k.TRIES:
                c = tempo_of[i]
                drop_clock(entry_at, c, i, c, tempo_of, head_at, head_who, stir)
                o = 0
                if n_openings > 1:
                    u = uniform(seed, night, k.D_CHOICE, i, a[i, p.STAY])
                    while o < n_openings - 1 and u >= opening[o, k.O_CHOICE]:
                        o += 1
                size_up(f[i], class_of[i], plan.mass, b, early, n_animals, i)
                if fits(f[i], opening[o], width[o], b):
                    if gate[o, p.GATE] != k.ONE_WAY or pushes_in(
                        f[i], opening[o], kinds, times, seed, night, i
                    ):
                        a[i, p.STATE] = k.WAIT_IN
                        join_queue(i, o, a, queue, gate, space_of(f[i], b[k.B_CLEARANCE]))
                    elif n_openings > 1:
                        new_stay = True

            elif rank == k.CROSSED:
                came_in = a[i, p.STATE] == k.CROSS_IN
                went_out = not came_in

            elif rank == k.TOUCHES:  # Night.crosses_line
                walks_from = f[i, p.LEG_TO]
                for t in range(n_triggers):
                    if (
                        trigger_kind[t] == k.LINE
                        and trigger[t, k.LINE_BEYOND] == 0.0
                        and trigger[t, k.LINE_SHARE] == walks_from
                    ):
                        force = touch_force(f[i], trigger[t], trig[t], kinds, times, seed, night, i)
                        if force == force:
                            fire(t, force, combine_all, trig, now, opening, delay_kind, delay,
                                 gate, agenda, moving, notes, seed, night)  # fmt: skip

            elif rank == k.REACHES:
                a[i, p.STATE] = k.AT_BAIT
                put(agenda, i, now + f[i, p.DWELL], k.FEEDS, i)

            elif rank == k.FEEDS:
                a[i, p.STATE] = k.FEEDING
                feeding += 1
                a[i, p.EATS] = math.floor(f[i, p.MASS] * b[k.B_INTAKE] + 0.5)
                intake += a[i, p.EATS]
                if any_beyond:  # Night.roaming_again
                    q = roaming + tempo_of[i]
                    x = early_draw(early, E_ROAM, n_animals, kinds, times, k.T_ROAM, seed, night,
                                   k.D_ROAM, i, a[i, p.ROAMS])  # fmt: skip
                    a[i, p.ROAMS] += 1
                    x = reading(t0[q], h0[q], speed[q], now) + x
                    join_clock(roam_at, q, i, x, head_at, head_who, stir)

            elif rank == k.PRESSES_ON:
                c = tempo_of[i]
                q = roaming + c
                drop_clock(roam_at, q, i, c, tempo_of, head_at, head_who, stir)
                for t in range(n_triggers):
                    if trigger_kind[t] == k.LINE and trigger[t, k.LINE_BEYOND] > 0.0:
                        force = touch_force(f[i], trigger[t], trig[t], kinds, times, seed, night, i)
                        if force == force:
                            fire(t, force, combine_all, trig, now, opening, delay_kind, delay,
                                 gate, agenda, moving, notes, seed, night)  # fmt: skip
                x = early_draw(early, E_ROAM, n_animals, kinds, times, k.T_ROAM, seed, night,
                               k.D_ROAM, i, a[i, p.ROAMS])  # fmt: skip
                a[i, p.ROAMS] += 1
                x = reading(t0[q], h0[q], speed[q], now) + x
                join_clock(roam_at, q, i, x, head_at, head_who, stir)

            elif rank == k.LEAVES:
                c = tempo_of[i]
                drop_clock(leave_at, leaving + c, i, c, tempo_of, head_at, head_who, stir)
                back = now - f[i, p.SINCE]
                if a[i, p.STATE] != k.WALK_IN:  # Night.walk_time
                    if kinds[k.T_TRAVEL] >= 0:
                        back = draw(
                            kinds, times, k.T_TRAVEL, seed, night, k.D_WALK_BACK, i, a[i, p.STAY]
                        )
                    else:
                        back = opening[a[i, p.AT], k.O_RUN] / b[k.B_WALK]
                if a[i, p.STATE] == k.FEEDING:
                    feeding -= 1
                    intake -= a[i, p.EATS]
                    drop_clock(roam_at, roaming + c, i, c, tempo_of, head_at, head_who, stir)
                a[i, p.STATE] = k.WALK_OUT
                f[i, p.LEG_STARTED] = now
                f[i, p.LEG_TIME] = back
                put(agenda, i, now + back, k.AT_OPENING, i)

            elif rank == k.AT_OPENING:
                comes_to_opening = True

            elif rank == k.BAIT_LEVEL:
                bait_level += 1
                if not over:
                    level = bait_level
                stir[bait] = 1
                if bait_level == k.SPENT:
                    head_at[bait] = _INF
                    ends_visit = True
                else:
                    head_at[bait] = plan.bait_marks[bait_level]

            elif rank == k.VISIT_ENDS:
                ends_visit = True

            elif rank == k.CALMED:
                oldest = (oldest + 1) % k.DEPARTURES_KEPT
                kept -= 1
                if kept > 0:
                    put(agenda, calm, departures[oldest], k.CALMED, 0)

            elif rank == k.BUCKET:
                head_at[bucket + i] = _INF
                stir[bucket + i] = 1
                fire(i, trigger[i, k.BUCKET_PULL_0 + level], combine_all, trig, now, opening,
                     delay_kind, delay, gate, agenda, moving, notes, seed, night)  # fmt: skip

            elif rank == k.DWELT:
                fire(i, -1.0, combine_all, trig, now, opening, delay_kind, delay,
                     gate, agenda, moving, notes, seed, night)  # fmt: skip

            elif rank == k.COMMAND:
                commands_under_way -= 1
                fire(i, -1.0, combine_all, trig, now, opening, delay_kind, delay,
                     gate, agenda, moving, notes, seed, night)  # fmt: skip

            elif rank == k.FALSE_RELEASE:
                pull(-1.0, now, opening, delay_kind, delay, gate, agenda, moving, notes,
                     seed, night)  # fmt: skip

            elif rank == k.WATCHES:
                trig[i, p.WATCHING] = 1
                began[i] = now
                put(agenda, refresh + i, now + trigger[i, k.REFRESH], k.REFRESHES, i)

            elif rank == k.REFRESHES:
                trig[i, p.SEEN_OF] = -1
                put(agenda, refresh + i, now + trigger[i, k.REFRESH], k.REFRESHES, i)

            elif rank == k.LOOKS:  # Triggers.decides: only a look that acts is played
                trig[i, p.DECIDED] = 1
                commands_under_way += 1
                cancel(agenda, refresh + i)
                wait = trigger[i, k.VIEW_DELAY] + draw(
                    own_kinds[i], own_times[i], k.X_REACTION, seed, night, k.D_REACTION, i, 0
                )
                lost = lost_commands(trigger[i, k.DROPOUT], seed, night, i)
                wait += (
                    draw(own_kinds[i], own_times[i], k.X_COMMAND, seed, night, k.D_COMMAND, i, 0)
                    + lost * trigger[i, k.RETRY]
                )
                put(agenda, command + i, now + wait, k.COMMAND, i)

            elif rank == k.MOVES:
                gate[i, p.MOVE_DUE] = 0
                if notes[1] != notes[1]:
                    notes[1] = now
                gate_f[i, p.GATE_SINCE] = now
                if uniform(seed, night, k.D_HANG, i, 0) < opening[i, k.O_HANG]:
                    gate[i, p.GATE] = k.HUNG
                else:
                    gate[i, p.GATE] = k.CLOSING
                    let_go = i
                sounds_alarm = not alarmed

            elif rank == k.STRUCK:
                o = a[i, p.AT]
                share = need(f[i], opening[o], b)
                if gate_f[o, p.LET_GO_AT] == _INF:
                    hit = look_up(plan.close_energy[o], share)
                else:
                    hit = look_up_from(plan.rest_energy[o], gate_f[o, p.LET_GO_AT], share)
                a[i, p.HURT] = 1
                energy = max(energy, hit)
                gate[o, p.GATE] = k.PROPPED
                gate[o, p.PROPPED_BY] = i
                gate_f[o, p.LET_GO_AT] = share
                cancel(agenda, shutting + o)
                for j in range(n_animals):
                    if (
                        j != i
                        and a[j, p.AT] == o
                        and (a[j, p.STATE] == k.CROSS_IN or a[j, p.STATE] == k.CROSS_OUT)
                    ):
                        put(agenda, j, f[j, p.ENDS], k.CROSSED, j)
                wait = draw(kinds, times, k.T_PROP, seed, night, k.D_PROP, i, 0)
                put(agenda, prop + o, now + wait, k.PROP_ENDS, o)

            elif rank == k.PROP_ENDS:
                let_go = i
                gate[i, p.GATE] = k.CLOSING
                gate_f[i, p.GATE_SINCE] = now
                i = gate[i, p.PROPPED_BY]
                onward = uniform(seed, night, k.D_STRUCK_OUT, i, 0) < b[k.B_OUT]
                came_in = (a[i, p.STATE] == k.CROSS_IN) == onward
                went_out = not came_in

            elif rank == k.SHUT:
                gate[i, p.GATE] = k.CLOSED
                closed_once = True
                stays_open = False
                for o in range(n_openings):
                    stays_open |= gate[o, p.GATE] == k.OPEN or gate[o, p.GATE] == k.HUNG
                for j in range(gate[i, p.QUEUED]):
                    who = queue[i, j]
                    a[who, p.STATE] = k.STILL
                    if stays_open:  # Night.lingers
                        a[who, p.STAY] += 1
                        q = leaving + tempo_of[who]
                        x = draw(
                            kinds, times, k.T_LEAVE, seed, night, k.D_LINGER, who, a[who, p.STAY]
                        )
                        x = reading(t0[q], h0[q], speed[q], now) + x
                        join_clock(leave_at, q, who, x, head_at, head_who, stir)
                gate[i, p.QUEUED] = 0
                if holds(gate):  # Night.captives_begin
                    for j in range(n_animals):
                        state = a[j, p.STATE]
                        if is_inside(state):
                            pending += captive(
                                agenda, breakout + j, j, f[j], exit_force, b, kinds, times, early,
                                n_animals, now, seed, night,
                            )  # fmt: skip

            elif rank == k.COMES_BACK:
                pending -= 1
                o = 0  # Gatehouse.late_entrance
                size_up(f[i], class_of[i], plan.mass, b, early, n_animals, i)
                while o < n_openings and not (
                    gate[o, p.GATE] == k.ONE_WAY
                    and fits(f[i], opening[o], width[o], b)
                    and push_of(f[i, p.MASS], kinds, times, seed, night, i) >= opening[o, k.O_PUSH]
                ):
                    o += 1
                if o == n_openings:
                    a[i, p.STATE] = k.GONE
                    gone += 1
                else:
                    a[i, p.STATE] = k.WAIT_IN
                    join_queue(i, o, a, queue, gate, space_of(f[i], b[k.B_CLEARANCE]))

            elif rank == k.BREAKS_OUT:
                pending -= 1
                gets_out = i

            else:  # the trap check
                finished = True

            # ---- Gatehouse.leave_opening, Night.came_in, Night.went_out -----------------------
            lingers = False
            if came_in or went_out:
                o = a[i, p.AT]
                gate[o, p.OCCUPIED] -= a[i, p.SPACE]
                gate[o, p.STIRRED] = 1
                if any_counter:  # Triggers.counted
                    if came_in:
                        u = early_uniform(early, E_COUNT, n_animals, seed, night, k.D_COUNT_IN, i,
                                          a[i, p.STAY])  # fmt: skip
                    else:
                        u = uniform(seed, night, k.D_COUNT_OUT, i, a[i, p.STAY])
                    for t in range(n_triggers):
                        if trigger_kind[t] == k.COUNTER:
                            if u >= trigger[t, k.COUNT_MISS]:
                                step = 2 if u >= 1.0 - trigger[t, k.COUNT_DOUBLE] else 1
                                trig[t, p.COUNT] += step if came_in else -step
                            if (
                                trig[t, p.COUNT] >= trigger[t, k.COUNT_NEEDED]
                                and trig[t, p.FIRED] == 0
                            ):
                                fire(t, -1.0, combine_all, trig, now, opening, delay_kind, delay,
                                     gate, agenda, moving, notes, seed, night)  # fmt: skip
                            elif trig[t, p.COUNT] < 1:
                                trig[t, p.DECIDED] = 0
                                cancel(agenda, dwell + t)
                            elif trig[t, p.DECIDED] == 0:
                                trig[t, p.DECIDED] = 1
                                put(agenda, dwell + t, now + trigger[t, k.COUNT_DWELL], k.DWELT, t)
                if came_in:
                    inside += 1
                    leaders += plan.leads[class_of[i]]
                    a[i, p.ENTERED] = 1
                    if gate[o, p.GATE] == k.ONE_WAY and inside > 1:  # Night.made_way_for_others
                        u, v = uniform_pair(seed, night, k.D_SLIP, i, a[i, p.STAY])
                        if u < b[k.B_SLIP]:
                            pick = 0
                            for j in range(n_animals):
                                state = a[j, p.STATE]
                                if is_inside(state):
                                    pick += 1
                            pick = int(v * pick)
                            for j in range(n_animals):
                                state = a[j, p.STATE]
                                if is_inside(state):
                                    if pick == 0:
                                        gets_out = j
                                    pick -= 1
                            if is_due(agenda, breakout + gets_out):
                                cancel(agenda, breakout + gets_out)
                                pending -= 1
                    if holds(gate):
                        pending += captive(agenda, breakout + i, i, f[i], exit_force, b, kinds,
                                           times, early, n_animals, now, seed, night)  # fmt: skip
                    if alarmed:
                        lingers = True
                    else:
                        j = 2 * a[i, p.STAY]
                        x = early_draw(early, E_STAY, n_animals, kinds, times, k.T_LEAVE, seed,
                                       night, k.D_STAY, i, j)  # fmt: skip
                        f[i, p.DWELL] = early_draw(
                            early, E_STAY, n_animals, kinds, times, k.T_DWELL, seed, night,
                            k.D_STAY, i, j + 1,
                        )  # fmt: skip
                        q = leaving + tempo_of[i]
                        x = reading(t0[q], h0[q], speed[q], now) + x
                        join_clock(leave_at, q, i, x, head_at, head_who, stir)
                        a[i, p.STATE] = k.WALK_IN
                        f[i, p.SINCE] = now
                        f[i, p.LEG_STARTED] = now
                        if kinds[k.T_TRAVEL] >= 0:
                            f[i, p.LEG_TIME] = draw(
                                kinds, times, k.T_TRAVEL, seed, night, k.D_TRAVEL, i, a[i, p.STAY]
                            )
                        else:
                            f[i, p.LEG_TIME] = opening[o, k.O_RUN] / b[k.B_WALK]
                        walks_from = 0.0
                else:
                    back_again = False
                    if not alarmed:
                        if kept < k.DEPARTURES_KEPT:
                            end = (oldest + kept) % k.DEPARTURES_KEPT
                            departures[end] = now + b[k.B_WINDOW]
                            kept += 1
                            if kept == 1:
                                put(agenda, calm, departures[end], k.CALMED, 0)
                        u = early_uniform(early, E_RETURN, n_animals, seed, night, k.D_RETURN, i,
                                          a[i, p.STAY])  # fmt: skip
                        back_again = u < b[k.B_RETURN]
                    if back_again:
                        new_stay = True
                    else:
                        a[i, p.STATE] = k.GONE
                        gone += 1

            if new_stay:  # Night.outside
                a[i, p.STAY] += 1
                if over:
                    a[i, p.STATE] = k.GONE
                    gone += 1
                else:
                    a[i, p.STATE] = k.OUTSIDE
                    if a[i, p.SHY] == 0:
                        q = tempo_of[i]
                        x = early_draw(early, E_ENTRY, n_animals, kinds, times, k.T_ENTRY, seed,
                                       night, k.D_ENTRY, i, a[i, p.STAY])  # fmt: skip
                        if f[i, p.FRAILTY] < 0.0:
                            f[i, p.FRAILTY] = early_frailty(
                                early, n_animals, kinds[k.T_FRAILTY], times[k.T_FRAILTY, 0],
                                times[k.T_FRAILTY, 1], seed, night, i,
                            )  # fmt: skip
                        x = reading(t0[q], h0[q], speed[q], now) + x / f[i, p.FRAILTY]
                        join_clock(entry_at, q, i, x, head_at, head_who, stir)

            if walks_from >= 0.0:  # Night.walks_to
                to = 1.0
                touches = False
                for t in range(n_triggers):
                    if trigger_kind[t] == k.LINE and trigger[t, k.LINE_BEYOND] == 0.0:
                        at = trigger[t, k.LINE_SHARE]
                        if walks_from < at and (at < to or (at == to and not touches)):
                            to = at
                            touches = True
                f[i, p.LEG_TO] = to
                put(
                    agenda,
                    i,
                    f[i, p.LEG_STARTED] + f[i, p.LEG_TIME] * to,
                    (k.TOUCHES if touches else k.REACHES),
                    i,
                )

            if comes_to_opening:
                o = a[i, p.AT]
                if gate[o, p.GATE] == k.CLOSED or gate[o, p.GATE] == k.ONE_WAY:
                    o = 0  # Gatehouse.way_out
                    while o < n_openings and (
                        gate[o, p.GATE] == k.CLOSED or gate[o, p.GATE] == k.ONE_WAY
                    ):
                        o += 1
                if o == n_openings:
                    lingers = True
                else:
                    a[i, p.STATE] = k.WAIT_OUT
                    factor = b[k.B_BOLT_CLEARANCE] if a[i, p.BOLTS] != 0 else b[k.B_CLEARANCE]
                    join_queue(i, o, a, queue, gate, space_of(f[i], factor))

            if lingers:
                a[i, p.STATE] = k.STILL
                stays_open = False
                for o in range(n_openings):
                    stays_open |= gate[o, p.GATE] == k.OPEN or gate[o, p.GATE] == k.HUNG
                if stays_open:
                    a[i, p.STAY] += 1
                    q = leaving + tempo_of[i]
                    x = draw(kinds, times, k.T_LEAVE, seed, night, k.D_LINGER, i, a[i, p.STAY])
                    x = reading(t0[q], h0[q], speed[q], now) + x
                    join_clock(leave_at, q, i, x, head_at, head_who, stir)

            if gets_out >= 0:  # Night.gets_out
                j = gets_out
                c = tempo_of[j]
                if a[j, p.STATE] == k.FEEDING:
                    feeding -= 1
                    intake -= a[j, p.EATS]
                    if roam_at[j] < _INF:
                        drop_clock(roam_at, roaming + c, j, c, tempo_of, head_at, head_who, stir)
                if a[j, p.STATE] == k.WAIT_OUT:
                    leave_queue(j, a[j, p.AT], queue, gate)
                if leave_at[j] < _INF:
                    drop_clock(leave_at, leaving + c, j, c, tempo_of, head_at, head_who, stir)
                cancel(agenda, j)
                a[j, p.BROKE_OUT] = 1
                a[j, p.STATE] = k.GONE
                inside -= 1
                leaders -= plan.leads[class_of[j]]
                gone += 1

            # ---- Night.visit_ends, Night.alarm ------------------------------------------------
            if sounds_alarm:
                alarmed = True
                held = inside
                for j in range(n_animals):
                    state = a[j, p.STATE]
                    if state != k.AWAY and state != k.GONE:
                        a[j, p.WITNESS] = 1
                    if is_inside(state):
                        a[j, p.HELD] = 1
            if sounds_alarm or (ends_visit and not over):
                over = True
                level = k.SPENT
                for j in range(n_animals):  # Night.dismiss
                    if a[j, p.STATE] == k.OUTSIDE or a[j, p.STATE] == k.WAIT_IN:
                        if a[j, p.STATE] == k.OUTSIDE:
                            if entry_at[j] < _INF:
                                c = tempo_of[j]
                                drop_clock(entry_at, c, j, c, tempo_of, head_at, head_who, stir)
                        else:
                            leave_queue(j, a[j, p.AT], queue, gate)
                        late = False
                        if alarmed and late_share > 0.0:
                            late = early.u[E_LATE * n_animals + j] < late_share
                        if late:
                            wait = early_draw(early, E_LATE, n_animals, kinds, times, k.T_LATE,
                                              seed, night, k.D_LATE, j, 1)  # fmt: skip
                            pending += 1
                            a[j, p.STATE] = k.FLED
                            put(agenda, j, now + wait, k.COMES_BACK, j)
                        else:
                            a[j, p.STATE] = k.GONE
                            gone += 1
            if sounds_alarm:
                for j in range(n_animals):
                    state = a[j, p.STATE]
                    if is_inside(state):
                        c = tempo_of[j]
                        run = opening[a[j, p.AT], k.O_RUN]  # Night.from_opening
                        if state == k.WAIT_OUT:
                            run = 0.0
                        elif (state == k.WALK_IN or state == k.WALK_OUT) and f[j, p.LEG_TIME] > 0.0:
                            share = (now - f[j, p.LEG_STARTED]) / f[j, p.LEG_TIME]
                            run = run * share if state == k.WALK_IN else run * (1.0 - share)
                        if state == k.FEEDING:
                            feeding -= 1
                            intake -= a[j, p.EATS]
                            if roam_at[j] < _INF:
                                drop_clock(
                                    roam_at, roaming + c, j, c, tempo_of, head_at, head_who, stir
                                )
                        if state == k.WAIT_OUT:
                            leave_queue(j, a[j, p.AT], queue, gate)
                        cancel(agenda, j)
                        if early.u[E_BOLT * n_animals + j] >= b[k.B_BOLT]:
                            a[j, p.STATE] = k.STILL
                        else:
                            a[j, p.STATE] = k.BOLTING
                            a[j, p.BOLTS] = 1
                            if leave_at[j] < _INF:
                                drop_clock(
                                    leave_at, leaving + c, j, c, tempo_of, head_at, head_who, stir
                                )
                            wait = early_draw(early, E_BOLT, n_animals, kinds, times, k.T_BOLT,
                                              seed, night, k.D_BOLT, j, 1)  # fmt: skip
                            put(agenda, j, now + (wait + run / b[k.B_RUN]), k.AT_OPENING, j)
                    elif state == k.CROSS_IN and uniform(seed, night, k.D_TURN, j, 0) < b[k.B_TURN]:
                        a[j, p.STATE] = k.CROSS_OUT
                        f[j, p.ENDS] = now + (now - f[j, p.BEGAN])
                        put(agenda, j, f[j, p.ENDS], k.CROSSED, j)
                        o = a[j, p.AT]
                        if gate[o, p.GATE] == k.CLOSING:
                            hit = passable_until(
                                need(f[j], opening[o], b), gate_f[o], plan.close_time[o],
                                plan.rest_time[o],
                            )  # fmt: skip
                            if hit < f[j, p.ENDS]:
                                put(agenda, j, max(hit, now), k.STRUCK, j)

            if let_go >= 0:  # Gatehouse.let_go
                o = let_go
                hit = passable_until(0.0, gate_f[o], plan.close_time[o], plan.rest_time[o])
                put(agenda, shutting + o, hit, k.SHUT, o)
                for j in range(n_animals):
                    if a[j, p.AT] == o and (
                        a[j, p.STATE] == k.CROSS_IN or a[j, p.STATE] == k.CROSS_OUT
                    ):
                        hit = passable_until(
                            need(f[j], opening[o], b), gate_f[o], plan.close_time[o],
                            plan.rest_time[o],
                        )  # fmt: skip
                        if hit < f[j, p.ENDS]:
                            put(agenda, j, max(hit, now), k.STRUCK, j)
                        else:
                            put(agenda, j, f[j, p.ENDS], k.CROSSED, j)

            # ---- Gatehouse.grant_room ---------------------------------------------------------
            for o in range(n_openings):
                if gate[o, p.STIRRED] == 0:
                    continue
                gate[o, p.STIRRED] = 0
                blocked = False
                waiting = gate[o, p.QUEUED]
                left = 0
                for j in range(waiting):
                    who = queue[o, j]
                    c = class_of[who]
                    state = gate[o, p.GATE]
                    until = _INF
                    if state == k.CLOSING:
                        until = passable_until(
                            need(f[who], opening[o], b), gate_f[o], plan.close_time[o],
                            plan.rest_time[o],
                        )  # fmt: skip
                        passable = now < until
                    elif state == k.PROPPED:
                        passable = need(f[who], opening[o], b) < gate_f[o, p.LET_GO_AT]
                    elif state == k.ONE_WAY:
                        passable = a[who, p.STATE] == k.WAIT_IN
                    else:
                        passable = state != k.CLOSED
                    taken = gate[o, p.OCCUPIED]
                    room = taken == 0 or taken + a[who, p.SPACE] <= width[o]
                    if not passable:  # Night.lingers
                        a[who, p.STATE] = k.STILL
                        stays_open = False
                        for o2 in range(n_openings):
                            stays_open |= gate[o2, p.GATE] == k.OPEN or gate[o2, p.GATE] == k.HUNG
                        if stays_open:
                            a[who, p.STAY] += 1
                            q = leaving + tempo_of[who]
                            x = draw(
                                kinds, times, k.T_LEAVE, seed, night, k.D_LINGER, who,
                                a[who, p.STAY],
                            )  # fmt: skip
                            x = reading(t0[q], h0[q], speed[q], now) + x
                            join_clock(leave_at, q, who, x, head_at, head_who, stir)
                    elif room and (not blocked or plan.small[c] != 0):
                        # Gatehouse.step_through, Gatehouse.crossing_time
                        gate[o, p.OCCUPIED] += a[who, p.SPACE]
                        inward = a[who, p.STATE] == k.WAIT_IN
                        if inward:
                            a[who, p.STATE] = k.CROSS_IN
                        else:
                            inside -= 1
                            leaders -= plan.leads[c]
                            a[who, p.STATE] = k.CROSS_OUT
                        if kinds[k.T_CROSS] >= 0:
                            took = draw(
                                kinds, times, k.T_CROSS, seed, night,
                                k.D_CROSS_IN if inward else k.D_CROSS_OUT, who, a[who, p.STAY],
                            )  # fmt: skip
                        else:
                            pace = b[k.B_RUN] if a[who, p.BOLTS] != 0 else b[k.B_CROSS]
                            took = (opening[o, k.O_DEPTH] + f[who, p.LENGTH]) / pace
                        if a[who, p.WAITED] != 0:
                            took += draw(
                                kinds, times, k.T_HEADWAY, seed, night,
                                k.D_HEAD_IN if inward else k.D_HEAD_OUT, who, a[who, p.STAY],
                            )  # fmt: skip
                        f[who, p.BEGAN] = now
                        f[who, p.ENDS] = now + took
                        if until < f[who, p.ENDS]:
                            put(agenda, who, max(until, now), k.STRUCK, who)
                        else:
                            put(agenda, who, f[who, p.ENDS], k.CROSSED, who)
                    else:
                        a[who, p.WAITED] = 1
                        blocked = True
                        queue[o, left] = who
                        left += 1
                gate[o, p.QUEUED] = left

            # ---- Night.settle -----------------------------------------------------------------
            recent = min(kept, n_depart - 1)
            lead = 1 if leaders > 0 or not led else 0
            state_now = (((lead * 1024 + inside) * 8 + level) * 8 + recent) * 2 + (1 if over else 0)
            if state_now != settled or stir[n_clocks] != 0:
                settled = state_now
                for q in range(n_tempos):
                    pace = 0.0 if over else plan.entry_speed[q, lead, inside, level]
                    settle(agenda, n_animals, q, pace, k.TRIES, now, t0, h0, speed, head_at,
                           head_who, stir)  # fmt: skip
                    pace = plan.leave_speed[q, inside, level, recent]
                    settle(agenda, n_animals, leaving + q, pace, k.LEAVES, now, t0, h0, speed,
                           head_at, head_who, stir)  # fmt: skip
            if any_beyond:
                for q in range(n_tempos):
                    settle(agenda, n_animals, roaming + q, plan.roam_speed[q, feeding],
                           k.PRESSES_ON, now, t0, h0, speed, head_at, head_who, stir)  # fmt: skip
            settle(agenda, n_animals, bait, float(intake), k.BAIT_LEVEL, now, t0, h0, speed,
                   head_at, head_who, stir)  # fmt: skip
            if any_bucket:
                for t in range(n_triggers):
                    if trigger_kind[t] == k.BAIT:
                        settle(agenda, n_animals, bucket + t, plan.bucket_speed[t, feeding, level],
                               k.BUCKET, now, t0, h0, speed, head_at, head_who, stir)  # fmt: skip
            stir[n_clocks] = 0

            if any_person:  # Triggers.settle, and the looks that the reference plays one by one
                unblocked = True
                for o in range(n_openings):
                    unblocked &= gate[o, p.OCCUPIED] == 0
                for t in range(n_triggers):
                    if trig[t, p.WATCHING] == 0 or trig[t, p.DECIDED] != 0:
                        continue
                    count_on_screen(trigger[t], trig[t], plan.seen_cdf[t], inside, seed, night, t)
                    when = _INF
                    if unblocked or trigger[t, k.SEE_CLEAR] == 0.0:
                        seen = trig[t, p.SEEN]
                        frame = trigger[t, k.FRAME]
                        if frame > 0.0:
                            when = acting_look(rule[t], seen, began[t], frame, now)
                        else:
                            when = release_from(rule[t], seen, began[t], now)
                    put(agenda, look + t, when, k.LOOKS, t)

            # ---- is the night over? -----------------------------------------------------------
            if alarmed or gone == n_animals:
                in_motion = commands_under_way > 0
                crossing = False
                for o in range(n_openings):
                    state = gate[o, p.GATE]
                    crossing |= gate[o, p.OCCUPIED] != 0
                    in_motion |= gate[o, p.MOVE_DUE] != 0
                    in_motion |= state == k.CLOSING or state == k.PROPPED
                if alarmed and holds(gate):
                    finished |= pending == 0 and not crossing
                elif gone == n_animals:
                    finished |= not in_motion

        # ---- tally ---------------------------------------------------------------------------
        shut = holds(gate)
        caught = 0
        before = 0
        during = 0
        after = 0
        never = 0
        educated = 0
        struck = 0
        for i in range(n_animals):
            state = a[i, p.STATE]
            if a[i, p.ABSENT] != 0:
                continue
            struck += a[i, p.HURT]
            if shut and (is_inside(state)):
                caught += 1
                continue
            educated += a[i, p.WITNESS]
            if a[i, p.BROKE_OUT] != 0:
                after += 1
            elif a[i, p.HELD] != 0:
                during += 1
            elif a[i, p.ENTERED] != 0:
                before += 1
            else:
                never += 1
        until = now if notes[1] != notes[1] else notes[1]
        watched = 0.0
        for t in range(n_triggers):
            if trig[t, p.WATCHING] != 0 and until > began[t]:
                watched += until - began[t]
        whole[row, R_ARRIVED] = arrived
        whole[row, R_RELEASED] = 1 if closed_once else 0
        whole[row, R_HELD] = held
        whole[row, R_CAUGHT] = caught
        whole[row, R_BEFORE] = before
        whole[row, R_DURING] = during
        whole[row, R_AFTER] = after
        whole[row, R_NEVER] = never
        whole[row, R_EDUCATED] = educated
        whole[row, R_STRUCK] = struck
        whole[row, R_EVENTS] = events
        whole[row, R_GROUP] = present
        real[row, R_RELEASE_S] = notes[0] if notes[1] != notes[1] else notes[1]
        real[row, R_ENERGY] = energy
        real[row, R_OPERATOR] = watched / 60.0
        real[row, R_NIGHT_S] = now
