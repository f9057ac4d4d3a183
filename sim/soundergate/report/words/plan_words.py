"""The plan of a trap in words: its openings, bait and lines, and from where the sounder comes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.scenario import places
from soundergate.scenario.triggers.person import PersonTrigger
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from soundergate.scenario.places import Point
    from soundergate.scenario.schema import Opening, Scenario


def bait_from(scenario: Scenario, index: int) -> float:
    """m from opening ``index`` to the middle of the first patch of bait."""
    return math.dist(places.openings(scenario)[index], places.patches(scenario)[0].middle)


def opening_name(scenario: Scenario, index: int) -> str:
    """ "the opening", or which one where there are several."""
    return "the opening" if len(scenario.opening) == 1 else f"opening {index + 1}"


def opening_rows(scenario: Scenario, units: Units) -> list[str]:
    """Openings that are alike in one row: "1 and 2: drop gates, 4 ft wide"."""
    alike: dict[str, list[int]] = {}
    for number, opening in enumerate(scenario.opening, 1):
        wide = f"{units.length(opening.width)} wide"
        hangs = f" ({ONE_WAY})" if opening.gate.one_way else ""
        alike.setdefault(f"{gate_words(opening)}{hangs}, {wide}", []).append(number)
    return [f"{_numbers(numbers)}: {words}" for words, numbers in alike.items()]


ONE_WAY = "one-way, hangs shut"
"""What is said of a one-way gate, which its picture shows shut."""


def gate_words(opening: Opening) -> str:
    """What stands in an opening: "drop gate", "side-hinged gate of two leaves", "net skirt"."""
    gate = opening.gate
    if gate.one_way:
        return str(gate.kind)
    leaves = " of two leaves" if getattr(gate, "leaves", 1) == 2 else ""
    return f"{gate.kind} gate{leaves}"


def _numbers(numbers: list[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]} to {numbers[-1]}"
    *others, last = map(str, numbers)
    return f"{', '.join(others)} and {last}" if others else last


def bait_row(scenario: Scenario, units: Units) -> str:
    """ "bait: 18 ft from opening 1, 6 ft across"; of several patches the nearest and farthest."""
    first, patches = places.openings(scenario)[0], places.patches(scenario)
    away = sorted(math.dist(first, patch.middle) for patch in patches)
    if len(patches) > 1:
        ends = f"{units.length(away[0])} to {units.length(away[-1])}"
        return f"bait: {len(patches)} patches, {ends} from opening 1"
    across = units.length(2 * patches[0].radius)
    return f"bait: {units.length(away[0])} from opening 1, {across} across"


def line_rows(scenario: Scenario, units: Units) -> list[str]:
    """ "trip line: 22 ft from opening 1, 18.8 ft long", one a line."""
    first, rows = places.openings(scenario)[0], []
    for line in places.lines(scenario):
        ends = places.line_ends(line, scenario)
        away, long = units.length(_from_piece(first, *ends)), units.length(math.dist(*ends))
        rows.append(f"trip line: {away} from opening 1, {long} long")
    return rows


def _from_piece(point: Point, a: Point, b: Point) -> float:
    """m from a point to the nearest of the straight piece between a and b."""
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    share = ((point[0] - a[0]) * along[0] + (point[1] - a[1]) * along[1]) / square
    share = min(max(share, 0.0), 1.0)
    return math.dist(point, (a[0] + share * along[0], a[1] + share * along[1]))


def sounder_row(scenario: Scenario) -> str:
    """For the arrow on a plan: that the sounder comes from there, and what its arc stands for."""
    words = "the sounder comes from here"
    if 0.0 < scenario.arrival.bearing_scatter < math.pi:
        words += "; about two in three subgroups from within the arc"
    return words


def _comes_from(scenario: Scenario) -> str:
    arrival = scenario.arrival
    words = f"The sounder comes from {_degrees(arrival.bearing)}"
    if 0.0 < arrival.bearing_scatter < math.pi:
        within = _degrees(arrival.bearing_scatter)
        return f"{words}, about two in three subgroups from within {within} of that"
    return words


def _degrees(angle: float) -> str:
    return f"{math.degrees(angle):.4g} deg"


def watched(scenario: Scenario) -> bool:
    """Whether a person watches, and so a camera hangs at the opening."""
    return any(isinstance(part, PersonTrigger) for part in scenario.trigger.parts)


def plan_words(scenario: Scenario, units: Units) -> str:
    """The whole plan for one who cannot see it; bearings run clockwise from the top."""
    bearings = ", ".join(_degrees(opening.bearing) for opening in scenario.opening)
    several = len(scenario.opening) > 1
    parts = [
        f"The trap from above, to scale: a round fence {units.length(scenario.corral.diameter)} "
        "across, bearings clockwise from the top",
        f"Opening{'s' if several else ''} at {bearings}; "
        + "; ".join(opening_rows(scenario, units)),
        *(row.capitalize() for row in (bait_row(scenario, units), *line_rows(scenario, units))),
        _comes_from(scenario),
        *(["A camera at opening 1"] if watched(scenario) else []),
    ]
    return ". ".join(parts) + "."
