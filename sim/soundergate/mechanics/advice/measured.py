"""Readings beside what the model works out: by how much they differ, and against what that speaks.

Each sentence names the assumption that the difference speaks against, with the value that would
mend it where one value does. A difference within twice the scatter of the readings speaks against
nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log
from typing import Any

from soundergate.mechanics import measured, setup
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.measured import Reading
from soundergate.mechanics.opening import OpeningSetup
from soundergate.mechanics.pullers.solenoid import circuit_of
from soundergate.scenario.register import register, registered_id
from soundergate.scenario.unit_system import Units

WITHIN = 2.0
"""Standard deviations of the readings within which they and the model say the same."""


@dataclass(frozen=True)
class Difference:
    """One quantity as measured and as worked out (SI), and in words what the two say together."""

    what: str
    unit: str
    measured: float
    scatter: float
    readings: int
    computed: float
    agrees: bool
    speaks_against: str
    sentence: str


def differences(scenario: Any, index: int, units: Units) -> tuple[Difference, ...]:
    """What was measured at one opening beside what the model works out without it."""
    table = scenario.opening[index]
    if table.measured is None:
        return ()
    plain = setup.solve(without(scenario, index)).openings[index]
    # A pull and a time are held against the gate of the weight that it was found to have.
    weighed = setup.solve(without(scenario, index, keep=("weight",))).openings[index]
    return tuple(_all(table, plain, weighed, units))


def _all(
    table: Any, plain: OpeningSetup, weighed: OpeningSetup, units: Units
) -> Iterator[Difference]:
    weight, volts = measured.of(table, "weight"), measured.of(table, "volts")
    pull, times = measured.of(table, "pull"), measured.of(table, "times")
    if weight is not None:
        yield _told("the weight of the gate", "kg", weight, plain.mass, units.mass, _of_weight)
    if pull is not None:
        need = weighed.pull_required
        yield _told(
            "the pull that frees the latch", "N", pull, need, units.force,
            lambda ratio: _of_pull(table, ratio),
        )  # fmt: skip
    if times is not None:
        yield _told(
            "the closing time", "s", times, weighed.curve.shut_time, lambda t: f"{t:.2f} s",
            lambda ratio: _of_time(table, ratio),
        )  # fmt: skip
    if volts is not None:
        there = circuit_of(table.latch).coil_volts
        yield _told(
            "the voltage at the coil", "V", volts, there, lambda v: f"{v:.3g} V",
            lambda _: _of_volts(table.latch, volts),
        )  # fmt: skip


def _told(
    what: str, unit: str, found: Reading, computed: float, write: Any, against: Any
) -> Difference:
    if computed <= 0.0:  # nothing rubs, by the file
        head = f"Measured: {what} is {write(found.median)} ({_readings(found, write)})"
        said = "the file's own friction, by which nothing holds it"
        return Difference(
            what, unit, found.median, found.sigma, found.count, computed, False, said,
            f"{head}; worked out: none. That speaks against {said}.",
        )  # fmt: skip
    ratio = found.median / computed
    agrees = abs(log(ratio)) <= WITHIN * found.sigma
    head = (
        f"Measured: {what} is {write(found.median)} ({_readings(found, write)}); worked out: "
        f"{write(computed)}"
    )
    if agrees:
        told = f"{head}. They agree within the scatter of the readings."
        return Difference(
            what, unit, found.median, found.sigma, found.count, computed, True, "", told
        )
    more = f"{100 * abs(ratio - 1):.0f} % {'more' if ratio > 1 else 'less'}"
    said = against(ratio)
    told = f"{head}. That is {more}, and speaks against {said}. The measured value counts."
    return Difference(
        what, unit, found.median, found.sigma, found.count, computed, False, said, told
    )


def _readings(found: Reading, write: Any) -> str:
    if found.count == 1:
        return f"one reading, taken to be right to {100 * found.sigma:.0f} %"
    low, high = min(found.values), max(found.values)
    return f"{found.count} readings, {write(low)} to {write(high)}"


def _of_weight(ratio: float) -> str:
    if ratio > 1.0:
        return "the list of materials: hinges, lock, bolts, welds or mud weigh too"
    return "the list of materials: a thinner face or a lighter frame than the file says"


def _of_pull(table: Any, ratio: float) -> str:
    friction = table.latch.friction.median
    known = register()[registered_id(type(table.latch).model_fields["friction"]) or ""]
    would = friction * ratio
    if friction > 0.0 and known.low <= would <= known.high:
        return (
            f"the friction of the latch: {would:.2g} would give it, where {friction:.2g} is taken"
        )
    way = "more" if ratio > 1.0 else "less"
    return (
        f"more than the friction of the latch (it would have to be {would:.2g}): the load on it, "
        f"its arms or its lever give {way} than the file says"
    )


def _of_time(table: Any, ratio: float) -> str:
    if ratio < 1.0:
        return (
            "the friction and drag that are taken, or the set position: it falls more freely or "
            "not as far"
        )
    what = {
        "drop": "friction and drag in the channels, a channel out of plumb, or a rope that runs "
        "stiffly",
        "top-hinged": "the friction of the hinges, or a weight that is not where the file has it",
    }.get(table.gate.kind, "the friction of the hinges, a leaning post, or a weaker closer")
    return f"what is taken of {what}"


def _of_volts(latch: Any, volts: Reading) -> str:
    circuit = circuit_of(latch)
    outside = circuit.coil * (latch.volts / volts.median - 1.0)
    if outside < 0.0:
        return "the battery's voltage in the file, which is below what was measured"
    return (
        f"the circuit: battery, wire, relay and joints take {outside:.2g} ohm, where "
        f"{circuit.outside:.2g} ohm is taken"
    )


def notes(scenario: Any, index: int) -> list[str]:
    """What readings cannot say."""
    table = scenario.opening[index]
    said: list[str] = []
    if table.measured is None:
        return said
    if table.measured.pull is not None:
        said.append(
            "The scatter of the pull is that of the readings: taken in one dry hour they know "
            "nothing of rain, mud and frost, so take some on a bad morning too."
        )
    if table.measured.times is not None:
        said.append(
            "Every night closes in the measured time; how often the gate sticks is still the "
            "model's."
        )
    return said
