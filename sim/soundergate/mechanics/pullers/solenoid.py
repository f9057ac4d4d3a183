"""A solenoid as puller: the motion of its plunger, and the time it takes to free a latch.

V - R i = N d(phi)/dt for the flux of the `coil`, and Newton's law for the plunger, which has to
beat the latch all the way. A solenoid of stated pull goes by the rise of its current alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, isfinite, log, sqrt
from typing import Any

import numpy as np

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.bounded import TooFine, integrate
from soundergate.mechanics.model import Array, LatchSolution, PullerSolution, Site
from soundergate.mechanics.pullers.coil import MU0, ROOM, Coil, cable_resistance, copper_resistance
from soundergate.mechanics.pullers.delays import later
from soundergate.scenario.distributions import Duration, LogNormal

BATTERY_CAUTION = (
    "Disconnect the battery before working on latch or wiring, fuse the supply, and keep a vented "
    "lead-acid battery away from sparks."
)


def rise_time(time_constant: float, share: float) -> float:
    """Time (s) for a current to reach ``share`` of its final value: -tau ln(1 - share)."""
    return inf if share >= 1.0 else -time_constant * log(1.0 - share)


@dataclass(frozen=True)
class PullIn:
    """How a pull went: ``response`` s until the plunger starts, ``time`` s until the travel is
    done (inf = never), ``stalled`` when it started and stuck; and over ``clock`` (s) the flux
    density (T), position (m), speed (m/s), current (A), energy drawn and energy heated away (J)."""

    response: float
    time: float
    stalled: bool
    clock: Array
    density: Array
    position: Array
    speed: Array
    current: Array
    drawn: Array
    heated: Array


def pull_in(coil: Coil, load: float, travel: float, spring_rate: float = 0.0) -> PullIn:
    """Switch the coil on and follow the plunger until it has moved ``travel`` (m).

    ``load`` N resists all the way (latch friction, spring preload), ``spring_rate`` N/m adds to it.
    SciPy's DOP853 with events: first the flux rises at rest until the pull equals the load, then
    the plunger moves; one that comes to rest waits for more flux and has stalled when none comes.
    A ``travel`` longer than the gap is never done.
    """
    reach = min(travel, coil.gap)
    longest = 50.0 * coil.turns**2 * MU0 * coil.area / coil.residual_gap / coil.total_resistance
    stages = [_stage(coil, load, spring_rate, (0.0,) * 5, longest, reach, moving=False)]
    # It may halt and start again; one that only creeps on towards a balance has stalled.
    while stages[-1].arrived and not stages[-1].done and len(stages) < _STAGES:
        moving, t0, state = len(stages) % 2 == 1, stages[-1].end, stages[-1].last
        stages.append(_stage(coil, load, spring_rate, state, longest, reach, moving=moving, t0=t0))
    done = stages[-1].done
    response = stages[0].end if stages[0].arrived else inf
    time = stages[-1].end if done and travel <= coil.gap else inf
    return _pull_in(coil, stages, response, time, isfinite(response) and not done)


_STAGES = 12


@dataclass(frozen=True)
class _Stage:
    clock: Array
    states: Array
    arrived: bool  # at the end of the stage, whatever that is
    done: bool = False  # the travel

    @property
    def last(self) -> tuple[float, ...]:
        return tuple(float(v) for v in self.states[:, -1])

    @property
    def end(self) -> float:
        return float(self.clock[-1])


def _stage(
    coil: Coil,
    load: float,
    spring_rate: float,
    state: tuple[float, ...],
    longest: float,
    reach: float,
    *,
    moving: bool,
    t0: float = 0.0,
) -> _Stage:
    resistance, turns, area = coil.total_resistance, coil.turns, coil.area

    def slope(_: float, y: Array) -> tuple[float, ...]:
        b, x, v = (float(value) for value in y[:3])
        current = coil.ampere_turns(b, coil.gap - x) / turns
        flux_rate = (coil.volts - resistance * current) / turns
        push = (b * b * area / (2.0 * MU0) - load - spring_rate * x) / coil.plunger
        drawn, heated = coil.volts * current, resistance * current * current
        return flux_rate / area, v if moving else 0.0, push if moving else 0.0, drawn, heated

    def pulls(_: float, y: Array) -> float:
        return float(y[0] * y[0]) * area / (2.0 * MU0) - load - spring_rate * float(y[1])

    def done(_: float, y: Array) -> float:
        return float(y[1]) - reach

    def halts(t: float, y: Array) -> float:
        return float(y[2]) if t > t0 else 1.0

    events = [done, halts] if moving else [pulls]
    for event in events:
        event.terminal = True  # type: ignore[attr-defined]
        event.direction = -1.0 if event is halts else 1.0  # type: ignore[attr-defined]
    if not moving:
        state = (state[0], state[1], 0.0, *state[3:])
        if pulls(t0, np.array(state)) >= 0.0:
            return _Stage(np.array([t0]), np.array([state]).T, True)
    answer = integrate(
        slope,
        (t0, t0 + longest),
        state,
        what="the plunger",
        rtol=1e-10,
        atol=(1e-10, 1e-12, 1e-9, 1e-10, 1e-10),
        events=events,
    )
    met = [len(times) > 0 for times in answer.t_events]
    return _Stage(answer.t, answer.y, any(met), done=moving and met[0])


def _pull_in(
    coil: Coil, stages: list[_Stage], response: float, time: float, stalled: bool
) -> PullIn:
    clock = np.concatenate([s.clock for s in stages]) if stages else np.zeros(1)
    states = np.concatenate([s.states for s in stages], axis=1) if stages else np.zeros((5, 1))
    density, position, speed, drawn, heated = states
    current = [
        coil.ampere_turns(float(b), coil.gap - float(x)) / coil.turns
        for b, x in zip(density, position, strict=True)
    ]
    return PullIn(
        response=response,
        time=time,
        stalled=stalled,
        clock=clock,
        density=density,
        position=position,
        speed=speed,
        current=np.array(current),
        drawn=drawn,
        heated=heated,
    )


def stated_response(
    pull: float, load: float, time_constant: float, plunger: float, travel: float
) -> float:
    """Time (s) in which a solenoid of stated pull frees a latch, without its magnet's details.

    The current rises with ``time_constant`` (s) and the force with its square, so the plunger
    starts at -tau ln(1 - sqrt(load / pull)); it then covers ``travel`` (m) under the spare of the
    full pull. inf when the load is not below the pull.
    """
    if pull <= 0.0 or load >= pull:
        return inf
    start = rise_time(time_constant, sqrt(max(0.0, load) / pull))
    return start + sqrt(2.0 * travel * plunger / (pull - load))


def stated(
    pull: LogNormal, delay: Duration, *, stroke: float = inf, notes: tuple[str, ...] = ()
) -> PullerSolution:
    """A solenoid with ``pull`` (N) at the start of its travel, and its scatter."""
    return PullerSolution(
        kind="solenoid",
        available=pull.median,
        available_sigma=pull.sigma,
        delay=delay,
        stroke=stroke,
        recharge="each release draws on the battery: check its voltage between nights",
        notes=notes,
        cautions=(BATTERY_CAUTION,),
        sketch={"pull": pull.median},
    )


STALLED_SHARE = 0.95
"""A solenoid too weak at typical friction is timed at this share of its own pull instead, the
case in which friction happens to be low enough."""


@dataclass(frozen=True)
class Circuit:
    """Battery, cable, relay and coil: what reaches the coil.

    ``volts`` of the battery at rest; ohm of the ``coil`` at its temperature, of the same ``cold``
    (at 20 degrees C), and ``outside`` of it; ``rated`` V at which the maker states the pull.
    """

    volts: float
    coil: float
    cold: float
    outside: float
    rated: float

    @property
    def current(self) -> float:
        """Once risen, A."""
        return self.volts / (self.coil + self.outside)

    @property
    def coil_volts(self) -> float:
        """Across the coil, V."""
        return self.current * self.coil

    @property
    def pull_share(self) -> float:
        """Of the maker's pull, what this current leaves: (i / i rated)^2, never above 1.

        Iron that the rated current saturates makes the truth no less than that; more current than
        rated is not counted on, since such iron gives no more for it.
        """
        return min(1.0, self.current * self.cold / self.rated) ** 2

    def time_constant(self, inductance: float) -> float:
        """L / R of the whole circuit, s."""
        return inductance / (self.coil + self.outside)


def circuit_of(latch: Any) -> Circuit:
    """The circuit of a scenario's latch table."""
    return Circuit(
        volts=latch.volts,
        coil=copper_resistance(latch.resistance, latch.temperature),
        cold=latch.resistance,
        outside=_outside(latch),
        rated=latch.rated_volts,
    )


def pull_there(
    stated_pull: float, share: float, stated_gap: float, gap: float, rest: float
) -> float:
    """Pull (N) across ``gap`` (m), of one stated at ``stated_gap`` of which ``share`` is left.

    F0 share ((g0 + r) / (g + r))^2 with the gap r = ``rest`` that never closes: the law of
    `coil.gap_force`. Iron that saturates at the stated gap makes the truth no less further out.
    """
    return stated_pull * share * ((stated_gap + rest) / (gap + rest)) ** 2


def start_gap(latch: Any, travel: float) -> float:
    """The gap (m) from which the plunger sets out: the stated one, or as far as the latch needs."""
    return float(max(latch.gap, min(travel, latch.stroke)))


def solve(latch: Any, opening: Any, site: Site, need: LatchSolution) -> PullerSolution:
    """The solenoid of a scenario's latch table, by its stated pull or by its coil.

    Its pull is that at the start of its travel, where it is least. The uncertain supply scales
    either pull.
    """
    supply = latch.supply
    if latch.turns is not None:
        return _by_coil(latch, supply, need)
    circuit, start = circuit_of(latch), start_gap(latch, need.trip_travel)
    there = pull_there(latch.pull, circuit.pull_share, latch.gap, start, latch.residual_gap)
    pull = supply.scaled(there)
    load = min(need.pull_required, STALLED_SHARE * pull.median)
    time = 0.0
    if pull.median > 0.0:
        constant = circuit.time_constant(latch.inductance)
        time = stated_response(pull.median, load, constant, latch.plunger, need.trip_travel)
    at_gap = ((start + latch.residual_gap) / (latch.gap + latch.residual_gap)) ** 2
    found = stated(
        pull, _delay(latch, time), stroke=latch.stroke, notes=_notes(latch, circuit, supply, start)
    )
    return replace(found, sketch={**found.sketch, "gap": latch.gap, "at_gap": at_gap})


def _notes(latch: Any, circuit: Circuit, supply: LogNormal, start: float) -> tuple[str, ...]:
    """Where the maker's figure is taken to hold, and what is left of it here."""
    lines = [
        f"its pull of {words.force(latch.pull)} is assumed to hold at {circuit.rated:.3g} V, with "
        f"a cold coil and a gap of {words.travel(latch.gap)}",
        f"of the battery's {circuit.volts:.3g} V, {circuit.coil_volts:.3g} V reach the coil; "
        f"warm as it is, that leaves {words.percent(circuit.pull_share)} of the pull"
        + ("" if circuit.pull_share > NOTABLE_LOSS else ": thicker or shorter cable gives more"),
    ]
    if supply.median < 1.0:
        lines.append(
            f"of what is left {words.percent(supply.median)} is counted on, because a battery "
            "tires; that share is assumed: write supply to state your own"
        )
    if start > latch.gap:
        there = pull_there(latch.pull, 1.0, latch.gap, start, latch.residual_gap)
        lines.append(
            f"the latch needs its plunger {words.travel(start)} out, where its pull falls to "
            f"{words.percent(there / latch.pull if latch.pull else 0.0)} of that at the stated gap"
        )
    return tuple(lines)


NOTABLE_LOSS = 0.7
"""Share of the pull left below which better cable is worth a word."""


def _outside(latch: Any) -> float:
    """Resistance (ohm) of cable, relay and battery."""
    cable = cable_resistance(latch.wire_length, latch.wire_gauge)
    return float(cable + latch.relay_resistance + latch.battery_resistance)


def _delay(latch: Any, seconds: float) -> Duration:
    """From the command to the gate moving: as stated, or the relay's time and the plunger's."""
    return latch.delay if latch.delay is not None else later(latch.relay, seconds)


def coil_of(latch: Any, gap: float | None = None) -> Coil:
    """The coil of a scenario's latch table at full voltage, from ``gap`` (m) if not its own."""
    return Coil(
        turns=latch.turns,
        area=latch.plunger_area,
        gap=latch.gap if gap is None else gap,
        plunger=max(latch.plunger, LEAST_PLUNGER),
        volts=latch.volts,
        resistance=latch.resistance,
        saturation=latch.saturation,
        temperature=latch.temperature,
        outside=_outside(latch),
        residual_gap=latch.residual_gap,
        iron_length=latch.iron_length,
    )


LEAST_PLUNGER = 1e-3
"""kg, so that a plunger of no stated mass still moves in finite time."""


def _pull_time(coil: Coil, load: float, travel: float) -> float:
    """Of `pull_in`, or where that is too fine to follow as if the pull did not grow on the way."""
    try:
        return pull_in(coil, load, travel).time
    except TooFine:
        constant = coil.inductance / coil.total_resistance
        return stated_response(coil.pull(), load, constant, coil.plunger, travel)


def _by_coil(latch: Any, supply: LogNormal, need: LatchSolution) -> PullerSolution:
    coil = coil_of(latch, start_gap(latch, need.trip_travel))
    pull = supply.scaled(coil.pull())
    # The supply is a share of the pull, and pull goes with the square of the voltage.
    sagged = replace(coil, volts=coil.volts * sqrt(supply.median))
    load = min(need.pull_required, STALLED_SHARE * sagged.pull())
    travel = min(need.trip_travel, coil.gap)
    time = _pull_time(sagged, load, travel) if sagged.volts > 0.0 else 0.0
    cold = replace(coil, temperature=ROOM, outside=0.0)
    share = coil.pull() / cold.pull() if cold.volts > 0.0 else 1.0
    notes = (
        f"coil of {coil.turns} turns with {coil.current:.1f} A pulls {words.force(coil.pull())} "
        f"across its open gap: cable, relay, battery and a warm coil leave "
        f"{100 * share:.0f} % of it",
    )
    return stated(
        pull, _delay(latch, time if isfinite(time) else 0.0), stroke=latch.stroke, notes=notes
    )
