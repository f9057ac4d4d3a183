"""A night that has no end: something takes so little time that it happens a million times over.

Where nothing at all takes time `build` refuses the scenario. A time too short to matter cannot be
told from a good one before it is played, so both engines count the events of a night, by number and
never by the clock, and give up at the same bound. What was set anew or taken back is no event, nor
is a look at a screen that leads to nothing.
"""

from __future__ import annotations

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.plan import Ints
from soundergate.scenario.errors import ScenarioError

TIMES = {
    k.TRIES: "entry.clock",
    k.CROSSED: "movement.crossing",
    k.SEEKS: "movement.retry",
    k.TOUCHES: "movement.roam",
    k.LEAVES: "leaving.clock",
    k.AT_OPENING: "leaving.clock",
    k.CALMED: "leaving.contagion_window",
    k.BUCKET: "trigger.bait.rate",
    k.COMMAND: "trigger.person.retry",
    k.REFRESHES: "trigger.person.refresh",
    k.BREAKS_OUT: "holding.try_clock",
    k.COMES_BACK: "holding.late_clock",
}
"""The time that stands between an event and the next of its kind."""


def no_end(night: int, rank: int) -> ScenarioError:
    """The error of a night whose last event had this rank."""
    return ScenarioError(
        f"night {night} does not come to an end: more than {k.MOST_EVENTS:,} things happen in it",
        key=TIMES.get(rank, "movement"),
        hint="this takes next to no time again and again; give it more",
    )


def check(number: Ints, events: Ints, last: Ints) -> None:
    """Raise ScenarioError for the first night that had too many ``events``."""
    if len(events) and events.max() >= k.MOST_EVENTS:
        row = int(np.argmax(events >= k.MOST_EVENTS))
        raise no_end(int(number[row]), int(last[row]))
