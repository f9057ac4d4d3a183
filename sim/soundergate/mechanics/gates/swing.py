"""The motion of one leaf about its hinge, by SciPy, and the closing curve that follows from it.

A `Swing` says what turns the leaf: a conservative closing moment with its potential, friction at
the hinge, and the air. ``angle`` is measured from shut and falls while the leaf closes; ``rate``
is the closing rate, positive while it closes: I d(rate)/dt = moment + air - friction.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf
from typing import Protocol

import numpy as np

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.bounded import integrate
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates.plate import Values
from soundergate.mechanics.model import Array, ClosingCurve, GateSolution

Moment = Callable[[Values], Values]
Dissipation = Callable[[Values, Values], Values]

LONGEST = 120.0
"""A gate that has not shut after this many seconds counts as not shutting."""

_RTOL, _ATOL = 1e-10, 1e-12


def _zero(*_: Values) -> Values:
    return 0.0


@dataclass(frozen=True)
class Swing:
    """What turns one leaf (SI; angle rad from shut, rate rad/s positive when closing).

    ``inertia`` kg m^2 of all that moves; ``moment(angle)`` N m, positive when it closes;
    ``potential(angle)`` J, with d potential / d angle = moment; ``friction(angle, rate)`` N m,
    at least 0; ``air(angle, rate)`` N m, positive when it closes. All take numbers or arrays.
    """

    inertia: float
    moment: Moment
    potential: Moment
    friction: Dissipation = _zero
    air: Dissipation = _zero

    def starting_moment(self, angle: float) -> float:
        """Closing moment (N m) left over at rest after friction; not above 0 = does not move."""
        return float(self.moment(angle) + self.air(angle, 0.0) - self.friction(angle, 0.0))

    def acceleration(self, angle: Values, rate: Values, sense: float = 1.0) -> Values:
        """d rate / dt (rad/s^2) of a leaf that closes (``sense`` 1) or opens (-1).

        Of a leaf at rest, a value not above 0 says that it stays.
        """
        rub = sense * self.friction(angle, np.abs(rate))
        push = self.moment(angle) + self.air(angle, rate) - rub
        return push / self.inertia


@dataclass(frozen=True)
class Motion:
    """One stretch of movement in one direction, from ``angle[0]`` until shut, a stop, or time up.

    Arrays over the solver's steps: ``time`` s, ``angle`` rad, ``rate`` rad/s, ``heat`` J lost to
    friction so far, ``air_work`` J given by the air so far. ``stopped`` says that the leaf came to
    rest before it was shut. ``state(t)`` gives (angle, rate, heat, air_work) at any times.
    """

    time: Array
    angle: Array
    rate: Array
    heat: Array
    air_work: Array
    shut: bool
    stopped: bool
    state: Callable[[Array], Array]


def move(swing: Swing, start: float, rate: float = 0.0, end: float = 0.0) -> Motion:
    """Follow the leaf from ``start`` (rad) with ``rate`` (rad/s) until ``end``, or until it stops.

    A negative ``rate`` opens the leaf; the motion then ends where it turns back. A leaf at rest
    whose `Swing.starting_moment` is not above 0 does not move at all.
    """
    if rate == 0.0 and swing.starting_moment(start) <= 0.0:
        return _at_rest(start)
    sense = -1.0 if rate < 0.0 else 1.0

    def slope(_: float, y: Array) -> tuple[float, float, float, float]:
        angle, w = float(y[0]), float(y[1])
        rub, air = swing.friction(angle, abs(w)), swing.air(angle, w)
        gained = (swing.moment(angle) + air - sense * rub) / swing.inertia
        return -w, float(gained), float(rub * abs(w)), float(air * w)

    def arrived(_: float, y: Array) -> float:
        return float(y[0]) - end

    def halted(_: float, y: Array) -> float:
        return sense * float(y[1])

    for event in (arrived, halted):
        event.terminal = True  # type: ignore[attr-defined]
        event.direction = -1.0  # type: ignore[attr-defined]
    answer = integrate(
        slope,
        (0.0, LONGEST),
        [start, rate, 0.0, 0.0],
        what="the gate",
        rtol=_RTOL,
        atol=_ATOL,
        events=(arrived, halted),
        dense_output=True,
    )
    angle, w, heat, air_work = answer.y
    return Motion(
        time=answer.t,
        angle=angle,
        rate=w,
        heat=heat,
        air_work=air_work,
        shut=bool(len(answer.t_events[0])),
        stopped=bool(len(answer.t_events[1])),
        state=answer.sol,
    )


def _at_rest(angle: float) -> Motion:
    zero = np.zeros(1)
    return Motion(
        time=zero,
        angle=np.array([angle]),
        rate=zero,
        heat=zero,
        air_work=zero,
        shut=False,
        stopped=True,
        state=lambda t: np.vstack([np.full_like(t, angle), *(np.zeros_like(t) for _ in range(3))]),
    )


@dataclass(frozen=True)
class Bounce:
    """The first bounce off the stop: how far the leaf opens again (rad) and for how long (s)."""

    angle: float
    time: float


def bounce(swing: Swing, rate: float, restitution: float) -> Bounce:
    """Where a leaf that hits its stop at ``rate`` (rad/s) goes next.

    ``restitution`` is speed after over speed before, 0..1. The leaf opens until it turns, and, if
    friction lets it, shuts again; a leaf that stays open there has an infinite time.
    """
    if restitution <= 0.0 or rate <= 0.0:
        return Bounce(0.0, 0.0)
    out = move(swing, 0.0, -restitution * rate)
    top = float(out.angle[-1])
    back = move(swing, top)
    return Bounce(top, float(out.time[-1] + back.time[-1]) if back.shut else inf)


def closing_curve(
    swing: Swing,
    start: float,
    clear: Array,
    angles: Array,
    struck_inertia: float,
    arm: float,
    measure: str = "height",
) -> ClosingCurve:
    """The closing curve of a leaf let go at ``start`` (rad).

    ``clear`` float[G] m and ``angles`` float[G] rad rise together; ``struck_inertia`` kg m^2 of
    all leaves together, for the energies; ``arm`` m from hinge to closing edge.
    """
    return curves.from_ode(
        clear,
        angles,
        swing.acceleration,
        inertia=struck_inertia,
        arm=arm,
        x_start=start,
        longest=LONGEST,
        measure=measure,
    )


class Windy(Protocol):
    """A gate whose ``wind`` (m/s) has a side: positive pushes it shut where it is set."""

    @property
    def wind(self) -> float: ...

    def solution(self) -> GateSolution: ...


def in_wind_from_either_side(gate: Windy) -> GateSolution:
    """A gate in a wind of ``gate.wind`` m/s that may blow from either side, one as likely.

    The latch has to carry the worse of the two. If the wind from one side keeps the gate from
    shutting, that adds half to the probability of hanging; the curve is the slower of those that
    shut. It jams only when it shuts in neither.
    """
    if gate.wind == 0.0:
        return gate.solution()
    against = replace(gate, wind=-gate.wind)  # type: ignore[type-var]
    sides = [gate.solution(), against.solution()]
    shutting = [side for side in sides if not side.jams]
    slowest = max(shutting or sides, key=lambda side: side.curve.shut_time)
    hanging = [1.0 if side.jams else side.hang_probability for side in sides]
    notes = slowest.notes
    if len(shutting) == 1:
        notes = (*notes, f"in a wind of {words.wind(gate.wind)} it shuts from one side only")
    return replace(
        slowest,
        holding_load=max(side.holding_load for side in sides),
        hang_probability=0.5 * sum(hanging),
        notes=notes,
    )
