"""What is kept of nights that several setups have played: sums of each, and of their differences.

Made where the nights are played (`soundergate.engine.work.folding`), joined here in any pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.paired_sums import NumberedPair, PairSums, added
from soundergate.studies.estimates.tally import Tally

__all__ = ["NumberedPair", "Summing", "Sums"]


@dataclass(frozen=True)
class Sums:
    """Sums over the same nights: a tally an arm, one a pair, and the nights if they are kept.

    ``nights`` holds the parts of each arm's nights in order, nothing if they are not kept.
    """

    tallies: tuple[Tally, ...]
    pairs: Sequence[PairTally] = ()
    nights: tuple[tuple[Outcomes, ...], ...] = ()

    def __add__(self, later: Sums) -> Sums:
        """With the sums of later nights, as new sums: neither is changed."""
        return Sums(
            tuple(a + b for a, b in zip(self.tallies, later.tallies, strict=True)),
            added(self.pairs, later.pairs),
            tuple(a + b for a, b in zip(self.nights, later.nights, strict=True)),
        )

    @property
    def count(self) -> int:
        """Number of nights."""
        return self.tallies[0].nights

    def without_nights(self) -> Sums:
        """The sums alone."""
        return Sums(self.tallies, self.pairs)

    def kept(self, arm: int) -> Outcomes | None:
        """The nights of an arm as one table, None if they were not kept."""
        return Outcomes.concatenate(self.nights[arm]) if self.nights else None


@dataclass(frozen=True)
class Summing:
    """From the outcomes of each arm on the same nights to their `Sums`. Pickles.

    ``pairs`` are numbers of arms, first less second; ``measures`` the names to compare.
    """

    pairs: tuple[NumberedPair, ...] = ()
    measures: tuple[str, ...] = ()
    keep: bool = False

    def nothing(self, arms: int) -> Sums:
        """The sums of no nights."""
        return Sums(
            (Tally(),) * arms, (PairTally(),) * len(self.pairs), ((),) * arms if self.keep else ()
        )

    def __call__(self, played: Sequence[Outcomes]) -> Sums:
        return Sums(
            tuple(Tally.of(outcomes) for outcomes in played),
            PairSums.of(played, self.pairs, self.measures) if self.pairs else (),
            tuple((outcomes,) for outcomes in played) if self.keep else (),
        )
