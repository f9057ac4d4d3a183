"""The shapes that every part of the mechanics room hands on.

A gate solver returns a `GateSolution`, a latch solver a `LatchSolution`, a puller solver a
`PullerSolution`; `setup` joins the three into one `OpeningSetup` an opening, and all openings
into a `Setup`. All values are SI (m, s, kg, N, J, rad). A gate that jams or hangs is described
by these shapes (``jams``, ``hang_probability``, times of ``inf``); it is never an exception.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soundergate.scenario.distributions import Duration, LogNormal

Array = NDArray[np.float64]

GRID = 65
"""Number of clearances at which a closing curve is tabulated."""


@dataclass(frozen=True, eq=False)
class ClosingCurve:
    """How fast an opening shuts, tabulated over the clearance that is still free.

    ``clear`` rises evenly from 0 to ``height``. ``time[j]`` is the time from the gate starting to
    move until the clearance has fallen to ``clear[j]``; it never rises with ``clear``, and is
    ``inf`` where the gate does not get. ``rest_time[i, j]`` is the same after the gate was stopped
    at ``clear[i]`` by an animal and let go from rest there; entries with ``clear[j] >= clear[i]``
    are 0. Energies are the kinetic energy (J) the gate can give to what it meets; ``speed`` is
    that of the closing edge (m/s). ``measure`` is "height", or "gap" for a leaf that swings
    sideways.
    """

    height: float
    clear: Array
    time: Array
    energy: Array
    speed: Array
    rest_time: Array
    rest_energy: Array
    measure: str = "height"

    def __post_init__(self) -> None:
        n = len(self.clear)
        for name, shape in _CURVE_SHAPES.items():
            array = np.array(getattr(self, name), dtype=np.float64)
            if array.shape != (n,) * shape:
                raise ValueError(f"{name} must have shape {(n,) * shape}, got {array.shape}")
            if np.isnan(array).any() or (array < 0.0).any():
                raise ValueError(f"{name} must hold no NaN and no negative value")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if (
            self.clear[0] != 0.0
            or self.clear[-1] != self.height
            or (np.diff(self.clear) <= 0).any()
        ):
            raise ValueError("clear must rise from 0 to height")
        if _rises(self.time) or any(_rises(row) for row in self.rest_time):
            raise ValueError("time must not rise with clear")

    @property
    def shut_time(self) -> float:
        """Time from the gate starting to move until nothing is clear, s; inf if it hangs."""
        return float(self.time[0])

    @property
    def shuts(self) -> bool:
        """Whether the gate, let go from its set position, gets all the way down."""
        return isfinite(self.shut_time)

    def time_to(self, clear: float) -> float:
        """Time until the clearance has fallen to ``clear`` (m), interpolated, s."""
        return _interpolate(clear, self.clear, self.time)


_CURVE_SHAPES = {
    "clear": 1,
    "time": 1,
    "energy": 1,
    "speed": 1,
    "rest_time": 2,
    "rest_energy": 2,
}


def _rises(times: Array) -> bool:
    """Whether a row of times rises anywhere with clearance (inf beside inf does not)."""
    return bool((times[1:] > times[:-1]).any())


def _interpolate(clear: float, grid: Array, values: Array) -> float:
    """Linear interpolation that gives inf, not NaN, beside a value of inf."""
    c = min(max(clear, float(grid[0])), float(grid[-1]))
    upper = int(np.searchsorted(grid, c))
    if grid[upper] == c:
        return float(values[upper])
    low, high = float(values[upper - 1]), float(values[upper])
    if not (isfinite(low) and isfinite(high)):
        return inf
    share = (c - grid[upper - 1]) / (grid[upper] - grid[upper - 1])
    return float(low + share * (high - low))


@dataclass(frozen=True)
class GateSolution:
    """What one gate weighs, how it holds and how it shuts.

    ``mass`` kg; ``inertia`` kg (a sliding gate: moving mass) or kg m^2 (a swinging one, about its
    hinge, per leaf); ``holding_load`` N, the load the latch carries while the gate is set;
    ``lift_force`` N an animal inside needs to start opening the shut gate at its middle (lifting
    what slides, pushing on the face of what swings), ``pry_force`` N at the edge that gives least
    purchase against it (a corner of what slides, the free edge of what swings), both as if there
    were no lock and inf where no force does it; ``pry_by_clear`` N (float[G], optional) the lesser
    way with the gate open to ``curve.clear``; ``locked`` says a
    catch holds the shut gate so that neither force opens it; ``set_weight`` N a person must lift
    or hold to set it. ``hang_probability`` is that of the gate, once let go, sticking open under
    uncertain drag; ``jams`` that it does not shut at nominal friction. ``push_force`` N opens a
    gate that animals push open (0 for others). ``rebound`` is the greatest clearance (m) after
    the first bounce, 0 when a lock catches; ``rebound_time`` s, how long that bounce lasts.
    ``sketch`` holds plain numbers and words for a drawing.
    """

    kind: str
    mass: float
    inertia: float
    holding_load: float
    curve: ClosingCurve
    lift_force: float
    pry_force: float
    set_weight: float
    hang_probability: float = 0.0
    jams: bool = False
    locked: bool = False
    push_force: float = 0.0
    passable: bool = False
    rebound: float = 0.0
    rebound_time: float = 0.0
    pry_by_clear: Array | None = field(default=None, compare=False)
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sketch: Mapping[str, Any] = field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class LatchSolution:
    """What it takes to free one latch, at the latch itself (a lever comes after).

    ``pull_required`` N is the median and ``pull_required_sigma`` the standard deviation of its ln
    near there; where only a part of the pull scatters, ``law`` says how (below 0 the load itself
    opens the latch). ``trip_travel`` m is how far the latch must move before it lets go. ``holds``
    is False for a latch that its own load opens at typical friction, ``hold_probability`` how often
    it stays put under the friction's scatter; ``releases`` False for one that no pull frees.
    """

    kind: str
    pull_required: float
    pull_required_sigma: float
    trip_travel: float
    holds: bool = True
    releases: bool = True
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sketch: Mapping[str, Any] = field(default_factory=dict, compare=False)
    law: LogNormal | None = None
    hold_probability: float = 1.0

    @property
    def required(self) -> LogNormal:
        """The pull needed, with its scatter."""
        return self.law or LogNormal(self.pull_required, self.pull_required_sigma)


@dataclass(frozen=True)
class PullerSolution:
    """What one puller gives at its own end, before any lever.

    ``available`` N is the median force, ``available_sigma`` the standard deviation of its ln near
    there (``law`` says how it scatters where only a part of it does); ``stroke`` m how far it can
    move (inf when nothing limits it); ``delay`` from the trigger's command (or the animal's pull)
    to the gate moving; ``recharge`` says in words what it needs before it can act again.
    """

    kind: str
    available: float
    available_sigma: float
    delay: Duration
    stroke: float = inf
    recharge: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sketch: Mapping[str, Any] = field(default_factory=dict, compare=False)
    law: LogNormal | None = None

    @property
    def given(self) -> LogNormal:
        """The pull available, with its scatter."""
        return self.law or LogNormal(self.available, self.available_sigma)


@dataclass(frozen=True)
class HungLine:
    """A trip line as the latch meets it: lengths m, forces N, ``turn`` rad of all its bends.

    ``height`` is that of its middle, ``hung`` its tension as set, ``slack`` what gives before it
    stretches with ``stiffness`` (N/m), ``friction`` that of its bends.
    """

    height: float
    span: float
    hung: float
    slack: float
    stiffness: float
    turn: float
    friction: LogNormal
    break_force: float


@dataclass(frozen=True)
class Toucher:
    """A class of animals that may touch a line: log-normal masses (kg), backs (m) and pushes (N).

    ``back`` is the median; ``mass_sigma`` is the sd of ln mass, ``exponent`` the power of the mass
    that lengths grow with, ``scatter`` the sd of the rest of ln back, ``strength_sigma`` that of
    ln push beyond the mass.
    """

    name: str
    heads: int
    push: float
    back: float
    mass_sigma: float
    strength_sigma: float
    exponent: float
    scatter: float


@dataclass(frozen=True)
class Site:
    """The little that steel needs to know of the rest of the scenario.

    ``animal_pull`` is the push of a median animal of the heaviest class (N); ``touchers`` are the
    classes that come, ``lines`` and ``containers`` (weight in N full and empty) what they may work
    a latch with. Nothing else of the scenario may reach a solver: a change of behaviour must not
    re-solve steel.
    """

    animal_pull: LogNormal = field(default_factory=lambda: LogNormal(0.0))
    touchers: tuple[Toucher, ...] = ()
    lines: tuple[HungLine, ...] = ()
    containers: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Chain:
    """All that lies between a push (or volts) and the gate let go: `mechanics.chain` reckons it.

    ``latch`` stands before its ``lever``; of ``pull`` only the force and the stroke matter, and
    only where no animal pulls.
    """

    latch: LatchSolution
    lever: float
    pull: PullerSolution
    site: Site
