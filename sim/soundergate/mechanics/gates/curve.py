"""Build closing curves: from forces that depend on position, from an ODE, from a closed form.

A gate has one coordinate x (m of travel, or rad), falling while it shuts, and a clearance that
falls with it. ``positions[j]`` is the x at which the clearance is ``clear[j]``; a gate may start
from ``x_start`` beyond ``positions[-1]``, where the opening is still wholly clear.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf

import numpy as np
from numpy.typing import NDArray

from soundergate.mechanics.bounded import integrate
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
    starting = np.asarray(moves(positions), dtype=bool)
    rest_time, rest_speed = _runs(fine, work, index, inertia, starting)
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
    acceleration: Callable[[Array, Array], Array | float],
    *,
    inertia: float,
    arm: float = 1.0,
    x_start: float | None = None,
    longest: float = 60.0,
    measure: str = "height",
) -> ClosingCurve:
    """The curve of a gate whose acceleration depends on position and speed (air drag, a damper).

    ``acceleration(x, v)`` of arrays is d(v)/dt with v = -dx/dt >= 0, the closing speed; a start
    from rest with no positive acceleration stays put, and a gate that comes to rest stops. It must
    go on smoothly beyond both. All starts are followed together by SciPy's DOP853, relative
    tolerance 1e-10, with an event when the last has arrived or stopped; at most ``longest`` s of
    motion, beyond which a gate counts as hanging. Other parameters as in `from_force`.
    """
    n = len(clear)
    lead = float(positions[-1] if x_start is None else x_start)
    starts = np.append(positions[1:], lead)
    t, x, v = _motions(starts, float(positions[0]), acceleration, longest)
    rest_time, rest_speed = _zeros(n), _zeros(n)
    *at_rest, as_set = _passages(t, x, v, [*(positions[:i] for i in range(1, n)), positions])
    for i, (times, speeds) in enumerate(at_rest, start=1):
        rest_time[i, :i], rest_speed[i, :i] = times, speeds
    time, speed = as_set
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


def _zeros(n: int) -> Array:
    return np.zeros((n, n))


def _fine_positions(positions: Array, lead: float) -> tuple[Array, NDArray[np.intp]]:
    """Positions split into cells, with the index of each original one; the lead-in comes last."""
    between = np.linspace(positions[:-1], positions[1:], SUBDIVISION, endpoint=False, axis=1)
    cells = [between.ravel()]
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


def _runs(
    fine: Array, work: Array, index: NDArray[np.intp], inertia: float, starting: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """`_run` from each of ``fine[index]``, told at those below it, float[G, G]."""
    n = len(index)
    time, speed = _zeros(n), _zeros(n)
    down = fine[::-1][-1 - index[-1] :]  # from the highest start down
    steps, drop = -np.diff(down), work[: index[-1] + 1][::-1]
    place = index[-1] - index  # of each clearance on the way down
    for i in range(1, n):
        if not starting[i]:
            time[i, :i] = inf
            continue
        square = 2.0 * (drop[place[i]] - drop[place[i] :]) / inertia
        stuck = square[1:] <= 0.0
        v = np.sqrt(square[: int(stuck.argmax()) + 1] if stuck.any() else square)
        passed = np.cumsum(2.0 * steps[place[i] : place[i] + len(v) - 1] / (v[:-1] + v[1:]))
        below = place[:i] - place[i]
        met = below < len(v)
        time[i, :i] = inf
        time[i, :i][met], speed[i, :i][met] = passed[below[met] - 1], v[below[met]]
    return time, speed


_SAMPLES = 32
"""Points a solver step at which a motion is kept for the search of its passages."""


def _motions(
    starts: Array,
    bottom: float,
    acceleration: Callable[[Array, Array], Array | float],
    longest: float,
) -> tuple[Array, Array, Array]:
    """Times float[T], and coordinates and speeds float[K, T] from rest at each of ``starts``.

    What a motion does once it has passed ``bottom`` or come to rest means nothing: it runs on by
    the same law, so that the solver meets no kink while the slower ones are under way.
    """
    count = len(starts)
    still = np.zeros(count)
    started = np.broadcast_to(acceleration(starts, still), starts.shape) > 0.0

    def slope(t: float, y: Array) -> Array:
        x, v = y[:count], y[count:]
        return np.concatenate([-v, np.where(started, acceleration(x, v), 0.0)])

    def under_way(t: float, y: Array) -> float:
        ahead = np.minimum(y[:count] - bottom, y[count:])
        return float(np.max(np.where(started, ahead, -1.0))) if t > 0.0 else 1.0

    under_way.terminal = True  # type: ignore[attr-defined]
    under_way.direction = -1.0  # type: ignore[attr-defined]
    run = integrate(
        slope,
        (0.0, longest if started.any() else 0.0),
        np.concatenate([starts, still]),
        what="the gate",
        rtol=1e-10,
        atol=1e-12,
        dense_output=True,
        events=under_way,
    )
    t = _between(run.t)
    y = run.sol(t) if len(run.t) > 1 else run.y
    return t, y[:count], y[count:]


def _between(steps: Array) -> Array:
    """The steps with `_SAMPLES` points in each."""
    if len(steps) < 2:
        return steps
    parts = np.arange(_SAMPLES) / _SAMPLES
    inner = steps[:-1, None] + np.diff(steps)[:, None] * parts[None, :]
    points = np.append(inner.ravel(), steps[-1])
    return points[np.diff(points, prepend=-inf) > 0.0]  # what never moved has steps of no time


def _passages(t: Array, x: Array, v: Array, targets: Sequence[Array]) -> list[tuple[Array, Array]]:
    """When each of K falling motions passes its ``targets``, and how fast; inf and 0 where it does
    not get.

    Targets it starts at or below have time 0. Between the points the motion is the cubic through
    positions and speeds.
    """
    crossings = [_crossings(t, *one) for one in zip(x, v, targets, strict=True)]
    goal, low, step, *ends = np.concatenate([met for _, _, met in crossings], axis=1)
    counts = [met.shape[1] for _, _, met in crossings]
    s = _solved(goal, ends, np.repeat(np.arange(len(counts)), counts))
    when = low + s * step
    how_fast = np.maximum(-_cubic(s, *ends)[1] / step, 0.0)
    found, begin = [], 0
    for (time, reached, _), count in zip(crossings, counts, strict=True):
        speed, these = np.zeros(len(time)), slice(begin, begin + count)
        time[reached], speed[reached] = when[these], how_fast[these]
        found.append((time, speed))
        begin += count
    return found


def _crossings(t: Array, x: Array, v: Array, targets: Array) -> tuple[Array, Array, Array]:
    """Of one motion: times of targets without those yet to be solved, which targets these are, and
    of each of them where it is, begin and length of the step that meets it, and the ends of the
    cubic there, float[7, M]."""
    time = np.zeros(len(targets))
    back = np.flatnonzero(v[1:] <= 0.0)
    lowest = int(back[0]) + 1 if len(back) else len(x) - 1
    wanted = targets < x[0]
    reached = wanted & (targets >= x[lowest] - _CLOSE * x[0])
    time[wanted & ~reached] = inf
    if lowest == 0:  # what never moved is where it starts, to rounding
        reached = np.zeros(len(targets), dtype=bool)
    goal = targets[reached]
    right = np.clip(np.searchsorted(-x[: lowest + 1], -goal), min(1, lowest), lowest)
    left = np.maximum(right - 1, 0)
    step = t[right] - t[left]
    return time, reached, np.array(
        [goal, t[left], step, x[left], x[right], -v[left] * step, -v[right] * step]
    )  # fmt: skip


def _solved(goal: Array, ends: Sequence[Array], motion: Array) -> Array:
    """Where in its step each goal is met, 0..1, float[M]; ``motion`` int[M] says of which one.

    Newton steps, halving where one would leave its interval, until no goal of a motion moves.
    """
    s, at_least, at_most = np.full(len(goal), 0.5), np.zeros(len(goal)), np.ones(len(goal))
    moving = np.ones(len(goal), dtype=bool)
    first = np.flatnonzero(np.diff(motion, prepend=-1))
    for _ in range(60):
        if not moving.any():
            break
        place, rate = _cubic(s, *ends)
        above = place > goal
        at_least, at_most = np.where(above, s, at_least), np.where(above, at_most, s)
        newton = s - (place - goal) / np.minimum(rate, -1e-300)
        inside = (newton >= at_least) & (newton <= at_most)
        following = np.where(inside, newton, 0.5 * (at_least + at_most))
        moved = np.maximum.reduceat(np.abs(following - s), first)
        s = np.where(moving, following, s)
        moving &= (moved > 1e-14)[np.cumsum(np.diff(motion, prepend=-1) != 0) - 1]
    return s


_CLOSE = 1e-9
"""Share of its travel by which a motion may end short of a target that it met."""


def _cubic(s: Array, x0: Array, x1: Array, d0: Array, d1: Array) -> tuple[Array, Array]:
    """Value and slope at ``s`` in 0..1 of the cubic with ends x0, x1 and slopes d0, d1 there."""
    a = 2.0 * (x0 - x1) + d0 + d1
    b = 3.0 * (x1 - x0) - 2.0 * d0 - d1
    return ((a * s + b) * s + d0) * s + x0, (3.0 * a * s + 2.0 * b) * s + d0
