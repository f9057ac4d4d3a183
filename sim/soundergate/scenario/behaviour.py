"""What pigs do, as numbers: arrival, entry, leaving, movement, startle, strike, holding. SI.

A clock is the time an animal needs in the reference state; `soundergate.behavior` says what
speeds it up or slows it down.
"""

from __future__ import annotations

from typing import Annotated

from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.field_types import Share
from soundergate.scenario.fields import Number, Quantity
from soundergate.scenario.register import from_register
from soundergate.scenario.spread_fields import DurationField, SpreadField
from soundergate.scenario.toml_table import Table

Delay = Annotated[Duration, DurationField()]
Clock = Annotated[Duration, DurationField(never=True)]
Time = Annotated[float, Quantity("time", at_least="0 s")]
Speed = Annotated[float, Quantity("speed", above="0 m/s", at_most="20 m/s")]
Width = Annotated[float, Quantity("length", above="0 m")]
Reference = Annotated[float, Quantity("length", at_least="1 in", at_most="200 ft")]
Bearing = Annotated[float, Quantity("angle")]
Scatter = Annotated[float, Quantity("angle", at_least="0 deg", at_most="720 deg")]
Factor = Annotated[float, Number(at_least=0, at_most=100)]


class Arrival(Table):
    """When they come, from when the trap is set."""

    first: Clock = from_register("arrival.first")  # the first subgroup
    offset: Delay = from_register("arrival.offset")  # each further subgroup after the first
    spread: Delay = from_register("arrival.spread")  # each animal after its subgroup
    bearing: Bearing = from_register("arrival.bearing")  # from which the sounder comes
    bearing_scatter: Scatter = from_register(
        "arrival.bearing_scatter"
    )  # sd of the bearings of its subgroups about that


class Entering(Table):
    """How soon an animal outside tries to go in."""

    clock: Clock = from_register("entry.clock")  # untroubled and fully trained
    frailty_cv: Annotated[float, Number(at_least=0, at_most=10)] = from_register(
        "entry.frailty_cv"
    )  # gamma frailty between animals; 0 = none
    shy_share: Share = from_register("entry.shy_share")  # never try
    habituation_nights: Annotated[float, Number(at_least=0, at_most=365)] = from_register(
        "entry.habituation_nights"
    )  # nights of training to come 1 - 1/e of the way
    leaderless: Share = from_register(
        "entry.leaderless"
    )  # speed of the young while no sow is inside, as a share
    social_pull: Factor = from_register("entry.social_pull")  # gain in speed per animal inside
    follow: Share = from_register(
        "entry.follow"
    )  # tries at the opening by which a companion went in last; the others lie on one's way
    push_nights: Annotated[float, Number(above=0, at_most=365)] = from_register(
        "entry.push_nights"
    )  # nights at a one-way entrance to come 1 - 1/e of the way to pushing in
    abruptness: Annotated[float, Number(at_least=0, at_most=10)] = from_register(
        "entry.abruptness"
    )  # how much a large step in the training schedule takes from each night's worth
    touching: Width = from_register("entry.touching")  # gap that bodies cannot but touch
    openness_slope: Annotated[float, Number(at_least=-5, at_most=5)] = from_register(
        "entry.openness_slope"
    )  # change of ln speed per unit of ln total clear width
    reference_width: Reference = from_register("entry.reference_width")  # where that change is none
    tightness: Annotated[float, Number(at_least=0.001, at_most=1, what="a share")] = from_register(
        "entry.tightness"
    )  # speed at an opening that a body cannot pass without touching
    taper: Annotated[float, Number(above=0, at_most=1, what="a share")] = from_register(
        "entry.taper"
    )  # of the corral's room, the last, in which newcomers hold back more and more


class Leaving(Table):
    """How soon an animal inside goes out again."""

    clock: Clock = from_register("leaving.clock")
    crowding: Factor = from_register("leaving.crowding")  # gain in speed as the corral fills
    contagion: Factor = from_register("leaving.contagion")  # gain in speed per recent departure
    contagion_window: Time = from_register("leaving.contagion_window")  # how long it is recent
    return_share: Share = from_register("leaving.return_share")  # come back to the opening
    nearest: Share = from_register(
        "leaving.nearest"
    )  # leave by the nearest opening, the others by the one they came in by


class Movement(Table):
    """Speeds, room and pauses."""

    walk_speed: Speed = from_register("movement.walk_speed")
    cross_speed: Speed = from_register("movement.cross_speed")
    bolt_speed: Speed = from_register("movement.bolt_speed")
    side_clearance: Annotated[float, Number(at_least=1, at_most=3)] = from_register(
        "movement.side_clearance"
    )  # width needed, as a multiple of shoulder width
    bolt_clearance: Annotated[float, Number(at_least=0.5, at_most=3)] = from_register(
        "movement.bolt_clearance"
    )
    headway: Delay = from_register("movement.headway")  # between followers in one lane
    dwell: Delay = from_register("movement.dwell")  # pause inside the opening before going on
    roam: Clock = from_register("movement.roam")  # at its place before an outing and back
    outing_share: Share = from_register("movement.outing_share")  # of outings: anywhere inside
    outing_reach: Annotated[float, Quantity("length", at_least="0 m", at_most="200 ft")] = (
        from_register("movement.outing_reach")
    )  # how far the other outings go from its place
    retry: Delay = from_register("movement.retry")  # wait of one that finds no room at the bait
    crossing: Delay | None = None  # replaces (depth + body length) / speed
    travel: Delay | None = None  # replaces distance / speed on ways inside the fence


class Visit(Table):
    """How long they stay about, and when the trap is checked."""

    patience: Clock = from_register("visit.patience")  # from the first arrival
    check: Annotated[float, Quantity("time", above="0 s", at_most="30 day")] = from_register(
        "visit.check"
    )  # after the trap is set


class Startle(Table):
    """At the noise of the closing gate."""

    bolt_share: Share = from_register("startle.bolt_share")  # the others freeze
    delay: Delay = from_register("startle.delay")
    turn_back_share: Share = from_register("startle.turn_back_share")  # of those crossing


class Strike(Table):
    """An animal under the gate."""

    out_share: Share = from_register("strike.out_share")  # end up outside
    prop: Delay = from_register("strike.prop")  # time it props the gate


class Holding(Table):
    """From closure to the check."""

    try_clock: Clock = from_register("holding.try_clock")  # one captive's next try at the gate
    climb_clock: Clock = from_register("holding.climb_clock")  # one captive's next leap or climb
    climb_reach: Annotated[LogNormal, SpreadField(None, at_most=10.0)] = from_register(
        "holding.climb_reach"
    )  # panel height it can clear, as a multiple of its back height
    root_clock: Clock = from_register("holding.root_clock")  # one captive, to open a way under
    near_clock: Clock = from_register("holding.near_clock")  # one left outside stays near
    late_clock: Delay = from_register("holding.late_clock")  # until it comes back, and again
    open_entry: Share = from_register(
        "holding.open_entry"
    )  # times that it then goes in where an opening stands open
    slip_share: Share = from_register("holding.slip_share")  # out as another pushes in
    hole_clock: Clock = from_register("holding.hole_clock")  # a hole lets others out
    gate_clock: Clock = from_register("holding.gate_clock")  # so a gate that one has opened
    follow_clock: Clock = from_register("holding.follow_clock")  # another, to find and use it
