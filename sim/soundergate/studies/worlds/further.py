"""Which worlds are played longer, and how long: only where that can still change what is said.

A pair is told by the worlds that are clear of the negligible difference (`verdicts`). A world in
doubt is played on, as long again as it has been, up to `AGAIN` times its first nights, while the
verdict of a pair that it is in doubt for can still change. What all setups together may play so is
bounded (`MOST_NIGHTS`); what is in doubt then does not count as clear.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.studies.worlds.playing import Plays

T = TypeVar("T")

AGAIN = 8
"""Times its first nights that a world is played at most; a power of two."""
MOST_NIGHTS = 500_000
"""Further nights of all setups together, at most: some seconds."""
MOST_CAMPAIGNS = 50_000
"""The same of campaigns."""


@dataclass(frozen=True)
class Further:
    """What was played beyond the first nights (or campaigns) of each world.

    ``most`` there may be of all setups together, and ``played`` there were. ``open_pairs``: pairs
    of which further ones might still change what is said, had there been any left.
    """

    most: int
    played: int = 0
    open_pairs: int = 0

    def to_json(self) -> dict[str, Any]:
        """Its fields."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


class Longer:
    """Plays some of W worlds longer; ``had`` int[W] are the nights of each so far.

    World w (a row, from 0) plays its further nights from number W n + w (`AGAIN` - 1) n of the
    seed on, n being its first ones: they are no other world's.
    """

    def __init__(self, worlds: int, first: int, setups: int, most: int) -> None:
        self.had = np.full(worlds, first)
        self.first, self.setups, self.most = first, setups, most
        self.played = self.open_pairs = 0

    @property
    def further(self) -> Further:
        """What was played."""
        return Further(self.most, self.played, self.open_pairs)

    def play(
        self,
        play: Plays[T | str],
        seed: int,
        rows: Sequence[int],
        doubtful: Callable[[], np.ndarray],
        add: Callable[[int, T, float], None],
    ) -> None:
        """Until nothing can change, or the nights are used up.

        ``doubtful()`` bool[W', P] says in which of the worlds ``rows`` a pair is in doubt and may
        change; ``add`` takes a row, what was played, and the share of it in all that the world has.
        Raises StudyError for a world that cannot be played longer.
        """
        from soundergate.studies.worlds.playing import play_worlds

        numbers, limit = np.asarray(rows), AGAIN * self.first
        while True:
            had, doubt = self.had[numbers], doubtful()
            waiting = doubt.any(axis=1) & (had < limit)
            if not waiting.any():
                return
            again = int(had[waiting].min())
            now = numbers[waiting & (had == again)]
            can = (self.most - self.played) // (again * self.setups)
            used_up, now = can < len(now), now[:can]
            starts = len(self.had) * self.first + now * (limit - self.first) + again - self.first
            for row, played in play_worlds(play, seed, now.tolist(), starts.tolist(), again):
                if isinstance(played, str):
                    raise StudyError(f"world {row + 1} cannot be played longer: {played}")
                add(row, played, again / (self.had[row] + again))
                self.had[row] += again
                self.played += again * self.setups
            if used_up:
                still = doubtful()[self.had[numbers] < limit]
                self.open_pairs = int(still.any(axis=0).sum())
                return
