"""One night of a run, played again in the reference engine and written down whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from soundergate.behavior.group import Group, group_of
from soundergate.engine.build import build
from soundergate.engine.reference.bodies import Bodies
from soundergate.engine.reference.facts import Facts
from soundergate.engine.reference.fates import fate
from soundergate.engine.reference.night import Night
from soundergate.engine.reference.person_rule import PersonRule
from soundergate.engine.rules.clocks import look_up, look_up_from
from soundergate.engine.trace.trace import Trace, TraceAnimal, TraceCorral, TraceOpening
from soundergate.mechanics.setup import solve
from soundergate.scenario import places

if TYPE_CHECKING:
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario

_POINTS = 33
"""Points at which each piece of a closing is written down."""


def trace_night(
    scenario: Scenario, seed: int, number: int, person_rule: PersonRule | None = None
) -> Trace:
    """Night ``number`` of the run with this seed, event by event.

    Its outcome, `Trace.row`, is row ``number`` of a batch with the same seed, to the bit. Where the
    size of a sounder varies, only the animals of this night are in it.
    """
    setup = solve(scenario)
    facts = Facts(build(scenario, setup), person_rule)
    trace = Trace(
        animals=_animals(facts, group_of(scenario), seed, number),
        corral=_corral(scenario, setup),
        seed=seed,
        night=number,
        title=scenario.title,
        shut_time=[None] * len(scenario.opening),
        closing=[[] for _ in scenario.opening],
    )
    night = Night(facts, seed, number, trace)
    trace.row = night.play()
    night.ground.write_down_the_last()
    trace.fates = [fate(night, i) for i in range(facts.animals)]
    trace.release_time = _finite(night.gates.released_at)
    trace.check_time = facts.behaviour.check
    _write_closings(trace, facts)
    _leave_out_the_absent(trace, night.present)
    return trace


def _leave_out_the_absent(trace: Trace, present: Sequence[bool]) -> None:
    """Number anew without the animals that belong to a larger sounder than this night's."""
    here = [i for i, there in enumerate(present) if there]
    place = {i: number for number, i in enumerate(here)}
    trace.animals = tuple(trace.animals[i] for i in here)
    trace.fates = [trace.fates[i] for i in here]
    trace.events = [
        event if event.animal is None else replace(event, animal=place[event.animal])
        for event in trace.events
    ]
    trace.walks = [replace(walk, animal=place[walk.animal]) for walk in trace.walks]


def _finite(time: float) -> float | None:
    return time if math.isfinite(time) else None


def _animals(facts: Facts, group: Group, seed: int, number: int) -> tuple[TraceAnimal, ...]:
    bodies = Bodies(facts, seed, number)
    return tuple(
        TraceAnimal(
            label=group.label(i),
            animal_class=group.name_of(i),
            mass=bodies.mass(i),
            back_height=bodies.back(i),
            shoulder_width=bodies.shoulder(i),
            length=bodies.length(i),
            needed_height=bodies.need(i, 0) * facts.openings[0].clearance,
        )
        for i in range(group.size)
    )


def _corral(scenario: Scenario, setup: Setup) -> TraceCorral:
    return TraceCorral(
        diameter=scenario.corral.diameter,
        openings=tuple(
            TraceOpening(
                opening.bearing, opening.width, opening.height, solved.gate_kind,
                solved.curve.measure, *_leaves(solved),
            )
            for opening, solved in zip(scenario.opening, setup.openings, strict=True)
        ),
        patches=tuple((one.middle, one.radius) for one in places.patches(scenario)),
        lines=tuple(places.line_ends(line, scenario) for line in places.lines(scenario)),
        panel_height=scenario.corral.panel_height,
    )  # fmt: skip


def _leaves(solved: OpeningSetup) -> tuple[int, float]:
    """Leaves of a side-hinged gate and their angle from shut while it is set; none of others."""
    leaves = int(solved.gate.sketch.get("leaves", 0))
    return leaves, float(solved.gate.sketch["set_angle"]) if leaves else 0.0


def _write_closings(trace: Trace, facts: Facts) -> None:
    """The clear height of each gate from its events: moves, is propped, moves again, is shut."""
    bodies = Bodies(facts, trace.seed, trace.night)
    for o in range(facts.o):
        start, began = math.inf, math.nan
        for event in trace.in_order():
            if event.opening != o:
                continue
            if event.kind == "gate moves" and event.note != "hangs":
                began = event.time
            elif event.kind == "gate propped" and event.animal is not None:
                share = bodies.need(event.animal, o)
                _write_piece(trace, facts, o, began, start, share)
                start = share
            elif event.kind == "gate shut":
                _write_piece(trace, facts, o, began, start, 0.0)
                trace.shut_time[o] = event.time


def _write_piece(
    trace: Trace, facts: Facts, o: int, began: float, start: float, end: float
) -> None:
    """The gate let go at ``began`` from share ``start`` (inf: fully open) down to ``end``."""
    plan, span = facts.plan, facts.openings[o].clearance
    top = min(start, 1.0)
    trace.closing[o].append((began, top * span))
    for step in range(_POINTS):
        share = top + (end - top) * step / (_POINTS - 1)
        if start == math.inf:
            takes = look_up(plan.close_time[o], share)
        else:
            takes = look_up_from(plan.rest_time[o], start, share)
        if math.isfinite(takes):
            trace.closing[o].append((began + takes, share * span))
