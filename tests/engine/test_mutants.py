"""The twin nights notice what they are there for: one deliberate fault at a time in the reference.

Each fault is a way in which the two engines could drift apart unseen. It must make some night of
the named scenario differ from the batch engine's; without the fault `test_twin` finds them equal.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from soundergate.engine import codes as k
from soundergate.engine import play
from soundergate.engine.kernel.batch import play_counted
from soundergate.engine.place.ways import side_of
from soundergate.engine.reference.agenda import Clock, NightEnvironment, Timer
from soundergate.engine.reference.captives import Captives
from soundergate.engine.reference.ground import Ground
from soundergate.engine.reference.night import Night
from soundergate.engine.reference.onlookers import Onlookers
from soundergate.engine.reference.openings import Gatehouse
from soundergate.engine.reference.startle import Startle
from soundergate.engine.reference.triggers import Triggers
from soundergate.engine.rules.clocks import reading

SEED = 20260103
"""That of `test_twin`, so that the unharmed engine is known to agree on these very nights."""

MUTANTS: list[tuple[str, str, type, str, Callable[..., Any]]] = []


def mutant(night: str, owner: type, method: str) -> Callable[..., Any]:
    """Register a faulty method, which is given the right one first; ``night`` must catch it."""

    def register(faulty: Callable[..., Any]) -> Callable[..., Any]:
        MUTANTS.append((faulty.__name__, night, owner, method, faulty))
        return faulty

    return register


# ---- the opening ---------------------------------------------------------------------------


@mutant("forty through a gap one body wide", Gatehouse, "join")
def last_come_first_served(right, self, i, o):
    right(self, i, o)
    self.queue[o].insert(0, self.queue[o].pop())


@mutant("crossings and walks that are drawn", Gatehouse, "crossing_time")
def an_exit_takes_the_luck_of_an_entry(right, self, i, o, inward):
    return right(self, i, o, True)


@mutant("forty through a gap one body wide", Gatehouse, "step_through")
def nobody_keeps_a_headway(right, self, i, o):
    self.waited[i] = False
    right(self, i, o)


@mutant("ninety-six animals", Gatehouse, "grant")
def nobody_slips_past_a_blocked_head(right, self, o):
    small, self.facts.small = self.facts.small, [0] * len(self.facts.small)
    right(self, o)
    self.facts.small = small


@mutant("forty through a gap one body wide", Gatehouse, "leave_opening")
def room_that_came_free_is_not_granted_at_once(right, self, i, o, inward):
    right(self, i, o, inward)
    self.room_may_be_free[o] = False


@mutant("forty through a gap one body wide", Gatehouse, "forget")
def a_bolter_keeps_its_place_in_the_queue(right, self, i):
    if self.night.state[i] != k.WAIT_OUT:
        right(self, i)


# ---- the gate ------------------------------------------------------------------------------


@mutant("struck under a slow gate", Gatehouse, "prop_ends")
def a_propped_gate_falls_from_the_top_again(right, self, o):
    self.let_go_at[o] = math.inf
    right(self, o)


@mutant("struck under a slow gate", Gatehouse, "prop_ends")
def a_struck_animal_goes_the_way_it_was_going(right, self, o):
    i = self.propped_by[o]
    leave = self.leave_opening
    onward = self.night.chance(k.D_STRUCK_OUT, i, 0) < self.facts.behaviour.out_share
    self.leave_opening = lambda i, o, inward: leave(
        i, o, (self.night.state[i] == k.CROSS_IN) == onward
    )
    right(self, o)
    self.leave_opening = leave


@mutant("forty through a gap one body wide", Startle, "startled")
def one_that_was_leaving_and_froze_stays(right, self, i):
    self.night.may_leave_later = lambda j: None
    right(self, i)
    del self.night.may_leave_later


@mutant("late entry by a one-way entrance beside a gate", Captives, "gets_out")
def one_that_slips_out_of_an_open_trap_has_broken_out(right, self, i, way, by=None):
    right(self, i, way, by)
    self.broke_out[i] = True


@mutant("three sounders in one night", Night, "arrive")
def only_those_came_that_came_before_the_night_ended(right, self, i):
    self.arrived = self.__dict__.setdefault("so_far", 0) + 1
    self.so_far = self.arrived
    right(self, i)


@mutant("struck under a slow gate", Gatehouse, "turn_back")
def nobody_turns_back(right, self, i):
    pass


@mutant("two openings that close apart", Night, "lingers")
def the_frozen_never_leave_by_the_other_gate(right, self, i):
    self.state[i] = k.STILL


@mutant("struck under a slow gate", Ground, "where")
def all_bolt_from_the_bait(right, self, i):
    return self.facts.patches[0][:2]


@mutant("forty through a gap one body wide", Night, "outside")
def a_tight_opening_puts_nobody_off(right, self, i):
    self.bodies.ease = lambda i, o: 1.0
    right(self, i)


# ---- where they are --------------------------------------------------------------------------


@mutant("a second gate behind the line", Ground, "way_out")
def all_leave_by_the_way_they_came(right, self, i):
    return self.night.at[i]


@mutant("a second gate behind the line", Night, "way_in")
def nobody_goes_where_a_companion_went(right, self, i):
    return self.mouth[i]


@mutant("a second gate behind the line", Night, "arrive")
def each_of_a_subgroup_finds_its_own_way(right, self, i):
    party, self.facts.party_of[i] = self.facts.party_of[i], i
    right(self, i)
    self.facts.party_of[i] = party


@mutant("a line met on the way out", Night, "heads_for")
def nothing_is_met_on_the_way_out(right, self, i, o, takes, after=0.0):
    lines, self.ground.lines = self.ground.lines, []
    right(self, i, o, takes, after)
    self.ground.lines = lines


@mutant("a line where outings go, passed by the short", Ground, "waits_for")
def who_meets_nothing_soon_never_does(right, self, i, number, since, meeting, when):
    right(self, i, number, since, meeting, when if meeting < math.inf else math.inf)


@mutant("round a stake on the way in, against the line on the way out", Ground, "sides_now")
def one_that_went_round_a_stake_is_still_on_this_side(right, self, i):
    met = [self.meets(i, t, self.way[i]) < math.inf for t in range(len(self.facts.triggers))]
    turned = zip(right(self, i), self.side[i], met, strict=True)
    return [side if touched else before for side, before, touched in turned]


@mutant("no room at the bait for all", Ground, "finds_room")
def there_is_always_room(right, self, i):
    self.taken[self.goal[i]] = 0
    return right(self, i)


@mutant("no room at the bait for all", Ground, "gives_up_its_place")
def a_place_is_never_free_again(right, self, i):
    pass


@mutant("no room at the bait for all", Ground, "seek")
def one_that_tries_again_goes_to_the_same_place(right, self, i):
    seeks, self.seeks[i] = self.seeks[i], 0
    found = right(self, i)
    self.seeks[i] = seeks
    return found


@mutant("those who bolt do so from where they are", Ground, "outing_now")
def all_bolt_from_their_place_at_the_bait(right, self, i):
    return None, 0.0


@mutant("gate hangs or latch holds", Gatehouse, "moves")
def a_hanging_gate_alarms_nobody(right, self, o):
    alarm = self.night.alarm
    hangs = self.night.chance(k.D_HANG, o, 0) < self.facts.openings[o].hang_probability
    if hangs:
        self.night.alarm = lambda: None
    right(self, o)
    self.night.alarm = alarm


@mutant("weak air and a finger that may slip", Gatehouse, "latch_lets_go")
def a_latch_needs_no_less_for_its_own_turn(right, self, o, force, by):
    row = self.facts.openings[o]
    self.facts.openings[o] = row._replace(need_steady=0.0)
    freed = right(self, o, force, by)
    self.facts.openings[o] = row
    return freed


@mutant("weak air and a finger that may slip", Gatehouse, "latch_lets_go")
def seals_scatter_with_the_supply(right, self, o, force, by):
    row = self.facts.openings[o]
    pull_mu = math.log(math.exp(row.pull_mu) + row.pull_steady)
    self.facts.openings[o] = row._replace(pull_mu=pull_mu, pull_steady=0.0)
    freed = right(self, o, force, by)
    self.facts.openings[o] = row
    return freed


# ---- captives, one-way entrances -----------------------------------------------------------


@mutant("captives climb low panels or root under them", Night, "captive")
def a_captive_is_waited_for_twice(right, self, i):
    right(self, i)
    self.captives.pending += self.captives.due[i] < math.inf


@mutant("captives climb low panels or root under them", Gatehouse, "exit_force")
def a_locked_gate_can_be_opened(right, self):
    return 0.0


@mutant("late entry by a one-way entrance beside a gate", Night, "captives_begin")
def those_inside_at_the_closing_never_break_out(right, self):
    pass


@mutant("late entry by a one-way entrance beside a gate", Night, "came_in")
def a_late_comer_is_no_captive(right, self, i):
    self.captive = lambda j: None
    right(self, i)
    del self.captive


HOLES = "others follow by a hole, while it is there"
GATES = "others follow by a gate, before it falls shut"
SHUT_IN = "one that comes back is shut in with a hole"


@mutant(HOLES, Captives, "may_follow")
def a_large_pig_takes_a_small_pig_s_hole(right, self, j, way):
    shoulder, self.night.bodies.shoulder = self.night.bodies.shoulder, lambda i: 1.0
    right(self, j, way)
    self.night.bodies.shoulder = shoulder


@mutant(HOLES, Captives, "may_follow")
def a_hole_stays_for_ever(right, self, j, way):
    right(self, j, way._replace(until=math.inf))


@mutant(GATES, Captives, "may_follow")
def a_gate_stays_up_for_ever(right, self, j, way):
    right(self, j, way._replace(until=math.inf))


@mutant(HOLES, Captives, "may_follow")
def one_luck_for_every_way(right, self, j, way):
    draw = self.night.draw
    self.night.draw = lambda row, purpose, who, count: draw(row, purpose, who, 0)
    right(self, j, way)
    self.night.draw = draw


@mutant(HOLES, Captives, "breaks_out")
def one_that_follows_leaves_a_hole_of_its_own(right, self, i):
    if self.way[i] == k.BY_HOLE:
        self.way[i] = k.BY_ROOTING
    right(self, i)


@mutant("captives climb low panels or root under them", Captives, "breaks_out")
def one_that_climbs_out_leaves_a_way(right, self, i):
    if self.way[i] == k.BY_CLIMBING:
        self.way[i] = k.BY_ROOTING
    right(self, i)


@mutant(HOLES, Captives, "gets_out_at")
def the_last_way_counts_and_not_the_first(right, self, i, when, way):
    if self.due[i] < math.inf:
        self.pending -= 1
        self.due[i] = math.inf
    right(self, i, when, way)


@mutant(SHUT_IN, Captives, "hold")
def one_that_comes_later_knows_of_no_hole(right, self, i):
    way, self.way_out = self.way_out, None
    right(self, i)
    self.way_out = way


@mutant(SHUT_IN, Captives, "opens_way")
def one_that_comes_later_knows_the_last_hole_alone(right, self, i, stays, how):
    self.way_out = None
    right(self, i, stays, how)


@mutant("locks that may not catch", Gatehouse, "lock_fails")
def a_lock_never_fails(right, self, o):
    return self.facts.openings[o].lock_fails >= 1.0


@mutant("locks that may not catch", Gatehouse, "lock_fails")
def locks_fail_together(right, self, o):
    return self.night.chance(k.D_HANG, 0, 1) < self.facts.openings[o].lock_fails


# ---- those outside -------------------------------------------------------------------------

BACK = "back through a gate that hangs"
FALLS = "back at the second gate as it falls"


@mutant(BACK, Onlookers, "stays_near")
def those_outside_are_gone_at_once(right, self, i):
    self.night.goes_away(i)


@mutant(BACK, Onlookers, "will_look")
def nobody_comes_back_once_more_as_it_goes(right, self, i):
    """It goes instead, at the same time."""
    step = self.night.by
    self.night.by = lambda i, when, rank, comes: step(
        i, when, rank, self.night.goes_away if when == self.near_until[i] else comes
    )
    right(self, i)
    self.night.by = step


@mutant(BACK, Onlookers, "comes_back")
def who_comes_back_in_vain_has_seen_enough(right, self, i):
    self.near_until[i] = self.night.env.now
    right(self, i)


@mutant(BACK, Onlookers, "way_in")
def the_shy_come_in_too(right, self, i):
    self.night.is_wary = lambda j: False
    o = right(self, i)
    del self.night.is_wary
    return o


@mutant(BACK, Onlookers, "way_in")
def every_return_has_the_same_luck(right, self, i):
    looks, self.looks[i] = self.looks[i], 0
    o = right(self, i)
    self.looks[i] = looks
    return o


@mutant(SHUT_IN, Onlookers, "way_in")
def who_once_pushed_in_vain_holds_up_the_night(right, self, i):
    pushes, before = self.pushes[i], self.night.captives.pending
    o = right(self, i)
    if pushes and o is None:
        self.night.captives.pending = before
    return o


@mutant(FALLS, Gatehouse, "turns_away")
def who_waits_outside_as_the_gate_falls_is_inside(right, self, i):
    self.night.lingers(i)


@mutant(FALLS, Gatehouse, "stands_open_for")
def a_falling_gate_lets_nobody_wait(right, self, i):
    return next((o for o, gate in enumerate(self.gate) if gate == k.HUNG), None)


@mutant("back again and again in no time", Onlookers, "will_look")
def looks_have_no_end_short_of_three(right, self, i):
    if self.looks[i] == 3:
        self.looks[i] = k.MOST_LOOKS
    right(self, i)


@mutant("frozen beside a gate that hangs", Startle, "startled")
def the_frozen_forget_that_they_meant_to_leave(right, self, i):
    right(self, i)
    if self.night.state[i] == k.STILL:
        self.night.leaving.drop(i)


@mutant("one-way entrance", Gatehouse, "pushes_in")
def whoever_is_willing_is_strong_enough(right, self, i, o):
    return self.night.chance(k.D_WILLING, i, 0) < self.facts.openings[o].willing_share


@mutant("one-way entrance", Gatehouse, "push_tonight")
def an_entrance_is_as_stiff_every_night(right, self, o):
    return self.facts.openings[o].push_force


@mutant("two one-way entrances", Night, "made_way_for_others")
def nobody_slips_out(right, self, i):
    pass


@mutant("two one-way entrances", Night, "tries")
def the_unwilling_do_not_try_another_opening(right, self, i):
    self.outside = lambda j: None
    right(self, i)
    del self.outside


# ---- who comes -----------------------------------------------------------------------------


@mutant("three sounders in one night", Night, "sounder_comes")
def a_second_sounder_finds_the_visit_over(right, self, sounder):
    over, level = self.over, self.level
    right(self, sounder)
    self.over, self.level = over, level


@mutant("the young wait for a sow", Night, "counts")
def a_sow_is_remembered_after_she_left(right, self, i, change):
    right(self, i, change)
    self.leaders = max(self.leaders, self.__dict__.setdefault("most", 0))
    self.most = self.leaders


@mutant("a sounder whose size varies", Triggers, "rule_tonight")
def a_share_is_of_the_largest_group(right, self, t):
    size, self.night.group_size = self.night.group_size, self.facts.animals
    rule = right(self, t)
    self.night.group_size = size
    return rule


# ---- triggers ------------------------------------------------------------------------------


@mutant("person, unbroken picture", Triggers, "count_on_screen")
def the_count_is_read_a_moment_late(right, self, t):
    inside = self.night.inside
    self.night.inside = self.__dict__.setdefault("inside_before", {}).get(t, 0)
    right(self, t)
    self.night.inside = self.inside_before[t] = inside


@mutant("person recounts", Triggers, "refreshes")
def a_recount_changes_nothing(right, self, t):
    seen_of = self.seen_of[t]
    right(self, t)
    self.seen_of[t] = seen_of


@mutant("counter with a dwell", Triggers, "check_count")
def the_dwell_goes_on_after_the_last_one_left(right, self, t, row):
    if self.count[t] >= 1:
        right(self, t, row)


@mutant("counter with errors", Triggers, "counted")
def the_counter_misses_nobody(right, self, i, purpose, sign):
    for t in self.counters:
        self.count[t] += sign
        self.check_count(t, self.facts.triggers[t])


@mutant("person loses commands", Triggers, "lost")
def one_command_more_is_lost(right, self, t):
    lost = right(self, t)
    return lost + 1 if lost else 0


@mutant("person waits for a clear opening", Triggers, "can_act")
def the_opening_need_not_be_clear(right, self, t, now):
    occupied, self.night.gates.occupied = self.night.gates.occupied, [0]
    found = right(self, t, now)
    self.night.gates.occupied = occupied
    return found


@mutant("line pulled by an animal", Triggers, "touch")
def a_line_holds_any_pull(right, self, i, t):
    self.facts.triggers[t] = self.facts.triggers[t]._replace(break_force=math.inf)
    right(self, i, t)


@mutant("line hung too tight for its latch", Triggers, "drawn_by_a_line")
def a_hung_line_draws_no_latch(right, self, ln_need):
    return False


@mutant("line hung too tight for its latch", Triggers, "share_tonight")
def bends_rub_alike_every_night(right, self, t):
    row = self.facts.triggers[t]
    return math.exp(-row.line_turn * math.exp(row.friction_mu))


@mutant("two gates on one line that may snap", Triggers, "pulled_by_line")
def a_latch_need_not_travel(right, self, t, push, ln_need, travel):
    return right(self, t, push, ln_need, 0.0)


@mutant("two gates on one line that may snap", Gatehouse, "easiest")
def a_line_snaps_by_the_first_latch(right, self):
    return self.needed(0)


@mutant("two gates on one line that may snap", Gatehouse, "latch_lets_go")
def one_latch_is_as_hard_as_the_other(right, self, o, force, by):
    return right(self, 0, force, by)


@mutant("latch that its own load may open", Gatehouse, "lets_go_by_itself")
def every_latch_holds(right, self, o):
    return False


@mutant("all of a container, a counter and a person", Triggers, "fire")
def the_first_of_all_is_enough(right, self, t, force):
    self.fired = [True] * len(self.fired)
    right(self, t, force)


# ---- clocks and ties -----------------------------------------------------------------------


@mutant("line beyond the bait", Clock, "settle")
def a_clock_moves_without_need(right, self, speed, now):
    self.h0 = reading(self.t0, self.h0, self.speed, now)
    self.t0 = now
    right(self, speed, now)


@mutant("crossings and walks that are drawn", Night, "calmed")
def a_departure_is_remembered_for_ever(right, self, _):
    pass


@mutant("bait gone", Night, "stops_feeding")
def one_who_leaves_eats_on(right, self, i):
    eats, self.eats[i] = self.eats[i], 0
    right(self, i)
    self.eats[i] = eats


@mutant("looks on the beat of the crossings", NightEnvironment, "at")
def events_of_one_instant_in_the_order_they_were_planned(right, self, event, time, priority):
    right(self, event, time, 0)


@mutant("lattice of ties", NightEnvironment, "at")
def of_equal_rank_the_higher_number_goes_first(right, self, event, time, priority):
    rank, number = divmod(priority, k.RANK_STEP)
    right(self, event, time, rank * k.RANK_STEP + k.RANK_STEP - 1 - number)


@pytest.mark.parametrize(
    ("night", "owner", "method", "faulty"),
    [m[1:] for m in MUTANTS],
    ids=[m[0] for m in MUTANTS],
)
def test_a_fault_is_noticed(
    night, owner, method, faulty, night_named, plan_named, monkeypatch
) -> None:
    named = night_named(night)
    plan = plan_named(named)
    right = getattr(owner, method)
    monkeypatch.setattr(owner, method, lambda self, *args, **kw: faulty(right, self, *args, **kw))
    batch = play(plan, SEED, 0, named.nights, "batch")
    assert any(
        play(plan, SEED, night, 1, "reference") != batch.rows(night, night + 1)
        for night in range(named.nights)
    )


def a_superseded_event_counts(right, self, event):
    if event is not self.due:
        self.settle()
    right(self, event)


def nothing_is_met_on_the_way_back(right, self, i, t, way):
    there, _ = right(self, i, t, way)
    return there, math.inf


def a_side_is_where_one_stands(right, self, i):
    x, y = self.where(i)
    return [
        side_of(x, y, *self.ends(t)) if t in self.lines else 0
        for t in range(len(self.facts.triggers))
    ]


def a_look_that_leads_to_nothing_counts(right, self, t):
    before = self.night.events
    right(self, t)
    self.night.events = before


@pytest.mark.parametrize(
    ("night", "owner", "method", "faulty"),
    [
        ("lattice of ties", Timer, "ring", a_superseded_event_counts),
        (
            "looks on the beat of the crossings",
            Triggers,
            "looks",
            a_look_that_leads_to_nothing_counts,
        ),
        (
            "a line where outings go, passed by the short",
            Ground,
            "there_and_back",
            nothing_is_met_on_the_way_back,
        ),
        (
            "on the line when it turns back",
            Ground,
            "sides_now",
            a_side_is_where_one_stands,
        ),
    ],
    ids=lambda value: getattr(value, "__name__", value),
)
def test_a_fault_in_the_count_of_events_is_noticed(
    night, owner, method, faulty, night_named, plan_named, events_in_reference, monkeypatch
) -> None:
    plan = plan_named(night_named(night))
    right = getattr(owner, method)
    monkeypatch.setattr(owner, method, lambda self, *args: faulty(right, self, *args))
    _, batch = play_counted(plan, SEED, 0, 20)
    assert batch.tolist() != events_in_reference(plan, SEED, 20)


def test_the_last_draw_is_the_last_bit(plan_named, night_named) -> None:
    """Outcomes are compared by their bits: one part in 1e16 of one time is a difference."""
    plan = plan_named(night_named("line beyond the bait"))
    one, other = (play(plan, SEED, 0, 5, "batch") for _ in range(2))
    assert one == other
    other["night_s"][3] = math.nextafter(other["night_s"][3], math.inf)
    assert one != other
