"""Build closing curves: from forces that depend on position, from an ODE, from a closed form.

A gate has one coordinate x (m of travel, or rad), falling while it shuts, and a clearance that
falls with it. ``positions[j]`` is the x at which the clearance is ``clear[j]``; a gate may start
from ``x_start`` beyond ``positions[-1]``, where the opening is still wholly clear.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

from soundergate.mechanics.model import GRID, Array, ClosingCurve

SUBDIVISION = 64
"""Integration cells between two neighbours of the clearance grid."""


def clearances(height: float) -> Array:
    """The grid of clearances of an opening of ``height`` (m), float[G]."""
    if not height > 0.0:
        raise ValueError(f"height must be positive, got {height!r} m")
    return np.linspace(0.0, height, GRID)


def from_force(
    clear: Array,
    positions: Array,
    force: Callable[[Array], Array],
    *,
    inertia: float,
    struck_inertia: float | None = None,
    arm: float = 1.0,
    x_start: float | None = None,
    starts: Callable[[Array], Array] | None = None,
    measure: str = "height",
) -> ClosingCurve:
    """The curve of a gate whose net closing force depends on its position alone.

    Work and energy: ``inertia * v**2 / 2`` is the integral of ``force`` over the travel (3-point
    Gauss a cell); time is the sum of 2 dx / (v1 + v2), exact where the force is constant. A gate
    that loses all its speed stops there and gets no further.

    Parameters
    ----------
    clear, positions : float[G], clearances (m) and coordinates (m or rad), both rising.
    force : net closing force (N or N m) at an array of x, friction deducted.
    inertia : of all that moves (kg or kg m^2).
    struck_inertia : of what hits the animal, for the energies; that of all that moves if None.
    arm : edge speed per unit of coordinate speed (m per m, or m per rad).
    x_start : coordinate of the set gate; ``positions[-1]`` if None.
    starts : whether a gate at rest at x begins to move (bool array); ``force > 0`` if None.

    Raises
    ------
    ValueError : when the inertia is not positive.
    """
    if not inertia > 0.0:
        raise ValueError(f"inertia must be positive, got {inertia!r}")
    struck = inertia if struck_inertia is None else struck_inertia
    moves = starts if starts is not None else lambda x: force(x) > 0.0
    lead = positions[-1] if x_start is None else x_start
    fine, index = _fine_positions(positions, lead)
    work = _work_from_bottom(fine, force)
    rest_time, rest_speed = _zeros(len(clear)), _zeros(len(clear))
    starting = np.asarray(moves(positions), dtype=bool)
    for i in range(1, len(clear)):
        t, v = _run(fine, work, int(index[i]), inertia, bool(starting[i]))
        rest_time[i, :i], rest_speed[i, :i] = t[index[:i]], v[index[:i]]
    first = bool(np.asarray(moves(np.array([lead])))[0])
    t, v = _run(fine, work, len(fine) - 1, inertia, first)
    return ClosingCurve(
        height=float(clear[-1]),
        clear=clear,
        time=t[index],
        energy=0.5 * struck * v[index] ** 2,
        speed=arm * v[index],
        rest_time=rest_time,
        rest_energy=0.5 * struck * rest_speed**2,
        measure=measure,
    )


def from_ode(
    clear: Array,
    positions: Array,
    acceleration: Callable[[float, float], float],
    *,
    inertia: float,
    arm: float = 1.0,
    x_start: float | None = None,
    longest: float = 60.0,
    measure: str = "height",
) -> ClosingCurve:
    """The curve of a gate whose acceleration depends on position and speed (air drag, a damper).

    ``acceleration(x, v)`` is d(v)/dt with v = -dx/dt >= 0, the closing speed; a start from rest
    with no positive acceleration stays put, and a gate that comes to rest stops. SciPy's DOP853
    with events for both ends, relative tolerance 1e-10; at most ``longest`` s of motion, beyond
    which a gate counts as hanging. Other parameters as in `from_force`.
    """
    lead = float(positions[-1] if x_start is None else x_start)
    rest_time, rest_speed = _zeros(len(clear)), _zeros(len(clear))
    for i in range(1, len(clear)):
        run = _integrate(float(positions[i]), positions[:i], acceleration, longest)
        rest_time[i, :i], rest_speed[i, :i] = run
    time, speed = _integrate(lead, positions, acceleration, longest)
    return ClosingCurve(
        height=float(clear[-1]),
        clear=clear,
        time=time,
        energy=0.5 * inertia * speed**2,
        speed=arm * speed,
        rest_time=rest_time,
        rest_energy=0.5 * inertia * rest_speed**2,
        measure=measure,
    )


def from_closed_form(
    clear: Array,
    positions: Array,
    time: Callable[[float, float], float],
    speed: Callable[[float, float], float],
    *,
    inertia: float,
    arm: float = 1.0,
    x_start: float | None = None,
    measure: str = "height",
) -> ClosingCurve:
    """The curve of a gate with a known solution.

    ``time(a, b)`` and ``speed(a, b)`` are the time from rest at coordinate a to coordinate b <= a
    and the speed there; a time of inf says the gate does not get to b. Others as in `from_force`.
    """
    lead = float(positions[-1] if x_start is None else x_start)
    n = len(clear)
    rest_time, rest_speed = _zeros(n), _zeros(n)
    for i in range(1, n):
        for j in range(i):
            rest_time[i, j] = time(float(positions[i]), float(positions[j]))
            rest_speed[i, j] = speed(float(positions[i]), float(positions[j]))
    v = np.array([speed(lead, float(x)) for x in positions])
    return ClosingCurve(
        height=float(clear[-1]),
        clear=clear,
        time=np.array([time(lead, float(x)) for x in positions]),
        energy=0.5 * inertia * v**2,
        speed=arm * v,
        rest_time=rest_time,
        rest_energy=0.5 * inertia * rest_speed**2,
        measure=measure,
    )


def never(height: float, measure: str = "height") -> ClosingCurve:
    """The curve of a gate that does not move: a jam, or an opening that nothing shuts."""
    clear = clearances(height)
    time = np.full(GRID, inf)
    time[-1] = 0.0
    rest = np.tril(np.full((GRID, GRID), inf), -1)
    zero = np.zeros(GRID)
    still = np.zeros((GRID, GRID))
    return ClosingCurve(height, clear, time, zero, zero, rest, still, measure)


def at_once(height: float, measure: str = "height") -> ClosingCurve:
    """The curve of a gate that is shut the instant it is let go (special cases, exact answers)."""
    zero, still = np.zeros(GRID), np.zeros((GRID, GRID))
    return ClosingCurve(height, clearances(height), zero, zero, zero, still, still, measure)


def _zeros(n: int) -> Array:
    return np.zeros((n, n))


def _fine_positions(positions: Array, lead: float) -> tuple[Array, NDArray[np.intp]]:
    """Positions split into cells, with the index of each original one; the lead-in comes last."""
    cells = [np.linspace(a, b, SUBDIVISION, endpoint=False) for a, b in pairwise(positions)]
    if lead > positions[-1]:
        cells.append(np.linspace(positions[-1], lead, 16 * SUBDIVISION, endpoint=False))
    fine = np.concatenate([*cells, [lead if lead > positions[-1] else positions[-1]]])
    return fine, np.arange(len(positions), dtype=np.intp) * SUBDIVISION


_GAUSS = (
    np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)]),
    np.array([5.0, 8.0, 5.0]) / 18.0,
)
"""Nodes on [-1, 1] and weights on a unit cell of the 3-point Gauss-Legendre rule."""


def _work_from_bottom(fine: Array, force: Callable[[Array], Array]) -> Array:
    """Work (J) of the closing force from ``fine[k]`` down to ``fine[0]``, float[K]."""
    step = np.diff(fine)
    middle = 0.5 * (fine[:-1] + fine[1:])
    nodes, weights = _GAUSS
    cell = sum(
        w * np.asarray(force(middle + 0.5 * step * node), dtype=float)
        for node, w in zip(nodes, weights, strict=True)
    )
    return np.concatenate([[0.0], np.cumsum(cell * step)])


def _run(fine: Array, work: Array, start: int, inertia: float, starts: bool) -> tuple[Array, Array]:
    """Times (s) and speeds from rest at ``fine[start]`` down; inf and 0 where it does not get.

    Positions above the start, which the gate does not pass, have time 0.
    """
    time, speed = np.zeros(len(fine)), np.zeros(len(fine))
    if not starts:
        time[:start] = inf
        return time, speed
    square = 2.0 * (work[start] - work[: start + 1]) / inertia
    stuck = np.flatnonzero(square[:start] <= 0.0)
    lowest = int(stuck[-1]) + 1 if len(stuck) else 0
    v = np.sqrt(square[lowest:])
    v[-1] = 0.0
    if len(v) > 1:
        step = np.diff(fine[lowest : start + 1])
        cell = 2.0 * step / (v[:-1] + v[1:])
        time[lowest:start] = np.cumsum(cell[::-1])[::-1]
    speed[lowest : start + 1] = v
    time[:lowest] = inf
    return time, speed


def _integrate(
    start: float, targets: Array, acceleration: Callable[[float, float], float], longest: float
) -> tuple[Array, Array]:
    """Times and speeds at ``targets`` (rising, all <= start) from rest at ``start``."""
    from scipy.integrate import solve_ivp

    if not acceleration(start, 0.0) > 0.0:
        still = targets >= start
        return np.where(still, 0.0, inf), np.zeros(len(targets))

    def bottom(t: float, y: Array) -> float:
        return float(y[0] - targets[0])

    def at_rest(t: float, y: Array) -> float:
        return float(y[1]) if t > 0.0 else 1.0

    for event, direction in ((bottom, -1.0), (at_rest, -1.0)):
        event.terminal = True  # type: ignore[attr-defined]
        event.direction = direction  # type: ignore[attr-defined]
    run = solve_ivp(
        lambda t, y: (-y[1], acceleration(float(y[0]), float(y[1]))),
        (0.0, longest),
        (start, 0.0),
        method="DOP853",
        rtol=1e-10,
        atol=1e-12,
        dense_output=True,
        events=(bottom, at_rest),
    )
    last = float(run.t[-1])
    reached = targets >= run.y[0, -1] - 1e-9 * max(1.0, start)
    time = np.where(targets >= start, 0.0, _crossings(run.sol, targets, last))
    speed = np.where(reached & (targets < start), np.maximum(run.sol(time)[1], 0.0), 0.0)
    return np.where(reached, time, inf), speed


def _crossings(motion: Callable[[Array], Array], targets: Array, last: float) -> Array:
    """When a falling ``motion(t) -> (x, v)``, t in 0..``last`` s, passes each target.

    Newton steps, halving the bracket where a step would leave it.
    """
    low, high = np.zeros(len(targets)), np.full(len(targets), last)
    time = 0.5 * (low + high)
    for _ in range(60):
        x, v = motion(time)
        low, high = np.where(x > targets, time, low), np.where(x > targets, high, time)
        step = time + (x - targets) / np.maximum(v, 1e-300)
        following = np.where((step >= low) & (step <= high), step, 0.5 * (low + high))
        moved = float(np.max(np.abs(following - time), initial=0.0))
        time = following
        if moved <= 1e-14 * max(1.0, last):
            break
    return time
