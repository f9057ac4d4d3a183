"""One-way entrances: which animals have learned to push in.

An animal that never met the entrance pushes in with a small probability that depends on its type
(`late_entry`, as observed of pigs left outside a closed trap). Training adds to it. A night of
training counts for less the more abruptly the opening is made smaller: the largest step of
ln(size) from the open entrance to a gap that a body must touch decides.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soundergate.scenario.schema import Opening, Scenario


def largest_step(opening: Opening, scenario: Scenario) -> float:
    """Largest step of ln(size) in the schedule, from the full width down to touching."""
    sizes = [opening.width, *scenario.training.schedule, scenario.entry.touching]
    return max(0.0, *(math.log(wide / narrow) for wide, narrow in pairwise(sizes)))


def willing_share(opening: Opening, scenario: Scenario) -> float:
    """Share of animals that will push in at this entrance on the set night, 0 to 1."""
    untaught = opening.gate.late_entry
    worth = math.exp(-scenario.entry.abruptness * largest_step(opening, scenario))
    learned = 1.0 - math.exp(-scenario.training.nights * worth / scenario.entry.push_nights)
    return float(untaught + (1.0 - untaught) * learned)
