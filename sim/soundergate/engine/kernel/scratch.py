"""What the batch engine keeps of a night: a record for each animal, gate, trigger and clock.

`layout` says what stands in a record; `scratch_for` lays out their memory once a call, so that
 no night allocates anything. `Night` is all that the functions of the kernel read and change.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.kernel.early_table import Table, early_table
from soundergate.engine.kernel.layout import (
    SHAPES,
    Animal,
    Clock,
    Constants,
    Gate,
    NightState,
    PatchState,
    Sounder,
    TriggerState,
)
from soundergate.engine.luck.draws import micrometres
from soundergate.engine.plan import Behaviour, Floats, Ints, NightPlan, Opening, Patch, Trigger
from soundergate.engine.structured import blank

ENTRY, LEAVING, PROCESSES = range(3)
"""Clock ``process * tempos + tempo``; after them come those of the bait and of each trigger."""

VISIT_END, CALM, FALSE_RELEASE, CHECK, SINGLE_TIMERS = range(5)
ALERT, LOOK, COMMAND, DWELL, TIMERS_A_TRIGGER = range(5)
MOVING, SHUTTING, PROP, TIMERS_AN_OPENING = range(4)


class Agenda(NamedTuple):
    """What is due when: a slot holds at most one coming event."""

    due: Ints
    """int[S]: time of the event, inf for none, as the bits that it is stored in, which sort like
    times that are >= 0."""
    key: Ints
    """int[S]: priority * SLOT_STEP + slot."""


class Clocks(NamedTuple):
    """Clocks, and who waits for them; Q clocks, K tempos, N animals."""

    state: NightState
    constants: Constants
    clock: Sequence[Clock]
    waits: Ints
    """int[2 K, N up to a whole block]: bits of the reading that an animal waits for, or of inf."""


class Luck(NamedTuple):
    """What draws are made from."""

    state: NightState
    constants: Constants
    times: Floats
    """float[R + 4 T, 3]: `NightPlan.all_times`."""
    drawn: Floats
    """float[3 m + T SIGHTS]: what was drawn at the start of the night, by `early`, and numbers
    behind the next counts on screens."""


class Night(NamedTuple):
    """One night of N animals, O openings and T triggers.

    Speeds and what else is looked up in one place only stay in the `NightPlan`: the fewer arrays
    every function is handed, the sooner the kernel is compiled.
    """

    state: NightState
    constants: Constants
    behaviour: Behaviour
    sounders: Sequence[Sounder]
    animals: Sequence[Animal]
    openings: Sequence[Opening]
    gates: Sequence[Gate]
    triggers: Sequence[Trigger]
    trigger_states: Sequence[TriggerState]
    patches: Sequence[Patch]
    patch_states: Sequence[PatchState]
    clocks: Clocks
    luck: Luck
    agenda: Agenda
    closing: Floats
    """float[O, 2, G + 1, G]: s and J at each clearance of a gate let go at rest from clearance
    i / (G - 1); in the last row, let go as it was set."""
    queue: Ints
    """int[O, N]: who waits at an opening, in order of coming."""
    rule: Floats
    """float[T, K, 2]: a person's rule for tonight's group."""


class Scratch(NamedTuple):
    """Working memory of a call."""

    night: Night
    table: Table
    """What is drawn at the start of a night."""


SIGHTS = 32
"""Numbers that are drawn together for counts on a screen, of which a night needs dozens."""

SECONDS, JOULES = range(2)
"""Second index of closing tables."""


def scratch_for(plan: NightPlan) -> Scratch:
    """Memory for nights of this plan; not to be shared between threads."""
    constants = _constants(plan)
    table, place = early_table(plan)
    return Scratch(_night(plan, constants, len(table.tails), place), table)


def _night(plan: NightPlan, constants: Any, numbers: int, place: Ints) -> Night:
    n, openings, triggers = plan.group_size, len(plan.openings), len(plan.triggers)
    state = _records(NightState, 1)[0]
    animals = _animals(plan)
    return Night(
        state=state,
        constants=constants,
        behaviour=plan.behaviour[0],
        sounders=_sounders(plan),
        animals=animals,
        gates=_gates(plan),
        trigger_states=_records(TriggerState, triggers),
        patches=plan.patches,
        patch_states=_records(PatchState, len(plan.patches)),
        clocks=_clocks(plan, state, constants),
        luck=_luck(plan, state, constants, numbers, place),
        agenda=_agenda(int(constants["slots"])),
        openings=plan.openings,
        triggers=plan.triggers,
        closing=_closing(plan),
        queue=np.zeros((openings, n), np.int64),
        rule=np.zeros((triggers, plan.rule.shape[1], 2)),
    )


def _records(kind: type, count: int) -> Any:
    return blank(kind, count, SHAPES)


def _constants(plan: NightPlan) -> Any:
    constants = _records(Constants, 1)[0]
    constants["bait_marks"] = plan.bait_marks
    kind = plan.triggers["kind"]
    constants["animals"] = plan.group_size
    constants["tempos"] = len(plan.entry_speed)
    constants["bait_clock"] = PROCESSES * len(plan.entry_speed)
    constants["trigger_clocks"] = constants["bait_clock"] + 1
    constants["lines"] = np.sum(kind == k.LINE)
    constants["containers"] = np.sum(kind == k.BAIT)
    constants["counters"] = np.sum(kind == k.COUNTER)
    constants["people"] = np.sum(kind == k.PERSON)
    constants["all_needed"] = plan.combine_all[0]
    constants["late_share"] = np.max(plan.openings["late_share"])
    _lay_out_slots(constants, len(plan.openings), len(plan.triggers))
    return constants


def _lay_out_slots(constants: Any, openings: int, triggers: int) -> None:
    """Single timers, timers of triggers and openings, clocks, animals; last, whole blocks of
    breakouts, of which most nights have none."""
    constants["trigger_slots"] = SINGLE_TIMERS
    constants["opening_slots"] = constants["trigger_slots"] + TIMERS_A_TRIGGER * triggers
    constants["clock_slots"] = constants["opening_slots"] + TIMERS_AN_OPENING * openings
    constants["animal_slots"] = constants["clock_slots"] + constants["trigger_clocks"] + triggers
    constants["breakout_slots"] = _whole_blocks(constants["animal_slots"] + constants["animals"])
    constants["slots"] = _whole_blocks(constants["breakout_slots"] + constants["animals"])
    if constants["slots"] > k.SLOT_STEP:
        raise ValueError(f"openings and triggers need {constants['slots']} of {k.SLOT_STEP} timers")


def _animals(plan: NightPlan) -> Any:
    animals = _records(Animal, plan.group_size)
    animals["sounder"] = plan.sounder_of
    animals["party"] = plan.party_of
    animals["turn"] = plan.turn
    animals["tempo"] = plan.tempo_of
    animals["leads"] = plan.leads[plan.class_of]
    animals["small"] = plan.small[plan.class_of]
    return animals


def _sounders(plan: NightPlan) -> Any:
    sounders = _records(Sounder, len(plan.size_cdf))
    for sounder, cdf in zip(sounders, plan.size_cdf, strict=True):
        fixed = bool(np.all((cdf == 0.0) | (cdf == 1.0)))
        sounder["fixed_heads"] = np.argmax(cdf) if fixed else -1
    return sounders


def _gates(plan: NightPlan) -> Any:
    gates = _records(Gate, len(plan.openings))
    gates["width"] = [micrometres(width) for width in plan.openings["width"]]
    return gates


def _luck(plan: NightPlan, state: Any, constants: Any, numbers: int, place: Ints) -> Luck:
    constants["place"] = place
    constants["sights"] = 3 * numbers
    drawn = np.zeros(3 * numbers + SIGHTS * len(plan.triggers))
    return Luck(state, constants, plan.all_times(), drawn)


def _closing(plan: NightPlan) -> Floats:
    at_rest = np.stack([plan.rest_time, plan.rest_energy], axis=1)
    as_set = np.stack([plan.close_time, plan.close_energy], axis=1)
    return np.concatenate([at_rest, as_set[:, :, np.newaxis]], axis=2)


def _clocks(plan: NightPlan, state: Any, constants: Any) -> Clocks:
    tempos, triggers = len(plan.entry_speed), len(plan.triggers)
    waits = np.zeros((PROCESSES * tempos, _whole_blocks(plan.group_size)), np.int64)
    records = _records(Clock, PROCESSES * tempos + 1 + triggers)
    return Clocks(state, constants, records, waits)


def _agenda(slots: int) -> Agenda:
    return Agenda(np.zeros(slots, np.int64), np.zeros(slots, np.int64))


def _whole_blocks(count: int) -> int:
    return -(-count // k.BLOCK) * k.BLOCK
