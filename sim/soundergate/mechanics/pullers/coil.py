"""A coil, its circuit and its iron: the current it draws and the pull it gives.

Circuit: i = V / (R coil + R cable + R battery), the coil's copper at its own temperature. Magnet:
one working gap g in a core of pole area A, with flux phi = B A. The ampere-turns N i are spent on
the gap, B g / mu0, and on the iron, which takes almost none until it saturates; whatever the iron
does, the force is B^2 A / (2 mu0), the derivative of the stored energy at constant flux. With
ideal iron that is (N i)^2 mu0 A / (2 g^2).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

MU0 = 4.0e-7 * pi
"""Magnetic constant, H/m (the exact value before 2019; it differs by less than 1e-9 since)."""

COPPER_COEFFICIENT = 0.00393
"""Rise of copper's resistance per kelvin, referred to 20 degrees C (IEC 60028)."""

COPPER_RESISTIVITY = 1.7241e-8
"""Ohm m of annealed copper at 20 degrees C (IEC 60028, 1/58 ohm mm^2/m)."""

ROOM = 293.15
"""20 degrees C in K."""

IRON_FIELD = 4000.0
IRON_STEEPNESS = 9
"""Field (A/m) that mild steel needs at its saturation density, and the power with which that need
rises: 4 kA/m at 1.6 T, 12 kA/m at 1.8 T, 35 kA/m at 2 T (handbook magnetisation curves, from
memory)."""


def copper_resistance(at_room: float, temperature: float) -> float:
    """Resistance (ohm) of a copper winding at ``temperature`` (K), given that at 20 degrees C."""
    return at_room * (1.0 + COPPER_COEFFICIENT * (temperature - ROOM))


def wire_diameter(gauge: int) -> float:
    """Diameter (m) of American wire gauge number ``gauge``: 0.127 mm times 92^((36 - n)/39)."""
    return 0.127e-3 * 92.0 ** ((36 - gauge) / 39.0)


def cable_resistance(length: float, gauge: int, temperature: float = ROOM) -> float:
    """Resistance (ohm) of a two-wire cable ``length`` m long, there and back."""
    section = 0.25 * pi * wire_diameter(gauge) ** 2
    return copper_resistance(2.0 * length * COPPER_RESISTIVITY / section, temperature)


@dataclass(frozen=True)
class Coil:
    """A solenoid and its circuit (SI).

    ``gap`` m before the pull; ``residual_gap`` m more never closes; ``saturation`` T of the iron
    and ``iron_length`` m of the flux path in it; ``plunger`` kg of all that moves; ``volts`` of the
    battery at rest; ``resistance`` ohm of the coil at 20 degrees C, ``temperature`` K of the coil,
    ``outside`` ohm of cable and battery.
    """

    turns: int
    area: float
    gap: float
    plunger: float
    volts: float
    resistance: float
    residual_gap: float = 0.3e-3
    saturation: float = 1.6
    temperature: float = ROOM
    outside: float = 0.0
    iron_length: float = 0.15

    @property
    def total_resistance(self) -> float:
        """Of the whole circuit with the coil at its temperature, ohm."""
        return copper_resistance(self.resistance, self.temperature) + self.outside

    @property
    def current(self) -> float:
        """Once risen, A."""
        return self.volts / self.total_resistance

    def ampere_turns(self, density: float, gap: float) -> float:
        """Ampere-turns that drive ``density`` (T) through gap (m, with the residual) and iron."""
        share = density / self.saturation
        iron = IRON_FIELD * self.iron_length * share**IRON_STEEPNESS
        return density * (gap + self.residual_gap) / MU0 + iron

    def density(self, current: float, gap: float) -> float:
        """Flux density (T) that ``current`` (A) holds across ``gap`` (m)."""
        from scipy.optimize import brentq

        wanted = self.turns * current
        if wanted <= 0.0:
            return 0.0
        ideal = MU0 * wanted / (gap + self.residual_gap)
        return float(brentq(lambda b: self.ampere_turns(b, gap) - wanted, 0.0, ideal, xtol=1e-14))

    def pull(self, gap: float | None = None, current: float | None = None) -> float:
        """Force (N) at ``gap`` (the open one if None) and ``current`` (the risen one if None)."""
        i = self.current if current is None else current
        b = self.density(i, self.gap if gap is None else gap)
        return b * b * self.area / (2.0 * MU0)

    @property
    def inductance(self) -> float:
        """With the gap open and the iron ideal, H: N^2 mu0 A / g."""
        return self.turns**2 * MU0 * self.area / (self.gap + self.residual_gap)
