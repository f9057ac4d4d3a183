"""A solenoid as puller: circuit, magnet, plunger, and the time it takes to free a latch.

Circuit: i = V / (R coil + R cable + R battery), the coil's copper at its own temperature. Magnet:
one working gap g in a core of pole area A, with flux phi = B A. The ampere-turns N i are spent on
the gap, B g / mu0, and on the iron, which takes almost none until it saturates; whatever the iron
does, the force is B^2 A / (2 mu0), the derivative of the stored energy at constant flux. With
ideal iron that is (N i)^2 mu0 A / (2 g^2). Motion: V - R i = N d(phi)/dt and Newton's law for the
plunger, which has to beat the latch all the way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, isfinite, log, pi, sqrt
from typing import Any

import numpy as np

from soundergate.mechanics import words
from soundergate.mechanics.delays import later
from soundergate.mechanics.model import Array, LatchSolution, PullerSolution, Site, Uncertain
from soundergate.scenario.distributions import Duration

BATTERY_CAUTION = (
    "Disconnect the battery before working on latch or wiring, fuse the supply, and keep a vented "
    "lead-acid battery away from sparks."
)

MU0 = 4.0e-7 * pi
"""Magnetic constant, H/m (the exact value before 2019; it differs by less than 1e-9 since)."""

COPPER_COEFFICIENT = 0.00393
"""Rise of copper's resistance per kelvin, referred to 20 degrees C (IEC 60028)."""

COPPER_RESISTIVITY = 1.7241e-8
"""Ohm m of annealed copper at 20 degrees C (IEC 60028, 1/58 ohm mm^2/m)."""

ROOM = 293.15
"""20 degrees C in K."""

IRON_FIELD = 4000.0
IRON_STEEPNESS = 9
"""Field (A/m) that mild steel needs at its saturation density, and the power with which that need
rises: 4 kA/m at 1.6 T, 12 kA/m at 1.8 T, 35 kA/m at 2 T (handbook magnetisation curves, from
memory)."""


def gap_force(ampere_turns: float, area: float, gap: float) -> float:
    """Pull (N) with ideal iron, (N i)^2 mu0 A / (2 g^2); ``area`` m^2, ``gap`` m."""
    return ampere_turns**2 * MU0 * area / (2.0 * gap * gap)


def copper_resistance(at_room: float, temperature: float) -> float:
    """Resistance (ohm) of a copper winding at ``temperature`` (K), given that at 20 degrees C."""
    return at_room * (1.0 + COPPER_COEFFICIENT * (temperature - ROOM))


def wire_diameter(gauge: int) -> float:
    """Diameter (m) of American wire gauge number ``gauge``: 0.127 mm times 92^((36 - n)/39)."""
    return 0.127e-3 * 92.0 ** ((36 - gauge) / 39.0)


def cable_resistance(length: float, gauge: int, temperature: float = ROOM) -> float:
    """Resistance (ohm) of a two-wire cable ``length`` m long, there and back."""
    section = 0.25 * pi * wire_diameter(gauge) ** 2
    return copper_resistance(2.0 * length * COPPER_RESISTIVITY / section, temperature)


def rise_time(time_constant: float, share: float) -> float:
    """Time (s) for a current to reach ``share`` of its final value: -tau ln(1 - share)."""
    return inf if share >= 1.0 else -time_constant * log(1.0 - share)


@dataclass(frozen=True)
class Coil:
    """A solenoid and its circuit (SI).

    ``gap`` m before the pull; ``residual_gap`` m more never closes; ``saturation`` T of the iron
    and ``iron_length`` m of the flux path in it; ``plunger`` kg of all that moves; ``volts`` of the
    battery at rest; ``resistance`` ohm of the coil at 20 degrees C, ``temperature`` K of the coil,
    ``outside`` ohm of cable and battery.
    """

    turns: int
    area: float
    gap: float
    plunger: float
    volts: float
    resistance: float
    residual_gap: float = 0.3e-3
    saturation: float = 1.6
    temperature: float = ROOM
    outside: float = 0.0
    iron_length: float = 0.15

    @property
    def total_resistance(self) -> float:
        """Of the whole circuit with the coil at its temperature, ohm."""
        return copper_resistance(self.resistance, self.temperature) + self.outside

    @property
    def current(self) -> float:
        """Once risen, A."""
        return self.volts / self.total_resistance

    def ampere_turns(self, density: float, gap: float) -> float:
        """Ampere-turns that drive ``density`` (T) through gap (m, with the residual) and iron."""
        share = density / self.saturation
        iron = IRON_FIELD * self.iron_length * share**IRON_STEEPNESS
        return density * (gap + self.residual_gap) / MU0 + iron

    def density(self, current: float, gap: float) -> float:
        """Flux density (T) that ``current`` (A) holds across ``gap`` (m)."""
        from scipy.optimize import brentq

        wanted = self.turns * current
        if wanted <= 0.0:
            return 0.0
        ideal = MU0 * wanted / (gap + self.residual_gap)
        return float(brentq(lambda b: self.ampere_turns(b, gap) - wanted, 0.0, ideal, xtol=1e-14))

    def pull(self, gap: float | None = None, current: float | None = None) -> float:
        """Force (N) at ``gap`` (the open one if None) and ``current`` (the risen one if None)."""
        i = self.current if current is None else current
        b = self.density(i, self.gap if gap is None else gap)
        return b * b * self.area / (2.0 * MU0)

    def stored_energy(self, density: float, gap: float) -> float:
        """Energy of the field (J) at ``density`` (T) and ``gap`` (m)."""
        share = density / self.saturation
        iron = IRON_FIELD * self.iron_length * self.saturation / (IRON_STEEPNESS + 1)
        air = density * density * (gap + self.residual_gap) / (2.0 * MU0)
        return self.area * (air + iron * share ** (IRON_STEEPNESS + 1))

    @property
    def inductance(self) -> float:
        """With the gap open and the iron ideal, H: N^2 mu0 A / g."""
        return self.turns**2 * MU0 * self.area / (self.gap + self.residual_gap)


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

    def energy_error(self, coil: Coil, load: float, spring_rate: float = 0.0) -> float:
        """Greatest relative breach of the energy balance: drawn = heat + field + motion + work."""
        field = [
            coil.stored_energy(b, coil.gap - x)
            for b, x in zip(self.density, self.position, strict=True)
        ]
        work = load * self.position + 0.5 * spring_rate * self.position**2
        kept = np.array(field) + 0.5 * coil.plunger * self.speed**2 + work
        return float(np.max(np.abs(self.drawn - self.heated - kept)) / self.drawn[-1])


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
    from scipy.integrate import solve_ivp

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
    answer = solve_ivp(
        slope,
        (t0, t0 + longest),
        state,
        method="DOP853",
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
    pull: Uncertain, delay: Duration, *, stroke: float = inf, notes: tuple[str, ...] = ()
) -> PullerSolution:
    """A solenoid whose pull (N) over the whole travel is stated, with its scatter."""
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


def solve(latch: Any, opening: Any, site: Site, need: LatchSolution) -> PullerSolution:
    """The solenoid of a scenario's latch table, by its stated pull or by its coil.

    A stated pull is that of the solenoid as installed; it limits the travel only where the file
    states a gap. The uncertain supply scales either pull.
    """
    supply = Uncertain.of(latch.supply)
    if latch.turns is not None:
        return _by_coil(latch, supply, need)
    pull = supply.scaled(latch.pull)
    stroke = latch.gap if latch.gap is not None else inf
    load = min(need.pull_required, STALLED_SHARE * pull.median)
    outside = _outside(latch)
    coil = copper_resistance(latch.resistance, latch.temperature)
    time = 0.0
    if pull.median > 0.0:
        constant = latch.inductance / (coil + outside)
        time = stated_response(pull.median, load, constant, latch.plunger, need.trip_travel)
    left = (coil / (coil + outside)) ** 2
    notes = [] if left > NOTABLE_LOSS else [_loss_note(left)]
    if supply.median < 1.0:
        notes.append(
            f"of the stated {words.force(latch.pull)}, {100 * supply.median:.0f} % is counted on: "
            "a tired battery and a warm coil take the rest"
        )
    if stroke == inf and need.trip_travel > 0.0:
        notes.append(
            f"the solenoid has to keep up its pull over {words.travel(need.trip_travel)}: write "
            "its stroke as gap in the latch table to have that looked at"
        )
    return stated(pull, _delay(latch, time), stroke=stroke, notes=tuple(notes))


NOTABLE_LOSS = 0.8
"""Share of the pull left below which cable and battery are worth a word."""


def _loss_note(left: float) -> str:
    return (
        f"cable and battery leave {100 * left:.0f} % of the pull at full voltage: the stated pull "
        "is taken as what is left; thicker or shorter cable gives more"
    )


def _outside(latch: Any) -> float:
    """Resistance (ohm) of cable and battery."""
    return float(cable_resistance(latch.wire_length, latch.wire_gauge) + latch.battery_resistance)


def _delay(latch: Any, seconds: float) -> Duration:
    """From the command to the gate moving: as stated, or the relay's time and the plunger's."""
    return latch.delay if latch.delay is not None else later(latch.relay, seconds)


def coil_of(latch: Any) -> Coil:
    """The coil of a scenario's latch table at full voltage."""
    return Coil(
        turns=latch.turns,
        area=latch.plunger_area,
        gap=latch.gap,
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


def _by_coil(latch: Any, supply: Uncertain, need: LatchSolution) -> PullerSolution:
    coil = coil_of(latch)
    pull = supply.scaled(coil.pull())
    # The supply is a share of the pull, and pull goes with the square of the voltage.
    sagged = replace(coil, volts=coil.volts * sqrt(supply.median))
    load = min(need.pull_required, STALLED_SHARE * sagged.pull())
    travel = min(need.trip_travel, coil.gap)
    time = pull_in(sagged, load, travel).time if sagged.volts > 0.0 else 0.0
    cold = replace(coil, temperature=ROOM, outside=0.0)
    share = coil.pull() / cold.pull() if cold.volts > 0.0 else 1.0
    notes = (
        f"coil of {coil.turns} turns with {coil.current:.1f} A pulls {words.force(coil.pull())} "
        f"across its open gap: cable, battery and a warm coil leave {100 * share:.0f} % of it",
    )
    return stated(
        pull, _delay(latch, time if isfinite(time) else 0.0), stroke=coil.gap, notes=notes
    )
