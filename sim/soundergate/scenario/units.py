"""Quantities written with their unit, turned into SI numbers and back (Pint does the work).

SI is what the rest of the package sees: m, N, kg, Pa, s, rad, K and so on. Pressures are gauge
pressures as the user states them. Pint is imported at the first quantity, because importing it
takes longer than everything else here.
"""

from __future__ import annotations

import difflib
import math
import re
import threading
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from soundergate.scenario.errors import Problem, ScenarioError


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its SI unit, the largest magnitude believed, and units to suggest."""

    name: str
    si: str
    largest: float
    units: tuple[str, ...]
    example: str

    @property
    def smallest(self) -> float:
        """The smallest magnitude believed, in SI, beside 0.

        Squares and cubes of it are still numbers, of which steel is reckoned. A time may be as
        short as it likes: it is none of steel's, and a part of a distribution.
        """
        return 0.0 if self.name == "time" else 1e-15

    @property
    def with_article(self) -> str:
        """ "a length", "an angle"."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"


_DIMENSIONS = (
    Dimension("length", "m", 1e4, ("ft", "in", "m", "cm"), "4 ft"),
    Dimension("force", "N", 1e7, ("lbf", "N", "kgf"), "25 lbf"),
    Dimension("mass", "kg", 1e6, ("lb", "kg", "oz"), "50 lb"),
    Dimension("pressure", "Pa", 1e9, ("psi", "bar", "kPa"), "90 psi"),
    Dimension("area", "m^2", 1e8, ("ft^2", "in^2", "m^2"), "5 ft^2"),
    Dimension("volume", "m^3", 1e6, ("gal", "L", "in^3"), "5 gal"),
    Dimension("time", "s", 1e10, ("s", "min", "h", "day"), "20 s"),
    Dimension("speed", "m/s", 1e3, ("mph", "ft/s", "m/s"), "10 mph"),
    Dimension("angle", "rad", 1e3, ("deg", "rad"), "45 deg"),
    Dimension("acceleration", "m/s^2", 1e5, ("m/s^2", "ft/s^2"), "9.81 m/s^2"),
    Dimension("mass per area", "kg/m^2", 1e5, ("lb/ft^2", "kg/m^2"), "1.2 kg/m^2"),
    Dimension("mass per length", "kg/m", 1e5, ("lb/ft", "kg/m", "g/m"), "2 kg/m"),
    Dimension("mass per volume", "kg/m^3", 1e5, ("lb/ft^3", "kg/m^3"), "35 lb/ft^3"),
    Dimension("force per length", "N/m", 1e10, ("lbf/in", "N/m"), "20 lbf/in"),
    Dimension("voltage", "V", 1e6, ("V", "mV"), "12 V"),
    Dimension("resistance", "ohm", 1e9, ("ohm",), "2 ohm"),
    Dimension("inductance", "H", 1e4, ("mH", "H"), "30 mH"),
    Dimension("magnetic flux density", "T", 1e3, ("T", "mT"), "1.6 T"),
    Dimension("energy", "J", 1e9, ("J", "ft*lbf"), "20 J"),
    Dimension("torque", "N*m", 1e7, ("lbf*ft", "lbf*in", "N*m"), "3 lbf*ft"),
    Dimension("flow", "m^3/(s*Pa)", 1.0, ("L/(s*bar)",), "2 L/(s*bar)"),
    Dimension("rate", "1/s", 1e9, ("1/h", "1/day", "1/s"), "0.1 /day"),
    Dimension("frequency", "Hz", 1e12, ("Hz", "1/s"), "2 Hz"),
    Dimension("temperature", "K", 1e5, ("degC", "degF", "K"), "20 degC"),
)
DIMENSIONS: dict[str, Dimension] = {d.name: d for d in _DIMENSIONS}

_NUMBER = r"""
    (?P<whole>\d+)[ -](?P<top>\d+)/(?P<bottom>\d+)     # 1 1/2, 1-1/2
  | (?P<top2>\d+)/(?P<bottom2>\d+)                      # 5/8
  | (?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?            # 12, 1.5, .5, 1e3
"""
_QUANTITY = re.compile(rf"\s*(?P<sign>[-+])?\s*(?P<number>{_NUMBER})\s*(?P<unit>.*?)\s*", re.X)
# Names joined by *, /, blank and parentheses, with one-digit powers: enough for every unit a trap
# needs, and too little to make the unit parser work on arithmetic.
_UNIT = re.compile(r"[A-Za-zµμΩ°%][A-Za-zµμΩ°%_]*|1(?=\s*/)|[-*/() ]|\^-?\d(?!\d)")
_COMPOUND = re.compile(r"(?P<first>[^a-zA-Z]+?\s*[a-zA-Z]+)\s+(?P<rest>\d.*)")
_COMPOUND_DIMENSIONS = {"length", "time", "mass", "angle"}
_FEET = re.compile(r"(?<=[\d.])\s*['\u2032]\s*-?\s*")
_INCHES = re.compile(r"(?<=[\d.])\s*(?:\"|\u2033|'')")
_FEET_TO_INCHES = re.compile(r"(?<=ft)\s*-\s*(?=\d)")
_CURLY = re.compile("[\u2018\u2019\u201c\u201d\u201e\u201f\u00ab\u00bb]")
_COMMA = re.compile(r"(\d),(\d)")
_SIGNS = str.maketrans({"−": "-", "⁄": "/", "·": "*", "×": "*"})
_POWERS = {"⁻¹": "^-1", "⁻²": "^-2", "⁻³": "^-3", "²": "^2", "³": "^3", "⁴": "^4"}
_EXTRA_UNITS = ("psig = psi",)  # every pressure here is a gauge pressure

_registry: Any = None
_registry_lock = threading.Lock()


def registry() -> Any:
    """The package's single `pint.UnitRegistry`, built at the first call."""
    global _registry
    with _registry_lock:
        if _registry is None:
            import pint

            built: Any = pint.UnitRegistry()
            for line in _EXTRA_UNITS:
                built.define(line)
            _registry = built
    return _registry


def dimension(name: str) -> Dimension:
    """The dimension called `name`; KeyError with the known names otherwise."""
    try:
        return DIMENSIONS[name]
    except KeyError:
        raise KeyError(f"no dimension {name!r}; known: {', '.join(DIMENSIONS)}") from None


def parse_quantity(text: Any, dimension: str) -> float:
    """The SI value of a quantity such as "4 ft", "5/8 in", "4 ft 6 in" or "90 psi".

    Raises ScenarioError, naming the dimension and units that would do, for a bare number, an
    unknown unit, a unit of another dimension, and NaN, infinite or unbelievably large values.
    """
    try:
        return read_quantity(text, dimension)
    except Problem as problem:
        raise ScenarioError(
            f"{problem.text}: {text!r}" if not isinstance(text, str) else problem.text,
            value=text,
            hint=problem.hint,
        ) from None


def format_quantity(si: float, unit: str, digits: int = 4) -> str:
    """An SI value written in `unit`, e.g. `format_quantity(1.2192, "ft")` is "4 ft".

    Raises ValueError when `unit` belongs to no known dimension.
    """
    value = from_si(si, unit)
    return f"{figures(value, digits)} {unit}"


def figures(value: float, digits: int) -> str:
    """A number with so many significant figures, as one writes it: 6030 and not 6.03e+03."""
    text = f"{value:.{digits}g}"
    if "e" not in text or not 1e-9 < abs(value) < 1e15:
        return text
    text = f"{float(text):.12f}"
    return text.rstrip("0").rstrip(".")


def from_si(si: float, unit: str) -> float:
    """The magnitude in `unit` of a value given in the SI unit of the same dimension."""
    pint_unit = _pint_unit(unit)
    for known in DIMENSIONS.values():
        if registry().Unit(known.si).dimensionality == pint_unit.dimensionality:
            return float(registry().Quantity(si, known.si).m_as(pint_unit))
    raise ValueError(f"no known dimension has the unit {unit!r}")


def read_quantity(value: Any, name: str) -> float:
    """`parse_quantity` for validators: raises Problem, which carries no file and no key."""
    kind = dimension(name)
    if not isinstance(value, str):
        raise Problem(
            _not_text(value, kind), hint=f'write it with its unit, such as "{kind.example}"'
        )
    return _read_cached(value, name)


def _not_text(value: Any, kind: Dimension) -> str:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return (
            f"a bare number where a unit is due: this is {kind.with_article}, "
            f"in {_or(kind.units)} for example"
        )
    return f"must be {kind.with_article} with its unit, in {_or(kind.units)} for example"


@lru_cache(maxsize=4096)
def _read_cached(text: str, name: str) -> float:
    kind = dimension(name)
    _refuse_signs(text, kind)
    value = _read(_normal(text), kind, parts=3)
    if not math.isfinite(value) or abs(value) > kind.largest:
        raise Problem(
            f"{kind.with_article} of this size is not believable",
            hint=f"the limit is {kind.largest:g} {kind.si}",
        )
    if 0.0 < abs(value) < kind.smallest:
        raise Problem(
            f"{kind.with_article} of this size is not believable",
            hint=f"it is 0, or at least {kind.smallest:g} {kind.si}",
        )
    return value


def _refuse_signs(text: str, kind: Dimension) -> None:
    """Problem for signs that a word processor or another country's habit puts in."""
    if _CURLY.search(text):
        straight = _CURLY.sub(lambda sign: "'" if sign[0] in "\u2018\u2019" else '"', text)
        try:
            plain = _plain(straight, kind)
        except Problem:
            plain = kind.example
        raise Problem("curly quotes, which no unit has", hint=f'write "{plain}"')
    if _COMMA.search(text):
        point, none = _COMMA.sub(r"\1.\2", text), _COMMA.sub(r"\1\2", text)
        thousands = re.search(r"\d,\d{3}(?!\d)", text)
        hint = f'write "{point}"' + (f', or "{none}" for thousands' if thousands else "")
        raise Problem(
            f"a comma in a number: this is {kind.with_article}, and the decimal sign is a point",
            hint=hint,
        )


def _plain(text: str, kind: Dimension) -> str:
    """A quantity that can be read, with its units spelt out."""
    _read(_normal(text), kind, parts=3)
    return " ".join(_normal(text).split())


def _normal(text: str) -> str:
    if len(text) > 80:
        raise Problem("too long for a quantity", hint='write a number and a unit, such as "4 ft"')
    text = _INCHES.sub(" in ", text.translate(_SIGNS))
    text = _FEET_TO_INCHES.sub(" ", _FEET.sub(" ft ", text))
    for power, plain in _POWERS.items():
        text = text.replace(power, plain)
    return text.replace("**", "^")


def _read(text: str, kind: Dimension, parts: int) -> float:
    whole = _QUANTITY.fullmatch(text)
    if whole is None:
        raise _no_number(text, kind)
    compound = _COMPOUND.fullmatch(text.strip())
    if compound and kind.name in _COMPOUND_DIMENSIONS and parts > 1:
        first = _read(compound["first"], kind, parts=1)
        return first + math.copysign(_read(compound["rest"], kind, parts - 1), first)
    unit = whole["unit"]
    if not unit:
        raise Problem(
            f"no unit: this is {kind.with_article}, in {_or(kind.units)} for example",
            hint=f'write it with its unit, such as "{kind.example}"',
        )
    number = _number(whole)
    if unit == kind.si:
        return number
    return _convert(number, unit, kind)


def _no_number(text: str, kind: Dimension) -> Problem:
    if re.fullmatch(r"\s*[-+]?\s*(nan|inf|infinity)\b.*", text, re.I):
        return Problem(
            f"not a finite number: this is {kind.with_article}",
            hint=f'write a number and a unit, such as "{kind.example}"',
        )
    return Problem(
        f"not a number with a unit: this is {kind.with_article}, in {_or(kind.units)} for example",
        hint=f'write a number and a unit, such as "{kind.example}"',
    )


def _number(match: re.Match[str]) -> float:
    if match["bottom"] or match["bottom2"]:
        top, bottom = int(match["top"] or match["top2"]), int(match["bottom"] or match["bottom2"])
        if bottom == 0:
            raise Problem("a fraction with a zero below the line")
        value = int(match["whole"] or 0) + top / bottom
    else:
        value = float(match["number"])
    return -value if match["sign"] == "-" else value


def _convert(number: float, unit: str, kind: Dimension) -> float:
    found, factor = _known_unit(unit, kind.name)
    try:
        si = number * factor if factor else registry().Quantity(number, found).m_as(kind.si)
        # Fifteen digits: conversion factors are chains of decimals, and 4 ft should be 1.2192 m.
        return float(f"{si:.15g}")
    except (ArithmeticError, ValueError):
        raise Problem(f"cannot be turned into {kind.si}") from None


@lru_cache(maxsize=1024)
def _known_unit(unit: str, name: str) -> tuple[Any, float]:
    """The Pint unit, and what Pint multiplies by to make SI of it: asked once a unit, since it
    takes Pint long. 0 for a unit whose zero lies elsewhere. Raises Problem for a wrong unit."""
    kind, ureg = dimension(name), registry()
    found = _unit_of(unit, kind)
    if found.dimensionality != ureg.Unit(kind.si).dimensionality:
        raise Problem(
            f"the unit {unit!r} is not {kind.with_article}",
            hint=f"{_or(kind.units)} would do{_lb_hint(unit, kind)}",
        )
    zero, one = (float(ureg.Quantity(x, found).m_as(kind.si)) for x in (0.0, 1.0))
    return found, one if zero == 0.0 else 0.0


def _lb_hint(unit: str, kind: Dimension) -> str:
    if kind.name == "force" and unit in {"lb", "lbs", "pound", "pounds"}:
        return " (a pound of force is lbf)"
    if kind.name == "force" and unit in {"kg", "kilogram"}:
        return " (a kilogram of force is kgf)"
    if kind.name == "mass" and unit == "lbf":
        return " (a pound of mass is lb)"
    return ""


def _unit_of(unit: str, kind: Dimension) -> Any:
    """The pint unit for `unit` as written, or in lower case where that alone is known (PSI)."""
    for spelling in (unit, unit.lower()):
        try:
            return _pint_unit(spelling)
        except ValueError:
            continue
    near = difflib.get_close_matches(unit, kind.units, n=1)
    guess = f"did you mean {near[0]!r}? " if near else ""
    raise Problem(
        f"the unit {unit!r} is unknown: this is {kind.with_article}",
        hint=f"{guess}{_or(kind.units)} would do",
    )


@lru_cache(maxsize=1024)
def _pint_unit(unit: str) -> Any:
    """The `pint.Unit` written as `unit`; ValueError if it is no plain product of known units."""
    pieces = _UNIT.findall(unit)
    tower = re.search(r"\^[^A-Za-z]*\^", unit)  # powers of powers could keep Pint busy for ever
    if not unit.strip() or "".join(pieces) != unit or len(unit) > 40 or tower:
        raise ValueError(f"not a unit: {unit!r}")
    text = re.sub(r"\bper\b", "/", unit)
    text = "1" + text if text.lstrip().startswith("/") else text
    try:
        return registry().Unit(text)
    except Exception as error:  # Pint lets many kinds escape for text that is no unit
        # It may be Pint's own fault, as of a version that does not go with its other packages;
        # then this fails as well, and it is not told as the fault of who wrote the text.
        registry().Unit("ft")
        raise ValueError(f"not a unit: {unit!r}") from error


def split_quantity(text: str) -> tuple[str, str]:
    """The number and the unit of a quantity as they are written, its unit not looked at.

    Raises Problem for a text that does not begin with a number.
    """
    whole = _QUANTITY.fullmatch(_normal(text))
    if whole is None:
        raise Problem("not a number with a unit")
    return whole["number"], whole["unit"]


def _or(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]
