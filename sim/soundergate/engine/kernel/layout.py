"""What stands in a record of the batch engine: for a night, an animal, a gate, a trigger, a clock.

Whole numbers and floats of eight bytes, so that a record is one stretch of memory; `scratch` lays
them out as `records`. What the plan says of openings and triggers stands in its own records.
"""

from __future__ import annotations

from soundergate.engine import codes as k
from soundergate.engine.kernel.early_table import EARLY_ROWS
from soundergate.engine.plan import Floats, Ints

SHAPES: dict[str, tuple[int, ...]] = {
    "last_departures": (k.DEPARTURES_KEPT,),
    "bait_marks": (k.SPENT,),
    "place": (EARLY_ROWS, 2),
}
"""Of fields that are arrays. In a record they cost nothing to hand on, where an array of its own
is handed to every part of the kernel as seven numbers or more."""


class NightState:
    """The night as a whole: its name, the time, sums over animals. Flags are 0 or 1."""

    seed: int
    number: int
    traits: int  # number of the night whose draws say what the animals are like
    now: float
    events: int
    finished: int
    group_size: int
    led: int  # whether a sow is there tonight that the young follow
    arrived: int  # animals whose time to come is before the check
    anyone_came: int
    inside: int
    leaders: int  # sows inside
    feeding: int
    intake: int  # micrograms a second
    level: int  # of the bait, as appetites go by it
    bait_level: int
    gone: int
    over: int  # nothing to stay for any more
    departures: int  # that still draw others after them
    last_departures: Floats  # when each ceases to draw others after it; a ring
    oldest_departure: int
    speeds_of: int  # the counts for which speeds of entry and leaving were last looked up
    heads_changed: int  # whether another animal than before is next at such a clock
    came_last_by: int  # the opening by which one went in last, or -1
    commands_under_way: int
    pulled_at: float
    acted: int  # whether the pull on the latch was final
    released_at: float
    alarmed: int
    held: int  # inside when the alarm came
    closed_once: int
    strike_energy: float
    refresh_at: float  # when the first count on a screen is next drawn anew
    pending: int  # breakouts, and returns of those that may push in, to come before the trap check
    way_until: float  # when the way out that captives have opened and that stays longest is gone
    way_by: int  # who opened it; so with how one follows by it
    way_how: int


class Constants:
    """What follows from a plan once and for all: counts, and where things begin in arrays."""

    animals: int
    tempos: int
    bait_clock: int
    trigger_clocks: int
    lines: int  # so with the other kinds of trigger
    containers: int
    counters: int
    people: int
    all_needed: int  # whether all triggers must have fired
    late_share: float  # the largest share of animals that come back after the release
    trigger_slots: int
    opening_slots: int
    clock_slots: int
    animal_slots: int
    breakout_slots: int
    slots: int
    sights: int  # in what is drawn beforehand
    bait_marks: Floats
    place: Ints  # where first and second numbers of each row of the early table begin


class Sounder:
    """One sounder."""

    fixed_heads: int  # -1 if they vary
    heads: int  # that come tonight
    first: float  # when the first subgroup comes
    came: int


class Animal:
    """One animal tonight. Times in s, lengths in m, mass in kg."""

    sounder: int
    party: int
    turn: int
    tempo: int
    leads: int
    small: int
    state: int
    stay: int
    at: int  # the opening it came in by, or waits at
    space: int  # micrometres of it that it takes up
    waited: int
    bolting: int
    began: float  # crossing
    ends: float
    mouth: int  # the opening that it means to take next
    x0: float  # where its way begins; so with y0
    y0: float
    x: float  # where it ends, or where it stands; so with y
    y: float
    way_began: float
    takes: float
    met: float  # share of its way, or progress of its outing, up to which it has met lines
    next_meeting: float  # with a line, likewise
    arrival: int  # rank of the event at the end of its way
    sides: int  # of the lines, a bit each
    patch: int  # where it has a place, or -1
    goal: int  # the patch in which it looks for a place
    seeks: int
    outing: int  # the outing of its last event at its place
    outing_since: float  # when it was back from the one before
    next_outing: int  # that of its next one; so with since
    next_since: float
    dwell: float
    eats: int
    mass: float
    shoulder: float
    back: float
    length: float
    shy: int
    present: int
    entered: int
    held: int
    witness: int
    struck: int
    broke_out: int  # of a trap that held it
    way: int  # by which it is to get out
    near_until: float  # when it goes away for good, shut out
    looks: int  # how often it has come back
    pushes: int  # whether it pushes in at a one-way entrance the first time


class Gate:
    """One opening and its gate."""

    width: int  # micrometres
    occupied: int
    queued: int
    stirred: int  # room may have come free
    state: int
    move_due: int
    since: float  # when it was last let go
    let_go_at: float  # share of its clearance; inf for fully open
    propped_by: int


class PatchState:
    """One patch of bait tonight."""

    taken: int  # places


class TriggerState:
    """One trigger tonight."""

    share_left: float  # of a line's tension, after its bends tonight
    switch_push: float  # N that works a line's switch tonight
    fired: int
    broken: int
    count: int
    decided: int
    watching: int
    began: float
    seen: int
    seen_times: int
    seen_of: int  # the true count that was seen, or -1
    refresh_at: float  # when the error of the count is next drawn anew
    least: float  # no smaller count leads to a release
    sight: int  # the count and the clear opening for which the acting look was last reckoned


class Clock:
    """One process of one tempo: what it read when, how fast it goes, and who is due first."""

    t0: float
    h0: float
    speed: float
    head_at: float
    head: int
    head_changed: int
