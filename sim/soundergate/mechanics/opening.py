"""An opening with its mechanics solved, and all openings of a trap: what steel hands on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from soundergate.mechanics.chain import Odds, odds
from soundergate.mechanics.model import (
    Chain,
    ClosingCurve,
    GateSolution,
    LatchSolution,
    PullerSolution,
)
from soundergate.scenario.distributions import LogNormal

if TYPE_CHECKING:
    from soundergate.scenario.distributions import Duration


@dataclass(frozen=True)
class OpeningSetup:
    """One opening with its mechanics solved: what the engines, `check` and figures read.

    Forces are N at the puller's end (the lever is already in ``pull_required`` and
    ``trip_travel``). ``required`` and ``available`` are the laws by which the two pulls scatter
    from night to night. ``margin`` is NaN for a latch that needs no pull at all. ``pull_available``
    is 0 and ``margin`` NaN when an animal is the puller, since the pull is then the night's affair.
    ``release_delay`` runs from the trigger to the gate moving. The probabilities are those of the
    whole chain, by `mechanics.chain`, reckoned when first asked for.
    """

    gate_kind: str
    latch_kind: str
    puller: str
    width: float
    height: float
    mass: float
    holding_load: float
    pull_required: float
    pull_required_sigma: float
    pull_available: float
    pull_available_sigma: float
    trip_travel: float
    margin: float
    hang_probability: float
    jams: bool
    release_delay: Duration
    curve: ClosingCurve
    lift_force: float
    pry_force: float
    set_weight: float
    locked: bool
    passable: bool
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    lever: float
    gate: GateSolution
    latch: LatchSolution
    pull: PullerSolution
    chain: Chain
    required: LogNormal
    available: LogNormal

    @cached_property
    def odds(self) -> Odds:
        """How surely the chain holds and releases, and whom or what it hangs on."""
        return odds(self.chain)

    @property
    def hold_probability(self) -> float:
        """That the trap, once set, stays set until something pulls."""
        return self.odds.holds

    @property
    def release_probability(self) -> float:
        """That a try frees the latch of a trap that stayed set."""
        return self.odds.releases

    @property
    def shut_probability(self) -> float:
        """That the trap stays set, a try frees its latch, and the gate then gets all the way."""
        closes = 0.0 if self.jams else 1.0 - self.hang_probability
        return self.hold_probability * self.release_probability * closes


@dataclass(frozen=True)
class Setup:
    """All openings of a trap, solved, in the scenario's order."""

    openings: tuple[OpeningSetup, ...]

    def different(self) -> list[tuple[int, OpeningSetup]]:
        """Index and solution of each opening; of those with the very same solution the first."""
        found: dict[int, tuple[int, OpeningSetup]] = {}
        for index, opening in enumerate(self.openings):
            found.setdefault(id(opening), (index, opening))
        return list(found.values())
