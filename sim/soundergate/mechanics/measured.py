"""Measured beats computed: how readings at the trap enter the one chain.

A weight and the volts at the coil enter as the table's own values before anything is solved. A pull
stands in for what the latch needs at the puller's end, with the scatter of its readings. A closing
time stretches the computed curve: the way the gate falls stays that of the model, its times are
multiplied by measured / computed, its speeds divided by that and its energies by the square.

The scatter of n readings about their geometric mean, as of a next one:

    sigma^2 = max(s^2 (1 + 1 / n), e^2 / n)

with s the standard deviation of their logarithms and e the error of one reading: the predictive
variance of a normal mean (any textbook), and never less than n readings can tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt
from statistics import fmean, stdev
from typing import Any

from soundergate.mechanics.model import ClosingCurve, GateSolution, LatchSolution
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem


@dataclass(frozen=True)
class Reading:
    """Readings of one quantity in SI: their geometric mean, and the log scatter of a next one."""

    median: float
    sigma: float
    values: tuple[float, ...]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.values)


def reading(values: Sequence[float], error: float) -> Reading:
    """What readings say together; ``error`` is that of one, as a share. All must be above 0."""
    logs = [log(value) for value in values]
    n = len(logs)
    scatter = stdev(logs) ** 2 * (1.0 + 1.0 / n) if n > 1 else 0.0
    return Reading(exp(fmean(logs)), sqrt(max(scatter, error**2 / n)), tuple(values))


def of(opening: Any, name: str) -> Reading | None:
    """The readings "pull", "times", "weight" or "volts" of a scenario's opening; None: none."""
    measured = opening.measured
    values = None if measured is None else getattr(measured, name)
    return None if values is None else reading(values, measured.reading_error)


def as_built(opening: Any) -> Any:
    """The opening with measured weight and coil volts written over what is worked out.

    With the volts across the coil known, nothing outside it takes any.
    """
    weight, volts = of(opening, "weight"), of(opening, "volts")
    changes: dict[str, Any] = {}
    if weight is not None:
        changes["gate"] = opening.gate.model_copy(update={"mass": weight.median})
    if volts is not None:
        changes["latch"] = opening.latch.model_copy(
            update={
                "volts": volts.median,
                "wire_length": 0.0,
                "relay_resistance": 0.0,
                "battery_resistance": 0.0,
            }
        )
    return opening.model_copy(update=changes) if changes else opening


def timed(opening: Any, gate: GateSolution) -> GateSolution:
    """The gate with its curve stretched to the measured closing time.

    Raises
    ------
    Problem : a gate that does not shut by the model, so that there is no curve to stretch.
    """
    times = of(opening, "times")
    if times is None:
        return gate
    if gate.jams or not gate.curve.shuts:
        raise Problem(
            "a closing time was measured, and by this file the gate does not shut at all",
            key="measured.frames" if opening.measured.frames else "measured.closing",
            hint="lower friction or drag in the file until it does",
        )
    factor = times.median / gate.curve.shut_time
    return replace(
        gate, curve=_stretched(gate.curve, factor), rebound_time=gate.rebound_time * factor
    )


def _stretched(curve: ClosingCurve, factor: float) -> ClosingCurve:
    return replace(
        curve,
        time=curve.time * factor,
        rest_time=curve.rest_time * factor,
        speed=curve.speed / factor,
        energy=curve.energy / factor**2,
        rest_energy=curve.rest_energy / factor**2,
    )


def freed_by(opening: Any, latch: LatchSolution) -> LatchSolution:
    """The latch (before its lever) with the measured pull in place of the one worked out.

    A latch that a pull was measured at held until then.
    """
    pull = of(opening, "pull")
    if pull is None:
        return latch
    at_latch = pull.median * opening.latch.lever
    return replace(
        latch,
        pull_required=at_latch,
        pull_required_sigma=pull.sigma,
        law=LogNormal(at_latch, pull.sigma),
        holds=True,
        releases=True,
        hold_probability=1.0,
    )
