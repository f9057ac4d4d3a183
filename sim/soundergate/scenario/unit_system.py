"""Which units a scenario file speaks, so that answers can speak the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Literal

from soundergate.scenario.errors import Problem
from soundergate.scenario.units import split_quantity

System = Literal["US", "SI"]

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
