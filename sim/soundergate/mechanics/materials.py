"""Gate mass from materials: sheet steel, plywood, boards, wire mesh and panels, expanded metal.

Sources: sheet steel, US Manufacturers' Standard Gauge (41.82 lb/ft^2 per inch of thickness;
weights of gauges 10, 11, 12, 14, 16, 18 and 20 checked against a published weight table, the
others from memory); galvanized adds 0.156 lb/ft^2; softwood plywood 3.0 lb/ft^2 per inch (APA,
as quoted by trade tables); wire diameters, W&M gauge, from memory. Members of a frame are in
`sections`. All results are SI: kg/m^2 for faces, kg/m for frames.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any

from soundergate.mechanics import sections
from soundergate.mechanics.sections import STEEL_DENSITY
from soundergate.scenario.constants import FOOT, INCH, LB
from soundergate.scenario.errors import Problem
from soundergate.scenario.units import read_quantity

LB_PER_FT2 = LB / FOOT**2

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
_EXPANDED = re.compile(
    r"\s*(\d+(?:[- ]\d+/\d+)?|\d+/\d+)\s*(?:in|\")?\s*#\s*(\d+)\s*(flattened\s+)?"
    r"expanded(?:\s+metal)?\s*",
    re.I,
)
_PANEL = re.compile(r"\s*(cattle|hog)\s+panel\s*", re.I)

EXPANDED = {
    "1/2 #16": (0.500, 0.087, 0.86),
    "1/2 #13": (0.500, 0.096, 1.47),
    "3/4 #16": (0.923, 0.101, 0.54),
    "3/4 #13": (0.923, 0.096, 0.80),
    "3/4 #10": (0.923, 0.144, 1.20),
    "3/4 #9": (0.923, 0.150, 1.80),
    "1-1/2 #13": (1.330, 0.105, 0.60),
    "1-1/2 #10": (1.330, 0.138, 0.79),
    "1-1/2 #9": (1.330, 0.144, 1.20),
}
"""Expanded carbon steel by style (EMMA 557, ASTM F1267; figures from memory): the short way of a
diamond from bond to bond and the width of a strand, in, and lb/ft^2 of the raised sheet."""
FLATTENED = 0.95
"""Weight of flattened expanded metal by that of the raised, from memory: 1.71 to 1.80 lb/ft^2."""

PANELS = {"cattle": (50.0, 10), "hog": (34.0, 11)}
"""Height (in) and line wires of the welded panels of 16 ft that stock is kept behind; with stays
every 8 in, all of 4 gauge wire. Common sizes, from memory: count the wires of your own."""
_PANEL_FEET, _STAY_INCHES, _PANEL_GAUGE = 16.0, 8.0, 4

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
    """Mass per area (kg/m^2) of an open face: "4 gauge 2x4 in", "3/4 in #9 expanded metal",
    "cattle panel", "hog panel", or the figure itself.

    Welded wire: lambda (1/p1 + 1/p2) with lambda the mass per metre of wire and p the pitches. A
    panel is that with the pitches of its wires as they are counted.

    Raises
    ------
    ValueError : unreadable text, an unknown wire gauge or style.
    """
    if not isinstance(spec, str):
        return _positive(spec, "mesh mass per area")
    style = _style(spec)
    if style is not None:
        return style[2] * LB_PER_FT2
    wire, pitches = _wires(spec)
    return STEEL_DENSITY * pi / 4.0 * wire**2 * sum(1.0 / pitch for pitch in pitches)


def mesh_solidity(spec: str | float) -> float:
    """Share of the face (0 to 1) that the wires of a mesh cover.

    1 - (1 - d/p1)(1 - d/p2); two strands to the short way of a diamond of expanded metal; for a
    mesh known by its mass alone, 5 mm wire on a square pitch.
    """
    if isinstance(spec, str):
        style = _style(spec)
        if style is not None:
            return 2.0 * style[1] / style[0]
        wire, pitches = _wires(spec)
    else:
        wire = 0.005
        pitches = (STEEL_DENSITY * pi / 2.0 * wire**2 / spec,) * 2
    return 1.0 - max(0.0, 1.0 - wire / pitches[0]) * max(0.0, 1.0 - wire / pitches[1])


def _style(text: str) -> tuple[float, float, float] | None:
    """Short way and strand (in) and lb/ft^2 of expanded metal; None for what is none."""
    match = _EXPANDED.fullmatch(text)
    if match is None:
        return None
    name = f"{'-'.join(match[1].split())} #{match[2]}"
    if name not in EXPANDED:
        raise ValueError(f"{text!r}: unknown style of expanded metal; known are "
                         f"{', '.join(EXPANDED)}")  # fmt: skip
    short_way, strand, pounds = EXPANDED[name]
    return short_way, strand, pounds * (FLATTENED if match[3] else 1.0)


def _wires(text: str) -> tuple[float, tuple[float, float]]:
    """Wire diameter and the two pitches (m) of a mesh text."""
    panel = _PANEL.fullmatch(text)
    if panel:
        high, lines = PANELS[panel[1].lower()]
        stays = _PANEL_FEET * 12.0 / _STAY_INCHES + 1.0
        pitches = (high / lines * INCH, _PANEL_FEET / stays * FOOT)
        return WIRE_MM[_PANEL_GAUGE] * 1e-3, pitches
    match = _MESH.fullmatch(text)
    if match is None:
        raise ValueError(
            f'{text!r} is no mesh; write it like "4 gauge 2x4 in", "3/4 in #9 expanded metal" '
            'or "cattle panel"'
        )
    gauge = float(match[1])
    if gauge not in WIRE_MM:
        known = ", ".join(str(g) for g in WIRE_MM)
        raise ValueError(f"{text!r}: unknown wire gauge; known are {known}")
    unit = _MESH_UNIT[match[4].lower()]
    across, along = (_positive(float(match[k]), "mesh pitch") * unit for k in (2, 3))
    return WIRE_MM[gauge] * 1e-3, (across, along)


def frame(spec: str | float) -> float:
    """Mass per length (kg/m) of a frame member: "2x4 lumber", "2x2x1/8 in angle", or the figure.

    Raises
    ------
    ValueError : a text that `sections.weight` does not know.
    """
    if not isinstance(spec, str):
        return _positive(spec, "frame mass per length")
    return sections.weight(spec)[0]


@dataclass(frozen=True)
class Piece:
    """A part of a gate: what it is, its mass (kg), and where the weight comes from."""

    name: str
    mass: float
    origin: str


def panel_mass(
    width: float, height: float, *, face: float, member: float = 0.0, uprights: int = 0
) -> float:
    """Mass (kg) of a framed panel: ``face`` kg/m^2 over its area, ``member`` kg/m around it.

    ``uprights`` counts upright members between the two ends.
    """
    return face * width * height + member * frame_length(width, height, uprights)


def frame_length(width: float, height: float, uprights: int = 0, rails: int = 0) -> float:
    """Length (m) of the members of a frame, with those inside it; ``rails`` lie."""
    return 2.0 * (width + height) + uprights * height + rails * width


def gate_mass(gate: Any, width: float, height: float) -> float:
    """Mass (kg) of a scenario's gate as large as its opening (m): stated, or from its materials.

    Raises
    ------
    Problem : a material that is read but not known; its ``key`` starts with "gate.".
    """
    return sum(piece.mass for piece in pieces(gate, width, height))


def pieces(gate: Any, width: float, height: float) -> tuple[Piece, ...]:
    """What a scenario's gate is made up of. Raises as `gate_mass` does."""
    if gate.mass is not None:
        return (Piece("as stated", float(gate.mass), "stated in the file"),)
    found = [Piece(_face_name(gate), _face(gate) * width * height, _face_origin(gate))]
    if gate.frame:
        member = known(gate, "frame", frame, "mass per length")
        length = frame_length(width, height, gate.uprights, gate.rails)
        found.append(Piece(f"frame of {gate.frame}", member * length, _frame_origin(gate.frame)))
    return tuple(found)


def _face_name(gate: Any) -> str:
    if gate.face == "plywood":
        return f"plywood of {gate.plywood / INCH:.3g} in"
    text = str(getattr(gate, gate.face))
    if gate.face == "sheet":
        return f"{text} {'galvanized ' if gate.galvanized else ''}sheet"
    measured = gate.face == "mesh" and _quantity(text, "mass per area") is not None
    return f"mesh of {text}" if measured else text


def _face_origin(gate: Any) -> str:
    if _quantity(str(getattr(gate, gate.face)), _DIMENSIONS.get(gate.face, "length")) is not None:
        return "density" if gate.face == "sheet" else "stated in the file"
    if gate.face == "mesh":
        expanded = _EXPANDED.fullmatch(gate.mesh)
        return "EMMA 557, from memory" if expanded else "wires by W&M gauge, from memory"
    return {
        "sheet": "Manufacturers' Standard Gauge",
        "plywood": "3.0 lb/ft^2 an inch (APA, by trade tables)",
    }.get(gate.face, "dressed size at 35 lb/ft^3")


_DIMENSIONS = {"mesh": "mass per area"}


def _frame_origin(text: str) -> str:
    if _quantity(text, "mass per length") is not None:
        return "stated in the file"
    return sections.weight(text)[1]


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
    if gate.face == "boards":
        return _trade(gate, "boards", sections.board)
    return known(gate, "sheet", lambda spec: sheet(spec, gate.galvanized), "length")


def known(gate: Any, key: str, weigh: Callable[[str | float], float], dimension: str) -> float:
    """The figure for a material text of a gate's table: a trade name, or a ``dimension``.

    Raises
    ------
    Problem : neither; its key is "gate." and ``key``.
    """
    text = getattr(gate, key)
    said = _quantity(text, dimension)
    return weigh(said) if said is not None else _trade(gate, key, weigh)


def _trade(gate: Any, key: str, weigh: Callable[[str], float]) -> float:
    """The figure for a material that is known by its name only. Raises as `known` does."""
    text = getattr(gate, key)
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
