"""Where a release rule is sought: on nights in which all is as it is assumed, or in many worlds.

A rule for pigs that nobody knows has to do well on average over what is plausible of them. It is
sought on nights of plausible worlds of their own, a few dozen of each, and judged in others
(`studies.rule.release`). Nights of one world stand and fall together: how far two rules can be told
apart goes by the scatter between worlds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from soundergate.engine.work.executors import run_chunks
from soundergate.scenario.errors import ScenarioError
from soundergate.studies.errors import StudyError
from soundergate.studies.players import plan_of
from soundergate.studies.rule.release_rule import (
    SEARCH_FROM,
    STAGES,
    Array,
    Played,
    counts_of,
    play_stages,
)

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes
    from soundergate.engine.plan import NightPlan
    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimates.stopping import Advance

WORLDS = 50
"""Plausible worlds on whose nights a rule is sought."""
APART = "a rule is sought: "
"""Sets the worlds of the search apart from those of the same seed in which the rule is judged."""


@dataclass(frozen=True)
class Searched:
    """What every stage and count comes to, and the file's own rule, on the same nights.

    ``worlds`` that the nights are of, 0 where all is as it is assumed.
    """

    played: Played
    own: float
    worlds: int

    @property
    def nights(self) -> int:
        """Nights of all worlds."""
        return len(self.played.when)


def search_as_assumed(
    plan: NightPlan,
    gain: Callable[[Outcomes], Array],
    seed: int,
    nights: int,
    workers: int | None,
    executor: Executor | None,
    tell: Advance,
) -> Searched:
    """Nights in which every unknown is as it is assumed."""
    played = play_stages(
        plan, gain, seed, nights, executor=executor, workers=workers, advance=tell
    )  # fmt: skip
    own = gain(run_chunks(plan, seed, SEARCH_FROM, nights, workers, executor=executor))
    tell(nights)
    return Searched(played, float(own.mean()), 0)


def search_in_worlds(
    scenario: Scenario,
    group: int,
    gain: Callable[[Outcomes], Array],
    seed: int,
    nights: int,
    tell: Advance,
) -> Searched:
    """Nights of `WORLDS` plausible worlds, equally many of each, ``nights`` in all or a few less.

    World s plays its share of the nights from `SEARCH_FROM` on. A world that cannot be built is
    left out. Raises StudyError where none can be.
    """
    from soundergate.studies.worlds.worlds import draw, unknowns, worlds_of

    what = unknowns([scenario])
    each, counts, made = nights // WORLDS, counts_of(group), worlds_of(scenario, what)
    found: list[Played] = []
    own: list[float] = []
    why = ""
    for number, u in enumerate(draw(what, WORLDS, seed, APART)):
        first = SEARCH_FROM + number * each
        try:
            plan = plan_of(made(u.tolist()))
        except ScenarioError as error:
            why = str(error)
            continue
        # too few nights to be worth more threads
        found.append(
            play_stages(plan, gain, seed, each, workers=1, advance=tell, first=first, counts=counts)
        )
        own.append(float(gain(run_chunks(plan, seed, first, each, 1)).mean()))
        tell(each)
    if not found:
        raise StudyError(f"none of {WORLDS} plausible worlds could be built ({why})")
    whole = Played(
        STAGES,
        counts,
        np.concatenate([one.when for one in found]),
        np.concatenate([one.gain for one in found]),
        each,
    )
    return Searched(whole, float(np.mean(own)), len(found))
