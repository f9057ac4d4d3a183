"""Balances that a solved motion must keep: how far its histories break them at worst."""

from __future__ import annotations

import numpy as np

from soundergate.mechanics.gates.swing import Motion, Swing
from soundergate.mechanics.pullers.air_flow import GAMMA, AirPull, AirRelease
from soundergate.mechanics.pullers.coil import IRON_FIELD, IRON_STEEPNESS, MU0
from soundergate.mechanics.pullers.solenoid import Coil, PullIn


def energy_error(motion: Motion, swing: Swing) -> float:
    """Greatest relative breach of the energy balance of a leaf along its motion (0 = exact)."""
    kinetic = 0.5 * swing.inertia * motion.rate**2
    potential = np.asarray(swing.potential(motion.angle))
    total = kinetic + potential + motion.heat - motion.air_work
    size = np.max(kinetic) + np.ptp(potential) + motion.heat[-1] + abs(motion.air_work[-1])
    return float(np.max(np.abs(total - total[0])) / size) if size > 0.0 else 0.0


def air_energy_error(went: AirRelease, pull: AirPull) -> float:
    """The same of an adiabatic release from a tank."""
    volume = pull.dead_volume + pull.area * went.position
    air = (went.supply * pull.tank + went.chamber * volume) / (GAMMA - 1.0)
    work = pull.load + pull.seal_friction + pull.ambient * pull.area
    total = air + 0.5 * pull.mass * went.speed**2 + work * went.position
    size = went.chamber[-1] * volume[-1] / (GAMMA - 1.0)
    return float(np.max(np.abs(total - total[0])) / size)


def air_mass_error(went: AirRelease, pull: AirPull) -> float:
    """Greatest relative breach of the air's mass balance of an isothermal release."""
    volume = pull.dead_volume + pull.area * went.position
    total = went.supply * pull.tank + went.chamber * volume
    return float(np.max(np.abs(total - total[0])) / (went.chamber[-1] * volume[-1]))


def field_energy(coil: Coil, density: float, gap: float) -> float:
    """Energy of a solenoid's field (J) at ``density`` (T) and ``gap`` (m): its air, its iron."""
    iron = IRON_FIELD * coil.iron_length * coil.saturation / (IRON_STEEPNESS + 1)
    air = density * density * (gap + coil.residual_gap) / (2.0 * MU0)
    return coil.area * (air + iron * (density / coil.saturation) ** (IRON_STEEPNESS + 1))


def coil_energy_error(went: PullIn, coil: Coil, load: float, spring_rate: float = 0.0) -> float:
    """Greatest relative breach of the energy balance: drawn = heat + field + motion + work."""
    field = [
        field_energy(coil, b, coil.gap - x)
        for b, x in zip(went.density, went.position, strict=True)
    ]
    work = load * went.position + 0.5 * spring_rate * went.position**2
    kept = np.array(field) + 0.5 * coil.plunger * went.speed**2 + work
    return float(np.max(np.abs(went.drawn - went.heated - kept)) / went.drawn[-1])
