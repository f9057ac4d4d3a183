"""Gate mass from materials: sheet steel by gauge, plywood, lumber, wire mesh.

Sources: sheet steel, US Manufacturers' Standard Gauge (41.82 lb/ft^2 per inch of thickness;
weights of gauges 10, 11, 12, 14, 16, 18 and 20 checked against a published weight table, the
others from memory); galvanized adds 0.156 lb/ft^2; softwood plywood 3.0 lb/ft^2 per inch (APA,
as quoted by trade tables); lumber at 35 lb/ft^3 of dressed section; wire diameters, W&M gauge,
from memory. All results are SI: kg/m^2 for faces, kg/m for frames.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from math import pi
from typing import Any

from soundergate.scenario.constants import FOOT, INCH, LB
from soundergate.scenario.errors import Problem
from soundergate.scenario.units import read_quantity

LB_PER_FT2 = LB / FOOT**2

STEEL_DENSITY = 7850.0
"""kg/m^3, from memory (the usual handbook value for mild steel)."""

SHEET_LB_PER_FT2 = {
    7: 7.5,
    8: 6.875,
    9: 6.25,
    10: 5.625,
    11: 5.0,
    12: 4.375,
    13: 3.75,
    14: 3.125,
    15: 2.8125,
    16: 2.5,
    17: 2.25,
    18: 2.0,
    19: 1.75,
    20: 1.5,
    22: 1.25,
    24: 1.0,
    26: 0.75,
}
"""Sheet steel, pounds per square foot by gauge number."""

GALVANIZED_LB_PER_FT2 = 0.156
PLYWOOD_LB_PER_FT2_INCH = 3.0
LUMBER_DENSITY = 35.0 * LB / FOOT**3
"""kg/m^3: 35 lb/ft^3, the density behind common tables of sawn-lumber weight."""

DRESSED_INCHES = {1: 0.75, 2: 1.5, 3: 2.5, 4: 3.5, 5: 4.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25}
"""Dressed size of softwood lumber by nominal inch (American Softwood Lumber Standard)."""

WIRE_MM = {
    2: 6.668,
    3: 6.190,
    4: 5.723,
    5: 5.258,
    6: 4.877,
    7: 4.496,
    8: 4.115,
    9: 3.767,
    10: 3.429,
    11: 3.061,
    12: 2.680,
    12.5: 2.515,
    14: 2.032,
}
"""Steel wire diameter, mm by W&M gauge number."""

_GAUGE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:-\s*)?(?:gauge|gage|ga)\.?\s*", re.I)
_MESH = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(?:-\s*)?(?:gauge|gage|ga)\.?\s+"
    r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(in|mm|cm)\s*",
    re.I,
)
_LUMBER = re.compile(r"\s*(\d+)\s*[x×]\s*(\d+)(?:\s*lumber)?\s*", re.I)
_MESH_UNIT = {"in": INCH, "mm": 1e-3, "cm": 1e-2}


def gauge_number(text: str) -> float | None:
    """The number in "14 gauge", "14 ga" or "14-gauge"; None when the text is no gauge."""
    match = _GAUGE.fullmatch(text)
    return float(match[1]) if match else None


def sheet(spec: str | float, galvanized: bool = False) -> float:
    """Mass per area (kg/m^2) of sheet steel: "14 gauge", or a thickness in metres.

    A gauge has its weight by standard; a thickness is multiplied by the density of steel, which
    gives about 2 % less for the same sheet.

    Raises
    ------
    ValueError : unknown gauge, unreadable text, or a thickness that is not positive.
    """
    coat = GALVANIZED_LB_PER_FT2 * LB_PER_FT2 if galvanized else 0.0
    if isinstance(spec, str):
        number = gauge_number(spec)
        if number not in SHEET_LB_PER_FT2:
            known = ", ".join(str(g) for g in SHEET_LB_PER_FT2)
            raise ValueError(f'{spec!r} is no sheet gauge; known are {known} ("14 gauge")')
        return SHEET_LB_PER_FT2[int(number)] * LB_PER_FT2 + coat
    return _positive(spec, "sheet thickness") * STEEL_DENSITY + coat


GAUGE_LB_PER_FT2_INCH = 41.82
"""Pounds per square foot and inch of thickness that define the sheet gauges."""


def sheet_thickness(spec: str | float) -> float:
    """Thickness (m) of sheet steel: "14 gauge" (1.898 mm), or the thickness itself.

    Raises
    ------
    ValueError : as `sheet` does.
    """
    if isinstance(spec, str):
        return sheet(spec) / (GAUGE_LB_PER_FT2_INCH * LB_PER_FT2) * INCH
    return _positive(spec, "sheet thickness")


def plywood(thickness: float) -> float:
    """Mass per area (kg/m^2) of softwood plywood of ``thickness`` (m)."""
    return PLYWOOD_LB_PER_FT2_INCH * LB_PER_FT2 * _positive(thickness, "plywood") / INCH


def mesh(spec: str | float) -> float:
    """Mass per area (kg/m^2) of welded wire: "4 gauge 2x4 in", or the figure itself.

    lambda (1/p1 + 1/p2) with lambda the mass per metre of wire and p the pitches.

    Raises
    ------
    ValueError : unreadable text or unknown wire gauge.
    """
    if not isinstance(spec, str):
        return _positive(spec, "mesh mass per area")
    wire, pitches = _wires(spec)
    return STEEL_DENSITY * pi / 4.0 * wire**2 * sum(1.0 / pitch for pitch in pitches)


def mesh_solidity(spec: str | float) -> float:
    """Share of the face (0 to 1) that the wires of a mesh cover.

    1 - (1 - d/p1)(1 - d/p2); for a mesh known by its mass alone, 5 mm wire on a square pitch.
    """
    if isinstance(spec, str):
        wire, pitches = _wires(spec)
    else:
        wire = 0.005
        pitches = (STEEL_DENSITY * pi / 2.0 * wire**2 / spec,) * 2
    return 1.0 - max(0.0, 1.0 - wire / pitches[0]) * max(0.0, 1.0 - wire / pitches[1])


def _wires(text: str) -> tuple[float, tuple[float, float]]:
    """Wire diameter and the two pitches (m) of a mesh text."""
    match = _MESH.fullmatch(text)
    if match is None:
        raise ValueError(f'{text!r} is no mesh; write it like "4 gauge 2x4 in"')
    gauge = float(match[1])
    if gauge not in WIRE_MM:
        known = ", ".join(str(g) for g in WIRE_MM)
        raise ValueError(f"{text!r}: unknown wire gauge; known are {known}")
    unit = _MESH_UNIT[match[4].lower()]
    across, along = (_positive(float(match[k]), "mesh pitch") * unit for k in (2, 3))
    return WIRE_MM[gauge] * 1e-3, (across, along)


def frame(spec: str | float) -> float:
    """Mass per length (kg/m) of a frame member: "2x4 lumber", or the figure itself.

    Raises
    ------
    ValueError : unreadable text or unknown nominal size.
    """
    if not isinstance(spec, str):
        return _positive(spec, "frame mass per length")
    match = _LUMBER.fullmatch(spec)
    sizes = [int(match[k]) for k in (1, 2)] if match else []
    if not sizes or any(size not in DRESSED_INCHES for size in sizes):
        raise ValueError(f'{spec!r} is no known lumber; write it like "2x4 lumber"')
    a, b = (DRESSED_INCHES[size] * INCH for size in sizes)
    return a * b * LUMBER_DENSITY


def panel_mass(
    width: float, height: float, *, face: float, member: float = 0.0, bars: int = 0
) -> float:
    """Mass (kg) of a framed panel: ``face`` kg/m^2 over its area, ``member`` kg/m around it.

    ``bars`` counts upright members between the two ends.
    """
    length = 2.0 * (width + height) + bars * height
    return face * width * height + member * length


def gate_mass(gate: Any, width: float, height: float) -> float:
    """Mass (kg) of a scenario's gate as large as its opening (m): stated, or from its materials.

    Raises
    ------
    Problem : a material that is read but not known; its ``key`` starts with "gate.".
    """
    if gate.mass is not None:
        return float(gate.mass)
    member = known(gate, "frame", frame, "mass per length") if gate.frame else 0.0
    return panel_mass(width, height, face=_face(gate), member=member)


def solidity(gate: Any) -> float:
    """Share of a scenario's gate face that the wind meets: 1 unless it is mesh."""
    if gate.face != "mesh":
        return 1.0
    return known(gate, "mesh", mesh_solidity, "mass per area")


def _face(gate: Any) -> float:
    if gate.face == "plywood":
        return plywood(gate.plywood)
    if gate.face == "mesh":
        return known(gate, "mesh", mesh, "mass per area")
    return known(gate, "sheet", lambda spec: sheet(spec, gate.galvanized), "length")


def known(gate: Any, key: str, weigh: Callable[[str | float], float], dimension: str) -> float:
    """The figure for a material text of a gate's table: a trade name, or a ``dimension``.

    Raises
    ------
    Problem : neither; its key is "gate." and ``key``.
    """
    text = getattr(gate, key)
    said = _quantity(text, dimension)
    if said is not None:
        return weigh(said)
    try:
        return weigh(text)
    except ValueError as error:
        raise Problem(str(error), key=f"gate.{key}", value=text) from None


@lru_cache(maxsize=1024)
def _quantity(text: str, dimension: str) -> float | None:
    """A quantity in SI; None for what is none, and so a trade name."""
    try:
        return read_quantity(text, dimension)
    except Problem:
        return None


def _positive(value: float, name: str) -> float:
    if not value > 0.0:
        raise ValueError(f"{name} must be positive, got {value!r}")
    return float(value)
