"""Numbers inside the sentences of the mechanics room."""

from __future__ import annotations

import re
from math import isfinite

from soundergate.scenario.constants import FOOT, INCH, LB, LBF
from soundergate.scenario.unit_system import MILE, PSI, Units


def percent(share: float) -> str:
    """A probability for people: "97 %", "99.3 %", "under 0.1 %", "over 99.9 %".

    Never 100 %: a computed share of 1 is one that rounding has made so.
    """
    if share <= 0.0:
        return "0 %"
    if share < 0.001:
        return "under 0.1 %"
    if share > 0.999:
        return "over 99.9 %"
    digits = 1 if share < 0.1 or share > 0.9 else 0
    return f"{round(100.0 * share, digits):g} %"


def force(newtons: float) -> str:
    """A force in both systems, as in "719 N (161.7 lbf)" and "111 N (25 lbf)"."""
    pounds = f"{newtons / LBF:.1f}".removesuffix(".0")
    return f"{newtons:.0f} N ({pounds} lbf)"


def travel(metres: float) -> str:
    """A short length in both systems, as in "25 mm (0.98 in)"."""
    return f"{metres * 1e3:.0f} mm ({metres / INCH:.2f} in)"


def pressure(pascals: float) -> str:
    """A gauge pressure in both systems, as in "690 kPa (100 psi)"."""
    return f"{pascals / 1e3:.0f} kPa ({pascals / PSI:.0f} psi)"


def stress(pascals: float) -> str:
    """A stress in both systems, as in "165 MPa (23,900 psi)"."""
    return f"{pascals / 1e6:.0f} MPa ({round(pascals / PSI, -2):,.0f} psi)"


def distance(metres: float) -> str:
    """A length in both systems, as in "0.91 m (3.0 ft)"."""
    return f"{metres:.2f} m ({metres / FOOT:.1f} ft)"


def wind(metres_per_second: float) -> str:
    """A wind speed in both systems, as in "5.6 m/s (13 mph)"."""
    return f"{metres_per_second:.1f} m/s ({metres_per_second * 3600.0 / MILE:.0f} mph)"


def mass(kilograms: float) -> str:
    """A mass in both systems, as in "23 kg (51 lb)"."""
    return f"{kilograms:.0f} kg ({kilograms / LB:.0f} lb)"


_BOTH = re.compile(
    r"(-?[\d.,]+ (?:N|mm|kPa|MPa|m|m/s|kg|g|J)) \((-?[\d.,]+ (?:lbf|in|psi|ft|mph|lb|oz|ft·lbf))\)"
)


def told(text: str, units: Units) -> str:
    """A text that gives figures in both systems, as the functions above do, in ``units`` alone."""
    return _BOTH.sub(r"\2" if units.name == "US" else r"\1", text)


_KINDS = {"N": "force", "kg": "mass", "m": "length"}
_UNIT_AT_END = re.compile(r" \((N|kg|m|mm|m/s|s|deg|share)\)$")


def unit_in(name: str) -> str:
    """The unit that a figure's name ends in, such as "N" of "load (N)"; "" if in none."""
    ends = _UNIT_AT_END.search(name)
    return ends[1] if ends else ""


def figure(name: str, value: float, units: Units) -> tuple[str, str]:
    """A figure whose name ends in its SI unit, "load (N)": name and value for people.

    "(share)" stands for a probability; a speed is that of wind.
    """
    ends = _UNIT_AT_END.search(name)
    bare = told(name[: ends.start()] if ends else name, units)
    unit = ends[1] if ends else ""
    if unit in _KINDS:
        return bare, str(getattr(units, _KINDS[unit])(value))
    if unit == "mm":
        return bare, units.short(value * 1e-3)
    if unit == "m/s":
        return bare, told(wind(value), units)
    if unit == "share":
        return bare, percent(value)
    if not isfinite(value):
        return bare, "never" if unit == "s" else "none"
    return bare, f"{value:.3g} {unit}".rstrip()
