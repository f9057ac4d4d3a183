"""What of a plan makes the best steel useless, in sentences: for `check` and for every run.

Bodies are those of pigs of median size.
"""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import clearance as bodies
from soundergate.mechanics.pullers.animal import hung
from soundergate.scenario import places
from soundergate.scenario.unit_system import Units


def in_vain(scenario: Any) -> list[str]:
    """What no release or no catch can come of: an opening that no pig fits, a line that none
    touches, a count that so few pigs do not reach."""
    return [*_too_small(scenario), *_above_every_back(scenario), *_count_too_high(scenario)]


def _too_small(scenario: Any) -> list[str]:
    said = []
    wide, tall = bodies.clearances(scenario, "gap"), bodies.clearances(scenario)
    several = len(scenario.opening) > 1
    for number, opening in enumerate(scenario.opening, 1):
        out = [c for c in wide if wide[c] > opening.width or tall[c] > opening.height]
        if out:
            name = f"opening {number}" if several else "the opening"
            who = (
                "No pig of this group fits" if len(out) == len(wide) else f"No {_listed(out)} fits"
            )
            said.append(f"{who} through {name}.")
    return said


def _above_every_back(scenario: Any) -> list[str]:
    backs = [height / scenario.body.duck for height in bodies.clearances(scenario).values()]
    return [
        "The trip line hangs above every back: no pig of this group touches it."
        for line in places.lines(scenario)
        if hung(line).height >= max(backs)
    ]


def _count_too_high(scenario: Any) -> list[str]:
    """A count, of a counter or a person, of more animals than ever come. Of a rule in steps that
    is said if no step can be met."""
    come = scenario.animals
    most = "1 animal comes" if come == 1 else f"{come} animals come"
    return [
        f"The trigger waits for {least} animals inside, and no more than {most}: only a wrong "
        f"count can reach that. Set the count to {come} or less."
        for part in scenario.trigger.parts
        if (least := _least_count(part)) is not None and least > come
    ]


def _least_count(part: Any) -> int | None:
    """The fewest animals at which a trigger releases; None where it counts none, or where a share
    of those that come will do."""
    if part.kind not in ("counter", "person"):
        return None
    if part.kind == "person" and part.rule:
        steps = [step for step in part.rule if not step.wait]
        if not steps or any(step.share is not None for step in steps):
            return None
        return int(min(step.count for step in steps))
    return None if part.count is None else int(part.count)


def _listed(names: list[str]) -> str:
    """Such as "sow, boar or juvenile"."""
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def misplaced(scenario: Any, units: Units) -> list[str]:
    """What stands where it should not."""
    said = []
    apart = places.from_fence(scenario)
    if apart < places.EATEN_FROM_OUTSIDE:
        where = f"{units.length(apart, 1)} from" if apart > 0.005 else "at"
        said.append(
            f"The bait lies {where} the fence: pigs can eat it from outside and need not come in. "
            f"Keep it {units.length(places.EATEN_FROM_OUTSIDE, 1)} away or more."
        )
    for line in places.lines(scenario):
        if places.crosses_bait(line, scenario):
            said.append("The trip line crosses the bait: the first pigs that eat there touch it.")
    return said
