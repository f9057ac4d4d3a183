"""How far the assumptions about learning move a campaign: each at both ends of its range.

Nobody has measured what a failed closure teaches, so no figure of a campaign should be read without
this. What nights by themselves lean on is for `run` and `compare` to say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soundergate.seasons.setups import SetupSeason, plans_of, play_setup
from soundergate.studies.estimates.tally import Estimate

if TYPE_CHECKING:
    from soundergate.engine.work.chunks import Executor
    from soundergate.scenario.register import Entry

UNKNOWN = (
    "campaign.escaped_wary",
    "campaign.onlooker_wary",
    "campaign.move_away",
    "campaign.quiet_nights",
)
"""Keys of what nobody decides; how long a campaign lasts and who goes there when are decisions."""

MOST = 10_000
"""Campaigns on which ends of ranges are tried, at most: the first of the setup's own."""


@dataclass(frozen=True)
class Moved:
    """A default at the ends of its plausible range, and as it is, on common campaigns."""

    key: str
    entry: Entry
    base: SetupSeason
    low: SetupSeason
    high: SetupSeason

    def figure(self, name: str) -> tuple[Estimate, Estimate]:
        """A figure of a campaign with the default at its low and at its high end."""
        return self.low[name], self.high[name]

    def to_json(self) -> dict[str, Any]:
        """Key, both ends, and the figures that a planner asks for at either."""
        asked = ("fraction_caught", "nights")
        return {
            "key": self.key,
            "from": self.entry.low,
            "to": self.entry.high,
            **{name: [e.to_json() for e in self.figure(name)] for name in asked},
        }


def move_unknowns(
    setup: SetupSeason,
    workers: int | None = None,
    engine: str = "batch",
    executor: Executor | None = None,
) -> tuple[Moved, ...]:
    """Each default of `UNKNOWN` that the file does not set, at both ends, on common campaigns."""
    from soundergate.scenario.assumptions import defaults_used
    from soundergate.scenario.loading import with_values

    used = {path: entry for path, entry in defaults_used(setup.scenario) if path in UNKNOWN}
    base = setup.first(MOST)
    plans = plans_of(setup.scenario)  # no key of `UNKNOWN` changes a night

    def play(key: str, value: Any) -> SetupSeason:
        changed = with_values(setup.scenario, {key: value})
        given = {"workers": workers, "engine": engine, "executor": executor, "plans": plans}
        return play_setup(setup.name, changed, base.campaigns, setup.seed, setup.level, **given)  # type: ignore[arg-type]

    return tuple(
        Moved(key, entry, base, play(key, entry.low), play(key, entry.high))
        for key, entry in used.items()
    )
