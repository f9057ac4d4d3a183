"""An air cylinder as puller: piston area times pressure, less what seals and rod take.

Retracting, air acts on the rod side, whose area is that of the bore less that of the rod; trade
figures often quote the full bore. Seals cost the equivalent of a few psi (published guideline: 1 to
10 psi), which does not scatter with the supply: A = (p s - loss) area with ln s normal. How fast
the chamber fills is the affair of `air_flow`.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, isfinite, pi
from typing import Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.bounded import TooFine
from soundergate.mechanics.model import LatchSolution, PullerSolution, Site
from soundergate.mechanics.pullers import air_flow
from soundergate.mechanics.pullers.delays import later
from soundergate.scenario.distributions import LogNormal

CAUTION = (
    "Compressed air stores energy: bleed the tank and lines before working on latch or cylinder, "
    "keep hands clear of rod and lever, use fittings and hose rated above the supply, and never "
    "exceed the cylinder's or the tank's rated pressure."
)


def areas(bore: float, rod: float) -> tuple[float, float]:
    """Areas (m^2) that push and that pull of a double-acting cylinder; diameters in m.

    Raises
    ------
    ValueError : when the rod is not thinner than the bore, or either is not positive.
    """
    if not 0.0 < rod < bore:
        raise ValueError(
            f"rod must be thinner than bore and both positive, got rod {rod!r} m, bore {bore!r} m"
        )
    full = pi / 4.0 * bore**2
    return full, full - pi / 4.0 * rod**2


def pull(
    pressure: float, bore: float, rod: float, *, retracting: bool = True, seal_loss: float = 0.0
) -> float:
    """Force (N) at gauge ``pressure`` (Pa), less ``seal_loss`` (Pa); never below 0."""
    push_area, pull_area = areas(bore, rod)
    area = pull_area if retracting else push_area
    return max(pressure - seal_loss, 0.0) * area


def rod_side_note(pressure: float, bore: float, rod: float, seal_loss: float) -> str:
    """Why the pull is less than the full-bore figure, in words."""
    if pressure <= 0.0:
        return "without pressure above the atmosphere the cylinder does not pull"
    full = pull(pressure, bore, rod, retracting=False)
    text = (
        f"retracting, the air acts on the rod side: the rod takes its area, so the full-bore "
        f"figure of {words.force(full)} falls to {words.force(pull(pressure, bore, rod))}"
    )
    if seal_loss > 0.0:
        left = pull(pressure, bore, rod, seal_loss=seal_loss)
        text += f", and seal drag worth {words.pressure(seal_loss)} leaves {words.force(left)}"
    return text


def solution(
    pressure: LogNormal,
    bore: float,
    rod: float,
    delay: Any,
    *,
    retracting: bool = True,
    seal_loss: float = 0.0,
    stroke: float = float("inf"),
) -> PullerSolution:
    """An air cylinder in plain numbers: gauge pressure Pa (median and sigma of ln), lengths m."""
    force = pull(pressure.median, bore, rod, retracting=retracting, seal_loss=seal_loss)
    area = areas(bore, rod)[1 if retracting else 0]
    law = LogNormal((pressure.median - seal_loss) * area, pressure.sigma, -seal_loss * area)
    note = (
        rod_side_note(pressure.median, bore, rod, seal_loss)
        if retracting
        else "extending, the air acts on the full bore"
    )
    return PullerSolution(
        kind="air cylinder",
        available=force,
        available_sigma=pressure.sigma * pressure.median * area / force if force > 0.0 else 0.0,
        law=law,
        delay=delay,
        stroke=stroke,
        recharge="each release uses up air: watch the tank's pressure between nights",
        notes=(note,),
        cautions=(CAUTION,),
        sketch={"bore": bore, "rod": rod, "pressure": pressure.median, "retracting": retracting},
    )


def solve(latch: Any, opening: Any, site: Site, need: LatchSolution) -> PullerSolution:
    """The air cylinder of a scenario's latch table, with the time its air takes."""
    pressure = latch.supply.scaled(latch.pressure)
    delay = latch.delay
    if delay is None:
        delay = later(latch.valve, air_time(latch, need))
    puller = solution(
        pressure,
        latch.bore,
        latch.rod,
        delay,
        retracting=latch.retracting,
        seal_loss=latch.seal_loss,
        stroke=latch.stroke,
    )
    count = releases(latch, need)
    if count is None:
        return puller
    said = f"a full tank holds air for {count} releases at typical friction"
    return replace(puller, recharge=f"{said}; {puller.recharge}", notes=(*puller.notes, said))


def releases(latch: Any, need: LatchSolution) -> int | None:
    """How often one filling of the tank frees the latch at typical friction; None without a tank.

    The rod moves its whole stroke each time, and the air is back at the tank's temperature.
    """
    if latch.tank is None:
        return None
    push_area, pull_area = areas(latch.bore, latch.rod)
    area = pull_area if latch.retracting else push_area
    dead = _dead_volume(latch)
    gauge = latch.pressure * latch.supply.median
    regulated = latch.tank_pressure is not None
    full = latch.tank_pressure * latch.supply.median if regulated else gauge
    return air_flow.releases_in_tank(
        latch.tank,
        air_flow.ATMOSPHERE + full,
        air_flow.ATMOSPHERE + need.pull_required / area + latch.seal_loss,
        dead + area * latch.stroke,
        dead,
        regulated=air_flow.ATMOSPHERE + gauge if regulated else None,
    )


def _dead_volume(latch: Any) -> float:
    """Volume (m^3) between valve and piston before the piston moves."""
    hose = air_flow.hose_volume(latch.hose_bore, latch.hose_length)
    return float(max(latch.dead_volume + hose, 1e-6))


STALLED_SHARE = 0.95
"""A cylinder too weak at typical friction is timed at this share of its own pull instead, the
case in which friction happens to be low enough."""


def air_time(latch: Any, need: LatchSolution) -> float:
    """Time (s) from the valve passing air to the latch being free, at typical friction."""
    push_area, pull_area = areas(latch.bore, latch.rod)
    area = pull_area if latch.retracting else push_area
    path = [air_flow.Conductance(latch.conductance, latch.critical_ratio)]
    if latch.hose_length > 0.0:
        path.append(air_flow.hose(latch.hose_bore, latch.hose_length))
    gauge = latch.pressure * latch.supply.median
    seal = min(latch.seal_loss, gauge) * area
    load = min(need.pull_required, STALLED_SHARE * (gauge * area - seal))
    pull = air_flow.AirPull(
        area=area,
        dead_volume=_dead_volume(latch),
        load=load,
        seal_friction=seal,
        mass=latch.moving_mass,
        travel=min(need.trip_travel, latch.stroke),
        supply=air_flow.ATMOSPHERE + gauge,
        tank=latch.tank if latch.tank is not None and latch.tank_pressure is None else inf,
        path=air_flow.in_series(*path),
    )
    if gauge <= 0.0:
        return 0.0
    try:
        time = air_flow.release(pull).release_time
    except TooFine:
        time = air_flow.steady_release(pull)
    return time if isfinite(time) else 0.0
