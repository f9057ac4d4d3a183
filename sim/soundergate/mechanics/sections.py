"""Weight of bars, tubes, pipes and lumber by the foot, from how a shop names them.

All but the channels called by their weight are computed: area of the section, corners sharp, times
the density of steel. Pipe sizes are those of ASME B36.10 (Schedule 40 and 80; walls as in the
ASHRAE Guide 1958, chapter 26, table 1). Wall gauges of tube are Birmingham wire gauge, as tables of
mechanical tubing use them, and not the sheet gauge of the same number. A "C3x4.1 channel" weighs
4.1 lb/ft by its name (AISC designation). Dressed lumber: 35 lb/ft^3.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from math import pi

from soundergate.scenario.constants import FOOT, INCH, LB

STEEL_DENSITY = 7850.0
"""kg/m^3, from memory (the usual handbook value for mild steel)."""
LUMBER_DENSITY = 35.0 * LB / FOOT**3
"""kg/m^3: 35 lb/ft^3, the density behind common tables of sawn-lumber weight."""
LB_PER_FT = LB / FOOT

DRESSED_INCHES = {1: 0.75, 2: 1.5, 3: 2.5, 4: 3.5, 5: 4.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25}
"""Dressed size of softwood lumber by nominal inch (American Softwood Lumber Standard)."""

TUBE_WALL_INCHES = {
    7: 0.180, 8: 0.165, 9: 0.148, 10: 0.134, 11: 0.120, 12: 0.109, 13: 0.095, 14: 0.083,
    15: 0.072, 16: 0.065, 17: 0.058, 18: 0.049, 20: 0.035,
}  # fmt: skip
"""Wall of steel tube, inches by Birmingham gauge number; 10, 11, 12, 14 and 16 are those of a table
of mechanical tubing (http://www.ewco.net/page8.htm), the others from memory."""

PIPE_INCHES = {
    "1/2": (0.840, 0.109, 0.147),
    "3/4": (1.050, 0.113, 0.154),
    "1": (1.315, 0.133, 0.179),
    "1-1/4": (1.660, 0.140, 0.191),
    "1-1/2": (1.900, 0.145, 0.200),
    "2": (2.375, 0.154, 0.218),
    "2-1/2": (2.875, 0.203, 0.276),
    "3": (3.500, 0.216, 0.300),
}
"""Outside diameter, and walls of Schedule 40 and 80, inches by nominal size."""

_UNITS = {"in": INCH, "mm": 1e-3, '"': INCH}
_SIZE = r"(?:\d+[- ]\d+/\d+|\d+/\d+|\d+\.?\d*|\.\d+)"
_SIZES = re.compile(rf"{_SIZE}(?:\s*(?:in|mm|\"))?(?:\s*[x×]\s*{_SIZE}(?:\s*(?:in|mm|\"))?)*", re.I)
_GAUGE = re.compile(r"(?:\s*[x×,]\s*|\s+)(?P<gauge>\d{1,2})\s*-?\s*(?:gauge|gage|ga)\.?$", re.I)
_NAMES = ("square tube", "rectangular tube", "round tube", "angle", "flat bar", "square bar",
          "round bar", "channel")  # fmt: skip
_SECTION = re.compile(rf"\s*(?P<sizes>.+?)\s*(?P<name>{'|'.join(_NAMES)})\s*", re.I)
_PIPE = re.compile(
    rf"\s*(?P<size>{_SIZE})\s*(?:in|\")?\s*(?:(?:schedule|sch)\.?\s*(?P<schedule>\d+)\s*)?pipe\s*",
    re.I,
)
_ROLLED = re.compile(r"\s*C\s*\d+\s*[x×]\s*(?P<pounds>\d+\.?\d*)\s*(?:channel)?\s*", re.I)
_LUMBER = re.compile(r"\s*(\d+)\s*[x×]\s*(\d+)(?:\s*lumber)?\s*", re.I)

EXAMPLES = (
    "2x4 lumber", "1-1/2 in 14 gauge square tube", "2x1 in 11 gauge rectangular tube",
    "1-5/8 in 16 gauge round tube", "1-1/4 in pipe", "2x2x1/8 in angle", "2x1/4 in flat bar",
    "1/2 in round bar", "2x1x1/8 in channel", "C3x4.1 channel", "2 kg/m",
)  # fmt: skip
"""One of each way to name a member."""


@lru_cache(maxsize=1024)
def weight(text: str) -> tuple[float, str]:
    """Mass per length (kg/m) of a member by its name, and where the figure comes from.

    Raises
    ------
    ValueError : a text that names no member, or a size that there is none of.
    """
    for form, weigh in _FORMS:
        match = form.fullmatch(text)
        if match:
            return weigh(match, text)
    raise ValueError(f'{text!r} is no known member; write it like "2x4 lumber", {_like()}')


def _like() -> str:
    return " or ".join(f'"{one}"' for one in ("1-1/2 in 14 gauge square tube", "2x2x1/8 in angle"))


def board(text: str) -> float:
    """Mass per area (kg/m^2) of a face of boards, "2x6 lumber", laid edge to edge and flat.

    Raises
    ------
    ValueError : unreadable text or unknown nominal size.
    """
    return min(_dressed(text)) * LUMBER_DENSITY


def _dressed(text: str) -> tuple[float, float]:
    match = _LUMBER.fullmatch(text)
    sizes = [int(match[k]) for k in (1, 2)] if match else []
    if not sizes or any(size not in DRESSED_INCHES for size in sizes):
        raise ValueError(f'{text!r} is no known lumber; write it like "2x4 lumber"')
    a, b = (DRESSED_INCHES[size] * INCH for size in sizes)
    return a, b


def _lumber(_: re.Match[str], text: str) -> tuple[float, str]:
    a, b = _dressed(text)
    return a * b * LUMBER_DENSITY, "dressed size at 35 lb/ft^3"


def _pipe(match: re.Match[str], text: str) -> tuple[float, str]:
    size = "-".join(match["size"].split())
    schedule = match["schedule"] or "40"
    if size not in PIPE_INCHES or schedule not in ("40", "80"):
        raise ValueError(
            f"{text!r}: no such pipe; known are {', '.join(PIPE_INCHES)} in, schedule 40 and 80"
        )
    outside, *walls = (inches * INCH for inches in PIPE_INCHES[size])
    wall = walls[0 if schedule == "40" else 1]
    return pi * (outside - wall) * wall * STEEL_DENSITY, "ASME B36.10 sizes times density"


def _rolled(match: re.Match[str], text: str) -> tuple[float, str]:
    pounds = float(match["pounds"])
    if not 1.0 <= pounds <= 60.0:
        raise ValueError(f"{text!r}: no such channel; C3x4.1 weighs 4.1 lb/ft by its name")
    return pounds * LB_PER_FT, "the weight in its name (AISC)"


def _section(match: re.Match[str], text: str) -> tuple[float, str]:
    name = match["name"].lower()
    sizes, gauged = _read_sizes(match["sizes"], text)
    if gauged and "tube" not in name:
        raise ValueError(f"{text!r}: a gauge is for the wall of a tube; write the thickness in in")
    wanted = {"round bar": 1, "square bar": 1, "flat bar": 2, "round tube": 2}.get(name, 3)
    if name == "square tube" and len(sizes) == 2:
        sizes = [sizes[0], *sizes]
    if name == "angle" and len(sizes) == 2:
        sizes = [sizes[0], *sizes]
    if len(sizes) != wanted:
        like = next(one for one in EXAMPLES if one.endswith(name) or name == "square bar")
        raise ValueError(f'{text!r}: the sizes are not all there; write it like "{like}"')
    area = _AREAS[name](*sizes)
    if area is None or min(sizes) <= 0.0:
        raise ValueError(f"{text!r}: thicker than it is wide")
    return area * STEEL_DENSITY, "section times density"


def _read_sizes(words: str, text: str) -> tuple[list[float], bool]:
    """The sizes (m), outer ones first and the wall last, and whether the wall is a gauge."""
    gauge = _GAUGE.search(words.strip())
    plain = words.strip()[: gauge.start()] if gauge else words.strip()
    if _SIZES.fullmatch(plain) is None:
        raise ValueError(f'{text!r}: sizes that cannot be read; write them like "2x2x1/8 in"')
    signs = re.findall(r"in|mm|\"", plain, re.I)
    if not signs:
        raise ValueError(f'{text!r}: no unit; write in or mm after the sizes, like "2x2x1/8 in"')
    units = {_UNITS[sign.lower()] for sign in signs}
    if len(units) > 1:
        raise ValueError(f"{text!r}: sizes in two units; write them all in in or all in mm")
    unit = units.pop()
    sizes = [_number(one) * unit for one in re.findall(_SIZE, plain)]
    if gauge is None:
        return sizes, False
    number = int(gauge["gauge"])
    if number not in TUBE_WALL_INCHES:
        known = ", ".join(map(str, TUBE_WALL_INCHES))
        raise ValueError(f"{text!r}: no such wall gauge; known are {known}")
    return [*sizes, TUBE_WALL_INCHES[number] * INCH], True


def _number(text: str) -> float:
    """A size as it is written: 2, 1.5, 1/8 or 1-1/2."""
    *whole, part = re.split(r"[- ]", text)
    top, _, bottom = part.partition("/")
    if bottom and float(bottom) == 0.0:
        raise ValueError(f"{text!r}: a fraction with a zero below the line")
    return float(whole[0] if whole else 0) + float(top) / float(bottom or 1)


def _tube(a: float, b: float, wall: float) -> float | None:
    inner = (a - 2 * wall, b - 2 * wall)
    return a * b - inner[0] * inner[1] if min(inner) > 0.0 else None


def _round_tube(outside: float, wall: float) -> float | None:
    return pi * (outside - wall) * wall if 2 * wall < outside else None


def _angle(a: float, b: float, thick: float) -> float | None:
    return (a + b - thick) * thick if thick < min(a, b) else None


def _channel(web: float, flange: float, thick: float) -> float | None:
    """Of one thickness throughout, bent or bar size."""
    return (web + 2 * (flange - thick)) * thick if thick < min(web / 2, flange) else None


_AREAS: dict[str, Callable[..., float | None]] = {
    "square tube": _tube,
    "rectangular tube": _tube,
    "round tube": _round_tube,
    "angle": _angle,
    "flat bar": lambda a, b: a * b,
    "square bar": lambda a: a * a,
    "round bar": lambda d: pi / 4.0 * d * d,
    "channel": _channel,
}

_FORMS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str], str], tuple[float, str]]], ...] = (
    (_LUMBER, _lumber),
    (_PIPE, _pipe),
    (_ROLLED, _rolled),
    (_SECTION, _section),
)
