"""Compressed air on its way to the cylinder: valve, hose, chamber, piston, tank.

Flow follows ISO 6358: sonic conductance C (m^3/(s Pa); 1 dm^3/(s bar) = 1e-8) and critical
pressure ratio b. All pressures are absolute (Pa). A chamber is filled isothermally (slow, walls
keep up) or adiabatically (fast); the truth of a release lies between the two, nearer the second.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, inf, isinf, pi, sqrt

import numpy as np

from soundergate.mechanics.bounded import integrate
from soundergate.mechanics.model import Array

ATMOSPHERE = 101325.0
"""Standard atmosphere, Pa (ISO 2533)."""

REFERENCE_DENSITY = 1.185
REFERENCE_TEMPERATURE = 293.15
"""Density (kg/m^3) and temperature (K) of the reference atmosphere ANR (ISO 8778; from memory)."""

GAS_CONSTANT = 287.05
"""Specific gas constant of dry air, J/(kg K)."""

GAMMA = 1.4
"""Ratio of specific heats of air."""

LAMINAR = 0.999
"""Pressure ratio above which the flow is taken as proportional to the pressure difference."""


@dataclass(frozen=True)
class Conductance:
    """ISO 6358 characteristics: ``c`` m^3/(s Pa) and critical pressure ratio 0 <= ``b`` < 1."""

    c: float
    b: float


def mass_flow(
    part: Conductance, upstream: float, downstream: float, temperature: float = 293.15
) -> float:
    """Mass flow (kg/s) from ``upstream`` to ``downstream`` (Pa), air at ``temperature`` (K).

    ISO 6358: C p1 rho0 sqrt(T0 / T1) while p2/p1 <= b, times sqrt(1 - ((r - b)/(1 - b))^2) above;
    a straight line to 0 above r = 0.999 keeps the slope finite. No flow backwards.
    """
    if upstream <= downstream:
        return 0.0
    choked = part.c * upstream * REFERENCE_DENSITY * sqrt(REFERENCE_TEMPERATURE / temperature)
    return choked * _ellipse(downstream / upstream, part.b)


def _ellipse(ratio: float, b: float) -> float:
    if ratio <= b:
        return 1.0
    if ratio > LAMINAR and b < LAMINAR:
        return _ellipse(LAMINAR, b) * (1.0 - ratio) / (1.0 - LAMINAR)
    x = (ratio - b) / (1.0 - b)
    return sqrt(max(0.0, 1.0 - x * x))


def hose(bore: float, length: float) -> Conductance:
    """Conductance of a smooth hose, ``bore`` and ``length`` in m.

    C = 0.029 d^2 / sqrt(l / d^1.25 + 510), b = 474 C / d^2: an empirical fit, from memory.
    """
    c = 0.029 * bore * bore / sqrt(length / bore**1.25 + 510.0)
    return Conductance(c, min(0.528, 474.0 * c / (bore * bore)))


def in_series(*parts: Conductance) -> Conductance:
    """One conductance for parts that the air passes one after another.

    C is exact: parts in a row pass the same mass flow into a vacuum. b is chosen so that the flow
    at p2/p1 = 0.8 is right (the numerical idea of ISO 6358-3, for two parts at a time).
    """
    if not parts:
        raise ValueError("in_series needs at least one part")
    joint = parts[0]
    for part in parts[1:]:
        joint = _pair(joint, part)
    return joint


def _pair(first: Conductance, second: Conductance) -> Conductance:
    c = _series_share(first, second, 0.0)
    share = _series_share(first, second, _FIT_RATIO) / c
    if share >= 1.0:
        return Conductance(c, _FIT_RATIO)
    root = sqrt(1.0 - share * share)  # (r - b) / (1 - b) at the fitted ratio
    return Conductance(c, max(0.0, (_FIT_RATIO - root) / (1.0 - root)))


_FIT_RATIO = 0.8


def _series_share(first: Conductance, second: Conductance, ratio: float) -> float:
    """Flow of two parts in series per unit of upstream pressure and reference density."""
    from scipy.optimize import brentq

    def excess(middle: float) -> float:
        through = second.c * middle * _ellipse(ratio / middle, second.b)
        return first.c * _ellipse(middle, first.b) - through

    low = max(ratio, 1e-12)
    middle = brentq(excess, low, 1.0, xtol=1e-14)
    return float(first.c * _ellipse(middle, first.b))


def filling_time(
    part: Conductance,
    supply: float,
    start: float,
    end: float,
    volume: float,
    temperature: float = REFERENCE_TEMPERATURE,
    adiabatic: bool = True,
) -> float:
    """Time (s) to fill ``volume`` (m^3) from ``start`` to ``end`` (Pa) at a constant ``supply``.

    Closed form of the ISO 6358 flow without the laminar patch: a straight rise while choked, then
    an arcsine; isothermal divided by gamma when ``adiabatic``. inf when the supply is too low.
    """
    if end <= start:
        return 0.0
    if end > supply:
        return inf
    rate = part.c * REFERENCE_DENSITY * GAS_CONSTANT
    rate *= sqrt(REFERENCE_TEMPERATURE * temperature) / volume
    low, high, b = start / supply, end / supply, part.b
    choked = max(0.0, min(high, b) - low)
    above = asin((max(high, b) - b) / (1.0 - b)) - asin((max(low, b) - b) / (1.0 - b))
    time = (choked + (1.0 - b) * above) / rate
    return time / GAMMA if adiabatic else time


@dataclass(frozen=True)
class AirPull:
    """A cylinder that pulls a latch, in SI units and absolute pressures.

    ``area`` m^2 on which the air acts (bore less rod when retracting); ``dead_volume`` m^3 of hose
    and clearance before the piston moves; ``load`` N of the latch, ``seal_friction`` N; ``mass``
    kg of what moves; ``travel`` m to free the latch; ``supply`` Pa; ``tank`` m^3 (inf: a regulator
    holds the supply); ``path`` from tank to chamber; ``valve_delay`` s before the valve passes air.
    """

    area: float
    dead_volume: float
    load: float
    mass: float
    travel: float
    supply: float
    path: Conductance
    seal_friction: float = 0.0
    tank: float = inf
    valve_delay: float = 0.0
    ambient: float = ATMOSPHERE
    temperature: float = REFERENCE_TEMPERATURE
    adiabatic: bool = True

    @property
    def needed_pressure(self) -> float:
        """Chamber pressure (Pa) at which the piston begins to move."""
        return self.ambient + (self.load + self.seal_friction) / self.area


@dataclass(frozen=True)
class AirRelease:
    """How a release went: ``pull_time`` s to the needed pull, ``release_time`` s to the end of the
    travel (both with the valve's delay; inf = never), and the histories time (s), supply and
    chamber pressure (Pa), position (m), speed (m/s)."""

    pull_time: float
    release_time: float
    time: Array
    supply: Array
    chamber: Array
    position: Array
    speed: Array


def release(pull: AirPull, longest: float = 30.0) -> AirRelease:
    """Fill the chamber and move the piston until the latch is free (SciPy, DOP853 with events).

    The chamber starts at ambient pressure. First it fills at rest to `AirPull.needed_pressure`,
    then the piston moves. A piston that stops short, or a pressure that is never reached within
    ``longest`` s, gives inf.

    Raises
    ------
    TooFine : a piston too wide for its mass, which `steady_release` times.
    """
    filled = _stage(pull, (pull.supply, pull.ambient, 0.0, 0.0), longest, moving=False)
    if not filled.arrived:
        return _as_release(pull, inf, inf, [filled])
    moved = _stage(pull, filled.last, longest, moving=True, since=float(filled.time[-1]))
    pull_time = pull.valve_delay + float(filled.time[-1])
    done = pull.valve_delay + float(moved.time[-1]) if moved.arrived else inf
    return _as_release(pull, pull_time, done, [filled, moved])


def steady_release(pull: AirPull) -> float:
    """Time (s) to the end of the travel with a piston that has no mass to speak of; inf if never.

    The chamber fills to `AirPull.needed_pressure` and keeps it while the piston goes as fast as air
    comes in: n p A v = n R T flow. The supply is taken as that of a regulator, and a tank as what
    it holds when it has given the whole stroke its air.
    """
    needed, volume = pull.needed_pressure, pull.dead_volume + pull.area * pull.travel
    supply = pull.supply
    if not isinf(pull.tank):
        n = GAMMA if pull.adiabatic else 1.0
        used = needed * volume - pull.ambient * pull.dead_volume
        supply *= max(0.0, 1.0 - used / (pull.supply * pull.tank)) ** n
    flow = mass_flow(pull.path, supply, needed, pull.temperature)
    if flow <= 0.0:
        return inf
    rest = filling_time(
        pull.path, supply, pull.ambient, needed, pull.dead_volume, pull.temperature, pull.adiabatic
    )
    moving = needed * pull.area * pull.travel / (GAS_CONSTANT * pull.temperature * flow)
    return pull.valve_delay + rest + moving


@dataclass(frozen=True)
class _Stage:
    time: Array
    states: Array
    arrived: bool

    @property
    def last(self) -> tuple[float, float, float, float]:
        a, b, c, d = (float(v) for v in self.states[:, -1])
        return a, b, c, d


def _stage(
    pull: AirPull,
    state: tuple[float, float, float, float],
    longest: float,
    *,
    moving: bool,
    since: float = 0.0,
) -> _Stage:
    n = GAMMA if pull.adiabatic else 1.0
    opposing = pull.load + pull.seal_friction

    def slope(_: float, y: Array) -> tuple[float, float, float, float]:
        tank, chamber, position, speed = (float(v) for v in y)
        temperature = pull.temperature
        if pull.adiabatic and not isinf(pull.tank):
            temperature *= (tank / pull.supply) ** ((GAMMA - 1.0) / GAMMA)
        heat = n * GAS_CONSTANT * temperature * mass_flow(pull.path, tank, chamber, temperature)
        speed = speed if moving else 0.0
        volume = pull.dead_volume + pull.area * position
        push = ((chamber - pull.ambient) * pull.area - opposing) / pull.mass if moving else 0.0
        return -heat / pull.tank, (heat - n * chamber * pull.area * speed) / volume, speed, push

    def pulls(_: float, y: Array) -> float:
        return float(y[1]) - pull.needed_pressure

    def free(_: float, y: Array) -> float:
        return float(y[2]) - pull.travel

    def halts(t: float, y: Array) -> float:
        return float(y[3]) if t > since else 1.0

    goal = free if moving else pulls
    events = [goal, halts] if moving else [goal]
    for event in events:
        event.terminal = True  # type: ignore[attr-defined]
        event.direction = -1.0 if event is halts else 1.0  # type: ignore[attr-defined]
    answer = integrate(
        slope,
        (since, since + longest),
        state,
        what="the piston",
        rtol=1e-10,
        atol=(1e-3, 1e-3, 1e-12, 1e-10),
        events=events,
    )
    return _Stage(answer.t, answer.y, bool(len(answer.t_events[0])))


def _as_release(pull: AirPull, pull_time: float, done: float, stages: list[_Stage]) -> AirRelease:
    time = np.concatenate([s.time for s in stages]) + pull.valve_delay
    states = np.concatenate([s.states for s in stages], axis=1)
    return AirRelease(pull_time, done, time, *(states[i] for i in range(4)))


def releases_in_tank(
    tank: float,
    full: float,
    needed: float,
    volume: float,
    dead_volume: float,
    ambient: float = ATMOSPHERE,
    regulated: float | None = None,
) -> int:
    """How many releases one filling of a tank gives, everything back at air temperature between.

    ``tank`` m^3 at ``full`` Pa; each release fills ``volume`` m^3 (dead volume and swept volume)
    that held ambient air in its ``dead_volume``. Without a regulator tank and chamber come to one
    pressure p (p_tank V + p_ambient V_dead)/(V + volume), and a release counts when p is still
    ``needed``. With one, each release takes its air at ``regulated`` and counts while the tank
    keeps at least that.
    """
    if tank <= 0.0 or full < needed:
        return 0
    used = regulated * volume - ambient * dead_volume if regulated is not None else 0.0
    floor = needed if regulated is None else max(regulated, needed)
    pressure, count = full, 0
    while count < _MANY:
        if regulated is None:
            pressure = (pressure * tank + ambient * dead_volume) / (tank + volume)
        else:
            pressure -= used / tank
        if pressure < floor:
            break
        count += 1
    return count


_MANY = 1_000_000


def hose_volume(bore: float, length: float) -> float:
    """Inner volume of a hose, m^3 (``bore`` and ``length`` m)."""
    return 0.25 * pi * bore * bore * length
