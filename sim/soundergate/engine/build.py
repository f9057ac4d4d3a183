"""From a scenario and its solved mechanics to the night plan: values become records and tables."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.behavior import approach, speeds
from soundergate.behavior.group import Group, group_of, size_distribution
from soundergate.behavior.willing import willing_share
from soundergate.engine import codes as k
from soundergate.engine.plan import (
    SHAPES,
    Behaviour,
    Floats,
    Ints,
    NightPlan,
    Opening,
    Patch,
    Trigger,
)
from soundergate.engine.rules.line_pull import NO_PULL
from soundergate.engine.structured import Records, filled
from soundergate.kinds import module_of
from soundergate.mechanics.chain import slips_below, within_reach
from soundergate.mechanics.clearance import clearances, opens_with
from soundergate.scenario import places
from soundergate.scenario.distributions import Duration
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.mechanics.model import ClosingCurve
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario

NEVER = Duration.fixed(math.inf)
_GRAMS = 1e9
"""Micrograms in a kilogram."""


def build(scenario: Scenario, setup: Setup) -> NightPlan:
    """The plan that both engines read.

    Raises
    ------
    ScenarioError
        For a setup that cannot be played.
    """
    _refuse_timeless_circles(scenario)
    group = group_of(scenario)
    tempo_of, entry, leave = _tempos(scenario, group)
    kinds, times = _durations(scenario)
    return NightPlan(
        class_of=np.array(group.class_of, np.int64),
        party_of=np.array(group.party_of, np.int64),
        sounder_of=np.array(group.sounder_of, np.int64),
        turn=np.array(group.turn, np.int64),
        size_cdf=_sizes(scenario),
        tempo_of=tempo_of,
        small=np.array([kind.name == "piglet" for kind in group.classes], np.int64),
        leads=np.array([kind.name in speeds.LEADERS for kind in group.classes], np.int64),
        mass=np.array([kind[2:] for kind in group.classes], np.float64),
        behaviour=_behaviour(scenario),
        duration_kind=kinds,
        duration=times,
        entry_speed=entry,
        leave_speed=leave,
        bait_marks=np.array([q * scenario.bait.mass * _GRAMS for q in (0.25, 0.5, 0.75, 1.0)]),
        patches=_patches(scenario),
        openings=_openings(scenario, setup),
        close_time=_stack(setup, "time"),
        close_energy=_stack(setup, "energy"),
        rest_time=_stack(setup, "rest_time"),
        rest_energy=_stack(setup, "rest_energy"),
        **_triggers(scenario, setup, group),
    )


def retrained(plan: NightPlan, scenario: Scenario, setup: Setup) -> NightPlan:
    """What `build` makes of a scenario of which ``plan`` was built with other nights of training.

    Only what training changes is made anew; all else is shared.
    """
    tempo_of, entry, leave = _tempos(scenario, group_of(scenario))
    return plan._replace(
        tempo_of=tempo_of,
        entry_speed=entry,
        leave_speed=leave,
        openings=_openings(scenario, setup),
    )


def _tempos(scenario: Scenario, group: Group) -> tuple[Ints, Floats, Floats]:
    """Classes whose speeds are all equal share one set of clocks: fewer clocks, the same night."""
    classes = len(group.classes)
    tables = speeds.entry_speed(scenario, group), speeds.leave_speed(scenario, group)
    first: list[int] = []  # of the classes with each tempo
    tempo: list[int] = []
    for one in range(classes):
        alike = (
            place
            for place, other in enumerate(first)
            if all(np.array_equal(table[one], table[other]) for table in tables)
        )
        tempo.append(next(alike, len(first)))
        if tempo[-1] == len(first):
            first.append(one)
    tempo_of = np.array(tempo, np.int64)[np.array(group.class_of)]
    entry, leave = (np.ascontiguousarray(table[first]) for table in tables)
    return tempo_of, entry, leave


def _sizes(scenario: Scenario) -> Floats:
    """float[sounders, largest + 1]: P(size <= n); a fixed size has all its mass at one n."""
    sounders = (scenario.sounder, *scenario.other)
    table = np.ones((len(sounders), max(s.size for s in sounders) + 1))
    for number, sounder in enumerate(sounders):
        table[number, : sounder.size] = 0.0
        if sounder.varies is not None:
            table[number, : sounder.size + 1] = size_distribution(sounder.varies)
    return table


def _refuse_timeless_circles(s: Scenario) -> None:
    """Where nothing takes time, a night would go round for ever at one instant."""
    zero = Duration.fixed(0.0)
    for part in s.trigger.parts:
        _offered(part, "refuse_endless", lambda *_: None)(part, s, k.MOST_EVENTS)
    # An animal that turns round at once has not walked any way, so travel is no help.
    steps = (s.entry.clock, s.leaving.clock, s.movement.crossing)
    if all(step == zero for step in steps) and s.leaving.return_share > 0.0:
        raise ScenarioError(
            "animals would go in and out again and again without time passing",
            file=s.source, key="leaving.clock", value="0 s",
            hint="give entry.clock, leaving.clock or movement.crossing some time",
        )  # fmt: skip
    if s.movement.retry == zero and s.bait.space > 0.0:
        raise ScenarioError(
            "animals that find no room at the bait would look for it for ever at one instant",
            file=s.source, key="movement.retry", value="0 s", hint="give it some time",
        )  # fmt: skip
    pushed = len(s.opening) > 1 and all(opening.gate.one_way for opening in s.opening)
    if pushed and s.entry.clock == zero:
        raise ScenarioError(
            "animals that will not push in would try every entrance for ever at one instant",
            file=s.source, key="entry.clock", value="0 s", hint="give it some time",
        )  # fmt: skip


def _behaviour(s: Scenario) -> Records:
    numbers = Behaviour(
        shoulder_coefficient=s.body.width_coefficient,
        back_coefficient=s.body.height_coefficient,
        length_coefficient=s.body.length_coefficient,
        exponent=s.body.exponent,
        scatter=s.body.shoulder_scatter,
        duck=s.body.duck,
        side_clearance=s.movement.side_clearance,
        bolt_clearance=s.movement.bolt_clearance,
        walk_speed=s.movement.walk_speed,
        cross_speed=s.movement.cross_speed,
        bolt_speed=s.movement.bolt_speed,
        shy_share=s.entry.shy_share,
        return_share=s.leaving.return_share,
        contagion_window=s.leaving.contagion_window,
        bolt_share=s.startle.bolt_share,
        turn_back_share=s.startle.turn_back_share,
        out_share=s.strike.out_share,
        check=s.visit.check,
        intake=s.bait.intake * _GRAMS,
        fence=s.corral.diameter / 2.0,
        outing_share=s.movement.outing_share,
        outing_reach=s.movement.outing_reach,
        nearest_share=s.leaving.nearest,
        tightness=s.entry.tightness,
        follow_share=s.entry.follow,
        panel_height=s.corral.panel_height,
        reach_mu=s.holding.climb_reach.ln_median,
        reach_sigma=s.holding.climb_reach.sigma,
        slip_share=s.holding.slip_share,
        open_entry=s.holding.open_entry,
    )
    return filled(Behaviour, [numbers])


def _durations(s: Scenario) -> tuple[Ints, Floats]:
    shape = Duration(*speeds.frailty(s))  # type: ignore[arg-type]
    strength = Duration("lognormal", s.body.strength.ln_median, s.body.strength.sigma)
    rate = s.trigger.false_release
    rows: dict[int, Duration | None] = {
        k.T_FIRST: s.arrival.first,
        k.T_OFFSET: s.arrival.offset,
        k.T_SPREAD: s.arrival.spread,
        k.T_ENTRY: s.entry.clock,
        k.T_LEAVE: s.leaving.clock,
        k.T_CROSS: s.movement.crossing,
        k.T_HEADWAY: s.movement.headway,
        k.T_TRAVEL: s.movement.travel,
        k.T_DWELL: s.movement.dwell,
        k.T_OUTING: s.movement.roam,
        k.T_PATIENCE: s.visit.patience,
        k.T_BOLT: s.startle.delay,
        k.T_PROP: s.strike.prop,
        k.T_FALSE: Duration("exponential", 1.0 / rate) if rate > 0.0 else NEVER,
        k.T_FRAILTY: shape,
        k.T_STRENGTH: strength,
        k.T_TRY: s.holding.try_clock,
        k.T_CLIMB: s.holding.climb_clock,
        k.T_ROOT: s.holding.root_clock,
        k.T_LATE: s.holding.late_clock,
        k.T_RETRY: s.movement.retry,
        k.T_NEAR: s.holding.near_clock,
        k.T_HOLE: s.holding.hole_clock,
        k.T_RAISED: s.holding.gate_clock,
        k.T_FOLLOW: s.holding.follow_clock,
    }
    return _table(rows[row] for row in range(k.DURATION_ROWS))


def _table(durations: Iterable[Duration | None]) -> tuple[Ints, Floats]:
    """Kinds (-1 where the engine computes the time itself) and parameters."""
    given = list(durations)
    kinds = [-1 if d is None else k.DISTRIBUTION_CODES[d.kind] for d in given]
    values = [(0.0, 0.0) if d is None else (d.a, d.b) for d in given]
    return np.array(kinds, np.int64), np.array(values, np.float64).reshape(len(given), 2)


def _patches(scenario: Scenario) -> Records:
    found, space = places.patches(scenario), scenario.bait.space
    upto = np.cumsum([patch.share for patch in found])
    return filled(
        Patch,
        [
            Patch(*patch.middle, patch.radius, float(share), patch.room(space))
            for patch, share in zip(found, upto, strict=True)
        ],
    )


def _openings(scenario: Scenario, setup: Setup) -> Records:
    rows = []
    comes_by = np.cumsum(approach.shares(scenario))
    at = places.openings(scenario)
    for number, (opening, solved) in enumerate(zip(scenario.opening, setup.openings, strict=True)):
        delay = solved.release_delay
        row = Opening(
            width=opening.width,
            height=opening.height,
            depth=opening.gate.depth,
            x=at[number][0],
            y=at[number][1],
            clearance=solved.curve.height,
            by_gap=solved.curve.measure == "gap",
            hang_probability=1.0 if solved.jams else solved.hang_probability,
            choice=float(comes_by[number]),
            exit_force=_exit_force(solved, scenario),
            lock_fails=opening.gate.lock_fails if solved.locked else 1.0,
            delay_kind=k.DISTRIBUTION_CODES[delay.kind],
            delay_a=delay.a,
            delay_b=delay.b,
            **_latch(solved),
            **_one_way(opening, solved, scenario),
        )
        rows.append(row)
    return filled(Opening, rows)


def _exit_force(solved: OpeningSetup, scenario: Scenario) -> float:
    """What opens the shut gate far enough for the smallest that comes, N."""
    return opens_with(solved, min(clearances(scenario, solved.curve.measure).values()))


def _one_way(opening: Any, solved: OpeningSetup, scenario: Scenario) -> dict[str, Any]:
    if not opening.gate.one_way:
        return {}
    return {
        "one_way": 1,
        "push_force": solved.gate.push_force,
        "push_sigma": opening.gate.push_force.sigma,
        "willing_share": willing_share(opening, scenario),
        "late_share": opening.gate.late_entry,
    }


def _latch(solved: OpeningSetup) -> dict[str, Any]:
    """Of the pull needed and given: ln and sigma of what scatters, and what does not, in N."""
    dead = not within_reach(solved.chain)
    needs, gives = solved.required, solved.available
    return {
        "need_mu": math.inf if dead else _ln(needs.median - needs.steady),
        "need_sigma": 0.0 if dead else needs.sigma,
        "need_steady": 0.0 if dead else needs.steady,
        "pull_mu": _ln(gives.median - gives.steady),
        "pull_sigma": gives.sigma,
        "pull_steady": gives.steady,
        "own_pull": solved.puller != "animal",
        "slips_below": slips_below(solved.chain),
        "trip_travel": solved.trip_travel,
    }


def _ln(force: float) -> float:
    return math.log(force) if force > 0.0 else NO_PULL


def _stack(setup: Setup, name: str) -> Floats:
    curves: list[ClosingCurve] = [solved.curve for solved in setup.openings]
    return np.ascontiguousarray(np.stack([getattr(curve, name) for curve in curves]), np.float64)


def _triggers(scenario: Scenario, setup: Setup, group: Group) -> dict[str, Any]:
    parts: tuple[Any, ...] = scenario.trigger.parts
    rows, count = group.size + 1, len(parts)
    own_kinds = np.zeros((count, k.TRIGGER_DURATIONS), np.int64)
    own_times = np.zeros((count, k.TRIGGER_DURATIONS, 2))
    for t, part in enumerate(parts):
        own_kinds[t], own_times[t] = _trigger_durations(part)
    tables = [_offered(part, "tables", lambda *_: {})(part, scenario) for part in parts]
    return {
        "triggers": filled(Trigger, [_trigger(part, scenario, setup) for part in parts], SHAPES),
        "trigger_duration_kind": own_kinds,
        "trigger_duration": own_times,
        "bucket_speed": _one_a_trigger(tables, "bucket_speed", 0.0, (rows, k.BAIT_LEVELS)),
        "seen_cdf": _one_a_trigger(tables, "seen_cdf", 1.0, (rows, 1)),
        "rule": _one_a_trigger(tables, "rule", math.inf, (1, 3)),
        "combine_all": np.array([scenario.trigger.combine == "all"], np.int64),
    }


def _one_a_trigger(
    tables: list[dict[str, Floats]], name: str, otherwise: float, least: tuple[int, int]
) -> Floats:
    """float[triggers, ...]: the table of that name of each, as large as the largest and ``least``;
    ``otherwise`` where a trigger has none or a smaller one."""
    shapes = [least, *(table[name].shape for table in tables if name in table)]
    stacked = np.full((len(tables), *np.max(shapes, axis=0)), otherwise)
    for t, table in enumerate(tables):
        if name in table:
            height, width = table[name].shape
            stacked[t, :height, :width] = table[name]
    return stacked


def _trigger(part: Any, scenario: Scenario, setup: Setup) -> Trigger:
    return Trigger(k.TRIGGER_CODES[part.kind], **_of_kind(part).row(part, scenario, setup))


def _of_kind(part: Any) -> ModuleType:
    """What the engines read of a trigger stands in the module of its kind."""
    return module_of("soundergate.triggers", part.kind)


def _offered(part: Any, name: str, otherwise: Callable[..., Any]) -> Callable[..., Any]:
    """What not every kind has to say."""
    return getattr(_of_kind(part), name, otherwise)


def _trigger_durations(part: Any) -> tuple[Ints, Floats]:
    rows: list[Duration | None] = [None] * k.TRIGGER_DURATIONS
    for name, duration in _of_kind(part).durations(part).items():
        rows[getattr(k, name)] = duration
    return _table(rows)
