"""What nobody knows, in words that one would say aloud: a phrase for each unknown, and its values.

A phrase stands before "is under" or "is above" with a value in the unknown's own unit: "the time a
pig takes to make up its mind to enter is under 45 s". What explains it stands between commas.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.studies.worlds.boxes import Side
    from soundergate.studies.worlds.inputs import Input

_LATE = "the share of pigs outside that push in after the gate has shut"
_PUSH = "the force to push the panel open"
_COMMAND = "the time a command takes over the link"
_LOST = "the share of commands that are lost"

PHRASES = {
    "sounder.subgroups": "the number of parties in which the group comes",
    "sounder.mass.sow": "the weight of a sow",
    "sounder.mass.boar": "the weight of a boar",
    "sounder.mass.juvenile": "the weight of a half-grown pig",
    "sounder.mass.piglet": "the weight of a piglet",
    "body.width_coefficient": "the shoulder width of a 1 kg pig, from which others are scaled",
    "body.height_coefficient": "the back height of a 1 kg pig, from which others are scaled",
    "body.length_coefficient": "the length of a 1 kg pig, from which others are scaled",
    "body.exponent": "the power of weight by which pigs grow wider and longer",
    "body.shoulder_scatter": "the scatter of shoulder width among pigs of one weight",
    "body.duck": "the share of its back height that a pig needs to pass under an edge",
    "body.strength": "a pig's push as a multiple of its weight",
    "corral.space_per_pig": "the room below which no pig pushes in",
    "bait.intake": "the share of its weight in bait that a pig eats",
    "bait.levels_appetite": "the pull to leave as bait runs down",
    "bait.space": "the ground that a feeding pig takes up",
    "opening.gate.restitution": "the bounce of the gate on the sill",
    "opening.gate.lock_fails": "the share of nights on which a gate's lock does not catch",
    "opening.gate.late_entry": _LATE,
    "opening.gate.drop.friction": "the friction of the gate in its channels",
    "opening.gate.drop.drag_share": "the extra drag of mud and rust in one channel",
    "opening.gate.drop.drag": "the extra drag in one channel",
    "opening.gate.hinge.friction": "the friction of the hinges",
    "opening.gate.push panel.top.push_force": _PUSH,
    "opening.gate.push panel.top.late_entry": _LATE,
    "opening.gate.push panel.side.push_force": _PUSH,
    "opening.gate.push panel.side.rest_share": "the share of the push force left when it is shut",
    "opening.gate.push panel.side.late_entry": _LATE,
    "opening.gate.curled panel.push_force": _PUSH,
    "opening.gate.curled panel.rest_share": "the share of the push force left when it is shut",
    "opening.gate.curled panel.late_entry": _LATE,
    "opening.gate.net skirt.push_force": "the force to lift the net",
    "opening.gate.net skirt.snout": "the width of net that a snout lifts",
    "opening.gate.net skirt.late_entry": _LATE,
    "opening.latch.friction": "the friction of the latch",
    "opening.latch.solenoid.saturation": "the field at which the solenoid's iron is full",
    "opening.latch.solenoid.residual_gap": "the gap that stays in the closed solenoid",
    "opening.latch.solenoid.iron_length": "the length of the solenoid's iron",
    "opening.latch.solenoid.plunger": "the weight of the solenoid's plunger",
    "opening.latch.solenoid.inductance": "the inductance of the solenoid",
    "opening.latch.solenoid.battery_resistance": "the resistance of the battery",
    "opening.latch.solenoid.relay_resistance": "the resistance of relay and joints",
    "opening.latch.solenoid.temperature": "the temperature of the coil",
    "opening.latch.solenoid.supply": "the share of its pull that the battery leaves the solenoid",
    "opening.latch.air cylinder.seal_loss": "the pressure that the cylinder's seals cost",
    "opening.latch.air cylinder.critical_ratio": "the critical pressure ratio of the valve",
    "opening.latch.air cylinder.supply": "the share of the pressure that reaches the cylinder",
    "opening.latch.animal.delay": "the time from the pull to the gate moving",
    "trigger.false_release": "the rate of false releases by wind or other animals",
    "trigger.line.friction": "the friction of the line in its eyes",
    "trigger.bait.friction": "the friction of the container on its stand",
    "trigger.bait.rate": "the time until a feeding pig pushes hard at the container",
    "trigger.counter.miss": "the share of pigs that pass the counter unseen",
    "trigger.counter.double": "the share of pigs that the counter counts twice",
    "trigger.person.alert": "the time until the person looks",
    "trigger.person.awake": "the share of nights on which the person answers",
    "trigger.person.view_delay": "the delay of the picture",
    "trigger.person.reaction": "the time the person takes to decide and press",
    "trigger.person.radio.command_delay": _COMMAND,
    "trigger.person.radio.dropout": _LOST,
    "trigger.person.modem.command_delay": _COMMAND,
    "trigger.person.modem.dropout": _LOST,
    "trigger.person.relay.command_delay": _COMMAND,
    "trigger.person.relay.dropout": _LOST,
    "trigger.person.retry": "the time until a lost command is sent again",
    "trigger.person.undercount": "the share of pigs hidden behind others",
    "trigger.person.overcount": "the share of pigs that the person counts twice",
    "trigger.person.refresh": "the time until the person counts again",
    "arrival.first": "the time from dusk to the first visit",
    "arrival.offset": "the time between one party and the next",
    "arrival.spread": "the time over which one party comes",
    "arrival.bearing_scatter": "the spread of the ways from which parties come",
    "entry.clock": "the time a pig takes to make up its mind to enter",
    "entry.frailty_cv": "the difference in boldness among pigs",
    "entry.shy_share": "the share of pigs that will not enter at all",
    "entry.habituation_nights": "the number of nights that pigs need to get used to the trap",
    "entry.social_pull": "the pull of each pig inside on those outside",
    "entry.leaderless": "the speed of young that enter before a sow, as a share of their own",
    "entry.push_nights": "the number of nights that pigs need to learn to push in",
    "entry.abruptness": "the harm that a sudden change of the opening does to training",
    "entry.openness_slope": "the gain in boldness from a wider opening",
    "entry.reference_width": "the clear width at which the time to enter holds",
    "entry.touching": "the gap that a pig's shoulders touch",
    "entry.follow": "the pull of the opening that others just took",
    "entry.tightness": "the speed of entering where a body touches the sides, as a share",
    "entry.taper": "the share of the room that must be left before newcomers hold back",
    "leaving.clock": "the time a pig stays before it goes out",
    "leaving.crowding": "the push to leave when the trap is full",
    "leaving.contagion": "the pull of each pig that leaves on the others",
    "leaving.contagion_window": "the time for which a departure is followed",
    "leaving.return_share": "the share of pigs that go out and come back",
    "leaving.nearest": "the share of pigs that leave by the nearest opening",
    "movement.walk_speed": "the walking speed of a pig",
    "movement.cross_speed": "the speed of a pig through the opening",
    "movement.bolt_speed": "the speed of a bolting pig",
    "movement.side_clearance": "the room a pig takes in the opening, in shoulder widths",
    "movement.bolt_clearance": "the room a bolting pig takes, in shoulder widths",
    "movement.headway": "the time between one pig in the opening and the next",
    "movement.dwell": "the pause of a pig just inside",
    "movement.roam": "the time at the bait before a pig moves about",
    "movement.outing_share": "the share of outings that go anywhere inside",
    "movement.outing_reach": "the reach of a short outing from the bait",
    "movement.retry": "the time after which a pig without room at the bait tries again",
    "visit.patience": "the length of a visit",
    "startle.bolt_share": "the share of startled pigs that bolt",
    "startle.delay": "the time until a startled pig runs",
    "startle.turn_back_share": "the share of pigs in the opening that turn back at the noise",
    "strike.out_share": "the share of struck pigs that end up outside",
    "strike.prop": "the time for which a struck pig holds the gate up",
    "holding.try_clock": "the time until a captive tries the gate in earnest",
    "holding.climb_clock": "the time until a captive leaps at the panels",
    "holding.climb_reach": "the panel height that a pig clears, in back heights",
    "holding.root_clock": "the time a captive needs to root its way out",
    "holding.late_clock": "the time until a pig left outside comes back",
    "holding.near_clock": "the time a pig left outside stays near",
    "holding.open_entry": "the chance that one comes in again where an opening stands open",
    "holding.slip_share": "the chance that one slips out while another pushes in",
    "holding.hole_clock": "the time a rooted hole lets others out",
    "holding.gate_clock": "the time a gate that one has opened lets others out",
    "holding.follow_clock": "the time until another follows by a way that one has opened",
    "campaign.escaped_wary": "the share of escaped pigs that will not enter again",
    "campaign.onlooker_wary": "the share of onlookers that will not enter again",
    "campaign.move_away": "the chance that the group leaves for good after a failed closure",
    "campaign.quiet_nights": "the number of quiet nights after a scare",
    "population.growth": "the growth of the population in a year",
    "population.immigration": "the share of a lost population that moves in again",
}
"""By id of the register. The scatter of one (".sigma") is "the scatter of" it."""

_LONGER = {"s": ("min", 60.0), "min": ("h", 60.0), "h": ("days", 24.0), "ms": ("s", 1000.0)}
_EDGE = 1e-6
_SAID = {"m^2": "m²", "degC": "°C", "1/h": "an hour", "1/day": "a day"}


def phrase(name: str) -> str:
    """An unknown in words, by its id; the id itself where there are none."""
    known, scatter = (name.removesuffix(".sigma"), name.endswith(".sigma"))
    if known not in PHRASES:
        return name
    return f"the scatter of {PHRASES[known]}" if scatter else PHRASES[known]


def named(name: str) -> str:
    """An unknown in words with its id behind, by which it can be looked up and stated."""
    words = phrase(name)
    return words if words == name else f"{words} ({name})"


def value(one: Input, number: Any) -> str:
    """A value of an unknown as one would say it: two figures and a handy unit.

    Of several numbers that move together, where in what is plausible they are.
    """
    entry = one.entry
    if isinstance(number, list):
        ends = {0.05: "its low end", 0.95: "its high end"}
        return next((said for u, said in ends.items() if one.at(u) == number), "its middle")
    if not one.range_unit and entry.distribution == "logit-normal" and entry.support is None:
        return f"{_figures(100 * number)} %"
    unit = one.range_unit
    while unit in _LONGER and number >= 2 * _LONGER[unit][1]:
        unit, times = _LONGER[unit]
        number /= times
    return f"{_figures(number)} {_SAID.get(unit, unit)}".strip()


def where(side: Side) -> str:
    """A limit on an unknown in words: "the weight of a sow (sounder.mass.sow) is above 75 kg"."""
    one, words = side.unknown, phrase(side.unknown.id)
    comma = "," if ", " in words else ""
    return f"{named(one.id)}{comma} is {_limit(side)}"


def _limit(side: Side) -> str:
    one, number = side.unknown, side.value
    if isinstance(number, list):  # moves as one: no single value to name
        return f"{'below' if side.below else 'above'} its {100 * side.place:.0f} % point"
    if one.entry.whole:
        return _whole(side)
    return f"{'under' if side.below else 'above'} {value(one, number)}"


def _whole(side: Side) -> str:
    """A limit on a whole number: to the nearer end of the places that mean the same number."""
    one, u = side.unknown, side.place
    least, most = _same(one, u)
    number = side.value
    if side.below:
        if most > 1 - _EDGE or most - u > u - least:
            number -= 1
        return f"{number} or less"
    if least < _EDGE or u - least > most - u:
        number += 1
    return f"{number} or more"


def _same(one: Input, u: float) -> tuple[float, float]:
    """The places, from and to, at which a whole number is what it is at ``u``."""
    number = one.at(u)

    def end(outside: float) -> float:
        if one.at(outside) == number:
            return outside
        inside = u
        for _ in range(40):
            half = (inside + outside) / 2
            inside, outside = (half, outside) if one.at(half) == number else (inside, half)
        return inside

    return end(_EDGE / 2), end(1 - _EDGE / 2)


def _figures(number: float) -> str:
    """Two figures, or as many as a whole number of up to four has."""
    if number == 0:
        return "0"
    digits = max(1 - math.floor(math.log10(abs(number))), 0)
    return f"{round(number, digits):g}".replace("-", "−")
