"""What nobody knows, in words that one would say aloud: a phrase for each unknown, and its values.

A phrase stands before "is under" or "is above" with a value in the unknown's own unit: "the time a
pig takes to make up its mind to enter is under 45 s". What explains it stands between commas.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from soundergate.scenario.meanings import meaning

if TYPE_CHECKING:
    from soundergate.studies.worlds.boxes import Side
    from soundergate.studies.worlds.inputs import Input

_LONGER = {"s": ("min", 60.0), "min": ("h", 60.0), "h": ("days", 24.0), "ms": ("s", 1000.0)}
_EDGE = 1e-6
_SAID = {"m^2": "m²", "degC": "°C", "1/h": "an hour", "1/day": "a day"}


def phrase(name: str) -> str:
    """An unknown in words, by its id; the id itself where there are none.

    The words are the key's meaning; the scatter of one (".sigma") is "the scatter of" it.
    """
    known, scatter = (name.removesuffix(".sigma"), name.endswith(".sigma"))
    words = meaning(known)
    if words is None:
        return name
    return f"the scatter of {words}" if scatter else words


def named(name: str) -> str:
    """An unknown in words with its id behind, by which it can be looked up and stated."""
    words = phrase(name)
    return words if words == name else f"{words} ({name})"


def value(one: Input, number: Any) -> str:
    """A value of an unknown as one would say it: two figures and a handy unit.

    Of several numbers that move together, where in what is plausible they are.
    """
    entry = one.entry
    if isinstance(number, list):
        ends = {0.05: "its low end", 0.95: "its high end"}
        return next((said for u, said in ends.items() if one.at(u) == number), "its middle")
    if not one.range_unit and entry.distribution == "logit-normal" and entry.support is None:
        return f"{_figures(100 * number)} %"
    unit = one.range_unit
    while unit in _LONGER and number >= 2 * _LONGER[unit][1]:
        unit, times = _LONGER[unit]
        number /= times
    return f"{_figures(number)} {_SAID.get(unit, unit)}".strip()


def where(side: Side) -> str:
    """A limit on an unknown in words: "the weight of a sow (sounder.mass.sow) is above 75 kg"."""
    one, words = side.unknown, phrase(side.unknown.id)
    comma = "," if ", " in words else ""
    return f"{named(one.id)}{comma} is {_limit(side)}"


def _limit(side: Side) -> str:
    one, number = side.unknown, side.value
    if isinstance(number, list):  # moves as one: no single value to name
        return f"{'below' if side.below else 'above'} its {100 * side.place:.0f} % point"
    if one.entry.whole:
        return _whole(side)
    return f"{'under' if side.below else 'above'} {value(one, number)}"


def _whole(side: Side) -> str:
    """A limit on a whole number: to the nearer end of the places that mean the same number."""
    one, u = side.unknown, side.place
    least, most = _same(one, u)
    number = side.value
    if side.below:
        if most > 1 - _EDGE or most - u > u - least:
            number -= 1
        return f"{number} or less"
    if least < _EDGE or u - least > most - u:
        number += 1
    return f"{number} or more"


def _same(one: Input, u: float) -> tuple[float, float]:
    """The places, from and to, at which a whole number is what it is at ``u``."""
    number = one.at(u)

    def end(outside: float) -> float:
        if one.at(outside) == number:
            return outside
        inside = u
        for _ in range(40):
            half = (inside + outside) / 2
            inside, outside = (half, outside) if one.at(half) == number else (inside, half)
        return inside

    return end(_EDGE / 2), end(1 - _EDGE / 2)


def _figures(number: float) -> str:
    """Two figures, or as many as a whole number of up to four has."""
    if number == 0:
        return "0"
    digits = max(1 - math.floor(math.log10(abs(number))), 0)
    return f"{round(number, digits):g}".replace("-", "−")
