"""Which units a scenario file is written in, and how a quantity is written for its reader.

Sentences, tables, figures and pages all write quantities through `Units`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal, NamedTuple

from soundergate.scenario.constants import FOOT, INCH, LB, LBF
from soundergate.scenario.errors import Problem
from soundergate.scenario.units import split_quantity

System = Literal["US", "SI"]

MILE = 5280.0 * FOOT
"""m"""
PSI = LBF / INCH**2
"""Pa in a pound-force per square inch."""
FOOT_POUND = LBF * FOOT
"""J in a foot pound-force."""


class Unit(NamedTuple):
    """A unit as it is printed, and the SI value of one."""

    sign: str
    size: float


@dataclass(frozen=True)
class Units:
    """A system of units for people: its name, and the unit of each quantity.

    `lengths` are for corrals and openings, `heights` for bodies and what they pass under, `shorts`
    for travels and bolts. A method writes one SI value with its unit.
    """

    name: System
    lengths: Unit
    heights: Unit
    shorts: Unit
    forces: Unit
    masses: Unit
    energies: Unit
    speeds: Unit
    pressures: Unit

    def length(self, metres: float, decimals: int | None = None) -> str:
        return _written(metres, self.lengths, decimals)

    def height(self, metres: float, decimals: int | None = None) -> str:
        return _written(metres, self.heights, decimals)

    def short(self, metres: float) -> str:
        return _written(metres, self.shorts)

    def force(self, newtons: float) -> str:
        return _written(newtons, self.forces)

    def mass(self, kilograms: float) -> str:
        return _written(kilograms, self.masses)

    def energy(self, joules: float) -> str:
        return _written(joules, self.energies)

    def speed(self, metres_per_second: float) -> str:
        return _written(metres_per_second, self.speeds)

    def pressure(self, pascals: float) -> str:
        return _written(pascals, self.pressures)


US = Units(
    "US",
    lengths=Unit("ft", FOOT),
    heights=Unit("in", INCH),
    shorts=Unit("in", INCH),
    forces=Unit("lbf", LBF),
    masses=Unit("lb", LB),
    energies=Unit("ft·lbf", FOOT_POUND),
    speeds=Unit("ft/s", FOOT),
    pressures=Unit("psi", PSI),
)
SI = Units(
    "SI",
    lengths=Unit("m", 1.0),
    heights=Unit("cm", 1e-2),
    shorts=Unit("mm", 1e-3),
    forces=Unit("N", 1.0),
    masses=Unit("kg", 1.0),
    energies=Unit("J", 1.0),
    speeds=Unit("m/s", 1.0),
    pressures=Unit("kPa", 1e3),
)


def units(system: str | Units) -> Units:
    """The system called "US" or "SI", or the one given; ValueError for any other name."""
    if isinstance(system, Units):
        return system
    known = {"US": US, "SI": SI}
    if system not in known:
        raise ValueError(f"units must be 'US' or 'SI', got {system!r}")
    return known[system]


def _written(si: float, unit: Unit, decimals: int | None = None) -> str:
    """Three significant figures, two below 1; whole numbers from 100 up; or so many decimals.

    Twelve figures come first, so that 78.75 lb and the 78.75 lbf that it weighs are rounded alike.
    """
    value = float(f"{si / unit.size:.12g}")
    if not isfinite(value):
        return "without limit"
    if decimals is None and abs(value) < 99.95:
        number = f"{value:.{3 if abs(value) >= 1 else 2}g}"
    else:
        number = f"{value:.{decimals or 0}f}"
    return f"{number} {unit.sign}"


_US_NAMES = """
ft foot feet in inch inches yd yard yards mi mile miles mph lb lbs pound pounds lbf oz ounce ounces
gal gallon gallons psi psig degf gauge gage ga
"""
_METRIC_NAMES = """
m meter meters metre metres mm cm km kph kg g gram grams t n kn kgf pa kpa mpa bar mbar
l liter liters litre litres ml j kj degc k
"""
_NAMES_OF_NEITHER = "s sec min h hr hour hours day days week year deg rad per"
_US, _METRIC = frozenset(_US_NAMES.split()), frozenset(_METRIC_NAMES.split())
_KNOWN = _US | _METRIC | frozenset(_NAMES_OF_NEITHER.split())


def system_of(raw: Any) -> System:
    """The system that a scenario as written (`Scenario.raw`) uses: "US" or "SI".

    The one in which more of its quantities are written; when both are used alike, that of the
    first such quantity; "SI" when there is none. Times, angles and electrical units belong to
    neither, a sheet's gauge to US units; titles are not looked at.
    """
    found = [system for text in _texts(raw) if (system := _system_of_text(text))]
    us = found.count("US")
    if not found or 2 * us == len(found):
        return found[0] if found else "SI"
    return "US" if 2 * us > len(found) else "SI"


def _texts(value: Any) -> Iterator[str]:
    """Every text of a nested table, in the order of the file."""
    if isinstance(value, dict):
        for key, item in value.items():
            if key != "title":
                yield from _texts(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from _texts(item)
    elif isinstance(value, str):
        yield value


def _system_of_text(text: str) -> System | None:
    """The system of one quantity; None for a unit of neither, and for what is no quantity."""
    try:
        _, unit = split_quantity(text)
    except Problem:
        return None
    names = set(re.findall(r"[a-zµμω°]+", unit.lower()))
    if not names <= _KNOWN:
        return None
    return "US" if names & _US else "SI" if names & _METRIC else None
