"""How sure a release is over what nobody knows of friction, rust, supply and the push of animals.

Mechanics are computed, not played, so a world costs no night: each opening is solved again with the
unknowns of that world, which are those of the same world of any other command and seed. What an
unknown of behaviour does is not asked, and only those that steel reads are moved.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.errors import ScenarioError
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import Input, matches
from soundergate.studies.worlds.movers import Mover, movers
from soundergate.studies.worlds.order import NINE_TENTHS, Quantile, quantile
from soundergate.studies.worlds.robust import DEFAULT_WORLDS, FEWEST_WORLDS, check_worlds
from soundergate.studies.worlds.worlds import draw, unknowns, worlds_of

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario

ASKED = ("release_probability", "shut_probability")
"""What is asked of an opening: `mechanics.opening.OpeningSetup` says what each one is."""
READ = ("opening", "body", "sounder.mass", "trigger.line", "trigger.bait", "bait", "movement")
"""Leading parts of the ids of all that steel may read."""
_LOOKS = 10
"""Worlds in which an unknown is moved to see whether steel reads it in this trap."""


@dataclass(frozen=True)
class SteelOverWorlds:
    """The openings of a trap over plausible worlds.

    ``found[what]`` float[W, openings] for each of `ASKED`; ``passes`` bool[W, openings]: whether
    `check` would let that opening pass there. ``latched`` are the numbers, from 0, of the openings
    that a latch holds: of the others nothing is asked. ``failed`` says of worlds, numbered from 1,
    why the trap could not be built there. ``read``: whether steel reads each unknown in this trap,
    bool[U]; of the others nothing hangs on, whatever chance makes it seem.
    """

    latched: tuple[int, ...]
    unknowns: list[Input]
    places: np.ndarray = field(repr=False)
    found: dict[str, np.ndarray] = field(repr=False)
    passes: np.ndarray = field(repr=False)
    seed: int
    level: float
    asked: int
    read: np.ndarray = field(repr=False)
    failed: dict[int, str] = field(default_factory=dict)

    @property
    def worlds(self) -> int:
        """Worlds in which the trap could be built."""
        return len(self.places)

    def quantiles(self, opening: int, what: str = ASKED[0]) -> tuple[Quantile, ...]:
        """Low end, middle and high end of nine tenths of the worlds, each with its interval.

        ``opening`` counts from 0. Raises StudyError for one without a latch, or another ``what``.
        """
        values = self._values(opening, what)
        return tuple(quantile(values, share, self.level) for share in NINE_TENTHS)

    def passing(self, opening: int) -> float:
        """Share of worlds in which `check` would let the opening pass."""
        self._values(opening, ASKED[0])
        return float(np.mean(self.passes[:, opening]))

    def movers(self, opening: int, what: str = ASKED[0]) -> list[Mover]:
        """The unknowns that steel reads, by how much each moves it, most first."""
        read = [one for one, kept in zip(self.unknowns, self.read, strict=True) if kept]
        return movers(read, self.places[:, self.read], self._values(opening, what), self.seed)

    def _values(self, opening: int, what: str) -> np.ndarray:
        if opening not in self.latched:
            numbers = ", ".join(map(str, self.latched))
            raise StudyError(f"opening {opening!r} has no latch; those that have: {numbers}")
        if what not in self.found:
            raise StudyError(f"{what!r} was not asked; asked were {', '.join(self.found)}")
        return self.found[what][:, opening]

    def to_json(self) -> dict[str, Any]:
        """The recipe of the worlds, and by opening where each probability lies and what moves it.

        Openings without a latch have null.
        """
        openings = range(self.passes.shape[1])
        return {
            "worlds": self.worlds,
            "asked": self.asked,
            "seed": self.seed,
            "level": self.level,
            "openings": [
                self._told(number) if number in self.latched else None for number in openings
            ],
            "failed": {str(world): why for world, why in self.failed.items()},
        }

    def _told(self, opening: int) -> dict[str, Any]:
        names = ("low", "middle", "high")
        told: dict[str, Any] = {
            what: dict(
                zip(names, (q.to_json() for q in self.quantiles(opening, what)), strict=True)
            )
            for what in ASKED
        }
        told["passes"] = self.passing(opening)
        told["unknowns"] = [one.to_json() for one in self.movers(opening)]
        return told


def steel_over_worlds(
    scenario: Scenario,
    worlds: int = DEFAULT_WORLDS,
    seed: int | None = 1,
    progress: Progress | None = None,
    *,
    level: float = 0.95,
) -> SteelOverWorlds | None:
    """Solve the steel of a trap in plausible worlds.

    Parameters
    ----------
    worlds : how many, 20 or more
    seed : of the worlds
    progress : called with worlds done and worlds planned
    level : of the interval of each quantile

    Returns
    -------
    SteelOverWorlds, or None where no opening has a latch or nothing that steel reads is unknown.

    Raises
    ------
    StudyError
        For a wrong number, or fewer than 20 worlds in which the trap can be built.
    """
    from soundergate.mechanics.advice.check import passes
    from soundergate.mechanics.setup import solve

    check_worlds(worlds)
    chosen, level = check_seed(seed), check_level(level)
    latched = tuple(n for n, one in enumerate(scenario.opening) if one.latch is not None)
    what = [one for one in unknowns([scenario]) if any(matches(one.id, name) for name in READ)]
    if not latched or not what:
        return None
    places, made = draw(what, worlds, chosen), worlds_of(scenario, what)
    rows: list[Sequence[Any]] = []
    failed: dict[int, str] = {}
    for world, u in enumerate(places, 1):
        try:
            rows.append(solve(made(u.tolist())).openings)
        except ScenarioError as error:
            failed[world] = str(error)
        if progress is not None:
            progress(world, worlds)
    if len(rows) < FEWEST_WORLDS:
        why = next(iter(failed.values()), "")
        raise StudyError(f"only {len(rows)} of {worlds} worlds could be built ({why})")
    kept = np.array([world not in failed for world in range(1, worlds + 1)])
    return SteelOverWorlds(
        latched,
        what,
        places[kept],
        {name: np.array([[getattr(one, name) for one in row] for row in rows]) for name in ASKED},
        np.array([[passes(one) for one in row] for row in rows]),
        chosen,
        level,
        worlds,
        _read(made, places),
        failed,
    )


def _read(made: Callable[[Sequence[float]], Scenario], places: np.ndarray) -> np.ndarray:
    """bool[U]: whether what steel reads changes when an unknown alone takes its place from the next
    world, in one of the first worlds or more."""
    from soundergate.mechanics.setup import read_by_steel

    read = np.zeros(places.shape[1], dtype=bool)
    for here, there in pairwise(places[: _LOOKS + 1]):
        try:
            as_here = read_by_steel(made(here.tolist()))
        except ScenarioError:
            continue
        for number in np.flatnonzero(~read):
            moved = here.copy()
            moved[number] = there[number]
            try:
                read[number] = read_by_steel(made(moved.tolist())) != as_here
            except ScenarioError:
                read[number] = True  # to be or not to be hangs on it
    return read
