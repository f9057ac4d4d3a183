"""What is worth trying on a drop gate: its channels, and what it hangs from."""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import setup
from soundergate.mechanics.advice.bench import Bench, Change, Test
from soundergate.mechanics.advice.mends import GREASED, Kind, Outcome, greased, outcome
from soundergate.mechanics.gates import channel
from soundergate.mechanics.numbers_in_words import Units
from soundergate.mechanics.opening import OpeningSetup

MOST_BALANCED = 0.7
"""Share of a gate's mass beyond which a counterweight leaves it too little to fall by."""


def channels(bench: Bench, does: Test) -> Outcome:
    height, gate = bench.tables.height, bench.tables.gate
    lengths = bench.amounts("length", max(height, gate.channel_length), 2.0 * height)
    guided = {} if gate.guided_length >= height * (1.0 - 1e-9) else {"guided_length": None}
    return outcome(
        bench.least([Change(gate={"channel_length": x, **guided}) for x in lengths], does),
        lambda change, _: f": channels of {change.gate['channel_length']} a side",
        "longer channels",
    )


def hung_from_its_middle(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if gate.pull_offset == gate.offset:
        return None
    change = Change(gate={"pull_offset": f"{gate.offset!r} m"})
    return outcome(
        bench.first([change], does),
        lambda *_: ": a gate that hangs from above its centre of mass",
        "hanging the gate from above its centre of mass",
    )


def lighter_counterweight(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if gate.counterweight == 0.0:
        return None
    zero = f"0 {bench.units.masses[0]}"
    masses = [zero, *bench.amounts("mass", 0.0, gate.counterweight * (1.0 - 1e-6))][::-1]
    old = bench.units.mass(gate.counterweight)
    return outcome(
        bench.least([Change(gate={"counterweight": mass}) for mass in masses], does),
        lambda change, _: f": a counterweight of {change.gate['counterweight']} instead of {old}",
        "a lighter counterweight",
    )


def clean_channels(bench: Bench, does: Test) -> Outcome:
    options = [Change(gate={"friction": to}) for to in greased(bench.tables.gate.friction)]
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            ": channels kept clean and greased to a friction of "
            f"{change.gate['friction']['median']:g}"
        ),
        f"channels kept clean and greased (a friction of {GREASED:g})" if options else "",
    )


def balance(bench: Bench, does: Test) -> Outcome:
    """A counterweight that takes load off the latch of a drop gate."""
    gate, most = bench.tables.gate, MOST_BALANCED * bench.now.mass
    masses = bench.amounts("mass", gate.counterweight, most)
    some = masses[:: max(1, len(masses) // 8)]
    return outcome(
        bench.first([Change(gate={"counterweight": mass}) for mass in some], does),
        lambda change, _: f": a counterweight of {change.gate['counterweight']} on the gate",
        "",
    )


def said(opening: OpeningSetup, scenario: Any, gate: Any, units: Units) -> list[str]:
    """Whether the channels of a drop gate bear an animal that leans on the shut gate."""
    bears = channel.lip_force(channel.thickness_of(gate))
    push = setup.site_of(scenario).animal_pull.median
    if 0.5 * push <= bears:
        return []
    gauge = channel.gauge_for(0.5 * push)
    better = f"{gauge} gauge or thicker would bear it" if gauge else "no sheet here would bear it"
    return [
        f"The channel lips ({gate.channel_sheet}) begin to bend when {units.force(bears)} presses "
        f"on one spot; the heaviest here typically pushes the shut gate with {units.force(push)}, "
        f"half of it on each side: {better}, or a bar behind the lips."
    ]


MENDS: tuple[Kind, ...] = (channels, hung_from_its_middle, lighter_counterweight, clean_channels)
RELIEFS: tuple[Kind, ...] = (balance,)
