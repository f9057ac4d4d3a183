"""What is shown of a run or a trap: fates as shares, the size of a group, a bar of scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.engine.outcomes import Outcomes
from soundergate.report.style import FATES
from soundergate.scenario.unit_system import Units
from soundergate.studies.estimates.tally import Tally

if TYPE_CHECKING:
    from soundergate.studies.estimate import RunResult


def fate_shares(item: Outcomes | RunResult) -> dict[str, float]:
    """Mean share of the group (0 to 1) by fate of `FATES`; nothing for no nights."""
    tally = tally_of(item)
    return {fate: tally.fates[fate].mean for fate in FATES} if tally.nights else {}


def tally_of(item: Outcomes | RunResult) -> Tally:
    """The sums over nights that a picture is made from."""
    return Tally.of(item) if isinstance(item, Outcomes) else item.tally


def group_words(smallest: int, largest: int) -> str:
    """ "group of 12", or "groups of 4 to 17" where the size varies from night to night."""
    if smallest == largest:
        return f"group of {largest}"
    return f"groups of {smallest} to {largest}"


def scale_bar(diameter: float, units: Units) -> dict[str, Any]:
    """A bar of a round length for a corral so wide (m): its length in m, and its words."""
    sign, size = units.lengths
    rounds = [r for r in (0.5, 1, 2, 5, 10, 20, 50, 100) if r * size <= diameter / 2.5]
    length = rounds[-1] if rounds else 0.5
    return {"length": length * size, "words": f"{length:g} {sign}"}
