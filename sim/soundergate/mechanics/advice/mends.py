"""What is worth trying on an opening that does not shut surely, kind by kind of change.

A kind takes the `Bench` and a test, and gives the smallest change of its kind that passes with the
words for it, or the words for what would not do. Sizes stay within what is usually built: the
ranges that the register calls plausible, levers up to `LONGEST_LEVER`, a counterweight of at most
`MOST_BALANCED` of the gate.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import floor, isfinite, log10
from typing import Any

from soundergate.mechanics.advice.bench import Bench, Change, Test, plausible
from soundergate.mechanics.latches import lever as levers
from soundergate.mechanics.model import GRAVITY
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.units import read_quantity

LONGEST_LEVER = 12.0
"""A foot on an inch: more is seldom built."""

MOST_BALANCED = 0.7
"""Share of a gate's mass beyond which a counterweight leaves it too little to fall by."""

GREASED = 0.15
"""Friction of lubricated steel (tables cited at opening.latch.friction)."""

HEAVIEST_CONTAINER = 90.0
"""kg; two people's lift."""


@dataclass(frozen=True)
class Mend:
    """A change that passes: ``words`` after "For 95 %", and the opening ``solved`` with it."""

    change: Change
    words: str
    solved: OpeningSetup


Outcome = Mend | str | None
"""What passes, or what of this kind would not do, or nothing to say."""

Kind = Callable[[Bench, Test], Outcome]


def outcome(
    found: tuple[Change, OpeningSetup] | None,
    says: Callable[[Change, OpeningSetup], str],
    wont: str,
) -> Outcome:
    return wont if found is None else Mend(found[0], says(*found), found[1])


# ---- lever and puller ----------------------------------------------------------------------


def reach(bench: Bench) -> float:
    """How far (m) the puller moves with the pull that it is stated to have."""
    latch = bench.tables.latch
    return float(latch.gap) if latch.puller == "solenoid" else bench.now.pull.stroke


def _longest(bench: Bench) -> float:
    return levers.longest_ratio(bench.now.latch.trip_travel, reach(bench))


def longest_built(bench: Bench, stroke: float) -> float:
    """The longest lever (two figures, rounded down) whose travel a ``stroke`` (m) still gives."""
    ratio = levers.longest_ratio(bench.now.latch.trip_travel, stroke)
    if not 0.0 < ratio < LONGEST_LEVER:
        return min(ratio, LONGEST_LEVER)
    step = 10.0 ** (floor(log10(ratio)) - 1)
    return round(floor(ratio / step * (1.0 + 1e-9)) * step, 9)


def lever(bench: Bench, does: Test) -> Outcome:
    longest = _longest(bench)
    built = longest_built(bench, reach(bench))
    ratios = [0.1 * n for n in range(2, 50)] + [0.5 * n for n in range(10, 1 + 2 * 12)]
    within = [round(r, 6) for r in ratios if r < built * (1.0 - 1e-9)]
    within += [built] if built > 0.0 else []
    now, u = bench.now, bench.units

    def says(change: Change, solved: OpeningSetup) -> str:
        travel = f", with {u.short(solved.trip_travel)} of travel at the puller"
        return f": a lever ratio of {change.latch['lever']:g}{travel}"

    wont = f"a lever ratio up to {LONGEST_LEVER:g}"
    if longest < LONGEST_LEVER:
        wont = (
            f"another lever (the {now.puller} moves {u.short(reach(bench))} and frees the latch "
            f"only up to a ratio of {built:g})"
        )
    options = [Change({"lever": r}) for r in within]
    if now.lever > longest * (1.0 + 1e-9):  # no longer than it must be shortened
        return outcome(bench.first(options[-1:], does), says, wont)
    return outcome(bench.least(options, does), says, wont)


def _held_lever(bench: Bench, does: Test) -> tuple[dict[str, Any], str] | None:
    """The lever as it is, or the longest that the travel still allows; None when that does."""
    longest = _longest(bench)
    if bench.now.lever <= longest * (1.0 + 1e-9):
        return {}, "the lever as it is"
    ratio = longest_built(bench, reach(bench))
    if ratio == 0.0 or bench.first([Change({"lever": ratio})], does) is not None:
        return None
    return {"lever": ratio}, f"a lever ratio of {ratio:g}"


def lengths_engaged(bench: Bench) -> list[str]:
    """Shorter engaged lengths than the latch's own, the longest first; none for a knee."""
    latch = bench.tables.latch
    if latch.kind == "knee" or bench.now.latch.trip_travel <= 0.0:
        return []
    low = plausible("opening.latch.engaged", high=False)
    return bench.amounts("engaged", low * (1.0 - 1e-6), latch.engaged * (1.0 - 1e-6))[::-1]


def less_engaged(bench: Bench, does: Test) -> Outcome:
    """Less of the pin or catch engaged, with the lever as it is."""
    lengths = lengths_engaged(bench)
    least = bench.units.short(plausible("opening.latch.engaged", high=False))
    return outcome(
        bench.least([Change({"engaged": text}) for text in lengths], does),
        lambda change, _: f" with the lever as it is: a latch engaged by {change.latch['engaged']}",
        f"a latch engaged by less (down to {least})" if lengths and isfinite(reach(bench)) else "",
    )


def engaged(bench: Bench, does: Test) -> Outcome:
    """Less engaged: with the lever as it is, or else with the longest that the travel allows."""
    latch, trip = bench.tables.latch, bench.now.latch.trip_travel
    lengths = lengths_engaged(bench)
    if not lengths or isinstance(lever(bench, does), Mend):
        return None
    as_it_is = less_engaged(bench, does)
    if isinstance(as_it_is, Mend):
        return as_it_is

    def with_lever(text: str) -> Change:
        travel = trip * read_quantity(text, "length") / latch.engaged
        longest = min(levers.longest_ratio(travel, reach(bench)), LONGEST_LEVER)
        return Change({"engaged": text, "lever": int(longest * 10.0 + 1e-6) / 10.0})

    return outcome(
        bench.least([with_lever(text) for text in lengths], does),
        lambda change, _: (
            f" with a lever ratio of {change.latch['lever']:g}: a latch engaged by "
            f"{change.latch['engaged']}"
        ),
        as_it_is or "",
    )


def pull(bench: Bench, does: Test) -> Outcome:
    """A stronger solenoid; its figure is the maker's."""
    latch = bench.tables.latch
    if latch.puller != "solenoid" or latch.turns is not None:
        return None
    if (lever_now := _held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.solenoid.pull")
    pulls = bench.amounts("force", latch.pull, high)
    return outcome(
        bench.least([Change({"pull": p, **held}) for p in pulls], does),
        lambda change, _: f" with {words}: a pull of {change.latch['pull']}, its maker's figure",
        f"a solenoid of up to {bench.units.force(high)} with {words}",
    )


def gap(bench: Bench, does: Test) -> Outcome:
    """A solenoid whose stated pull holds over all the travel that is needed."""
    latch = bench.tables.latch
    if latch.puller != "solenoid" or latch.turns is not None:
        return None
    if bench.now.trip_travel <= latch.gap * (1.0 + 1e-9):
        return None
    most = plausible("opening.latch.solenoid.gap")
    gaps = bench.amounts("travel", bench.now.trip_travel * (1.0 - 1e-9), most)
    high = plausible("opening.latch.solenoid.pull")
    pulls = bench.amounts("force", latch.pull * (1.0 - 1e-6), high)
    options = [Change({"pull": p, "gap": gaps[0], "stroke": None}) for p in pulls] if gaps else []
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            f": a solenoid that gives {change.latch['pull']} across a gap of {change.latch['gap']}"
        ),
        f"a solenoid that gives up to {bench.units.force(high)} across the travel needed, "
        f"{bench.units.short(bench.now.trip_travel)}",
    )


def thicker_cables(bench: Bench) -> list[int]:
    """Thicker gauges (AWG) than the solenoid's own, the thinnest first: the even ones are sold."""
    latch = bench.tables.latch
    if latch.puller != "solenoid" or latch.wire_length == 0.0:
        return []
    thickest = int(plausible("opening.latch.solenoid.wire_gauge", high=False))
    return [g for g in range(latch.wire_gauge - 1, thickest - 1, -1) if g % 2 == 0]


def cable(bench: Bench, does: Test) -> Outcome:
    gauges = thicker_cables(bench)
    return outcome(
        bench.least([Change({"wire_gauge": gauge}) for gauge in gauges], does),
        lambda change, _: f": cable of {change.latch['wire_gauge']} gauge",
        f"cable of {gauges[-1]} gauge" if gauges else "",
    )


def pressure(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.puller != "air cylinder" or latch.tank_pressure is not None:
        return None
    if (lever_now := _held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.air cylinder.pressure")
    pressures = bench.amounts("pressure", latch.pressure, high)

    def says(change: Change, solved: OpeningSetup) -> str:
        force = bench.units.force(solved.pull_available)
        return (
            f" with {words}: a pull of {force}, which this cylinder gives at "
            f"{change.latch['pressure']} (only within its rating)"
        )

    return outcome(
        bench.least([Change({"pressure": p, **held}) for p in pressures], does),
        says,
        f"air of up to {bench.units.pressure(high)} with {words}",
    )


def bore(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.puller != "air cylinder":
        return None
    if (lever_now := _held_lever(bench, does)) is None:
        return None
    held, words = lever_now
    high = plausible("opening.latch.air cylinder.bore")
    sizes = bench.amounts("bore", latch.bore, high)
    rod = latch.rod / latch.bore

    def change_for(size: str) -> Change:
        thick = rod * read_quantity(size, "length")
        rods = bench.amounts("bore", 0.0, thick) or bench.amounts("travel", 0.0, thick)
        return Change({"bore": size, "rod": rods[-1] if rods else None, **held})

    return outcome(
        bench.least([change_for(size) for size in sizes], does),
        lambda change, _: (
            f" with {words}: a cylinder of {change.latch['bore']} bore and "
            f"{change.latch['rod'] or 'the usual'} rod at the same pressure"
        ),
        f"a bore of up to {bench.units.short(high)} with {words}",
    )


def stroke(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    short = bench.now.trip_travel > bench.now.pull.stroke * (1.0 + 1e-9)
    if latch.puller != "air cylinder" or not short:
        return None
    high = plausible("opening.latch.air cylinder.stroke")
    strokes = bench.amounts("travel", bench.now.trip_travel * (1.0 - 1e-9), high)
    return outcome(
        bench.first([Change({"stroke": s}) for s in strokes[:1]], does),
        lambda change, _: f": a cylinder of {change.latch['stroke']} stroke",
        f"a stroke of up to {bench.units.short(high)}",
    )


# ---- the latch -----------------------------------------------------------------------------


def _greased(friction: Any) -> list[dict[str, float]]:
    """Lower frictions, as a file says them, from what it is down to `GREASED`; its scatter kept."""
    values = [round(0.05 * n, 2) for n in range(40, 0, -1) if 0.05 * n < friction.median]
    return [{"median": v, "sigma": friction.sigma} for v in values if v >= GREASED - 1e-9]


def grease(bench: Bench, does: Test) -> Outcome:
    options = [Change({"friction": to}) for to in _greased(bench.tables.latch.friction)]
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            ": a latch that rubs less, kept clean and greased to a friction of "
            f"{change.latch['friction']['median']:g}"
        ),
        f"a latch kept clean and greased (a friction of {GREASED:g})" if options else "",
    )


def support(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.kind != "pin" or latch.support != "overhung":
        return None
    return outcome(
        bench.first([Change({"support": "double shear"})], does),
        lambda *_: ": a pin held on both sides of the load",
        "a pin held on both sides of the load",
    )


def offset(bench: Bench, does: Test) -> Outcome:
    latch = bench.tables.latch
    if latch.kind != "finger" or latch.offset >= 0.0:
        return None
    zero = f"0 {bench.units.shorts[0]}"
    return outcome(
        bench.first([Change({"offset": zero})], does),
        lambda *_: ": a finger through whose pivot the load bears (an offset of 0)",
        "a finger through whose pivot the load bears",
    )


_OWN_KEYS = (
    "overhang", "support", "guide", "diameter", "link", "over_centre", "hold_arm", "trip_arm",
    "offset", "catch_arm", "pawl_arm",
)  # fmt: skip


def _as_kind(bench: Bench, kind: str) -> dict[str, Any]:
    return {"kind": kind, **dict.fromkeys(_OWN_KEYS)}


def other_latch(bench: Bench, does: Test) -> Outcome:
    """Another kind with its usual measures, on the same puller, with or without the lever."""
    kinds = [k for k in ("pin", "knee", "rotary", "finger") if k != bench.now.latch_kind]

    def options() -> Iterator[Change]:
        for lever_now in dict.fromkeys((bench.now.lever, 1.0)):
            for kind in kinds:
                yield Change({**_as_kind(bench, kind), "lever": lever_now})

    return outcome(
        bench.first(options(), does),
        lambda change, solved: (
            f": a {change.latch['kind']} latch with a lever ratio of {solved.lever:g} instead of "
            f"the {bench.now.latch_kind}"
        ),
        "another latch of the usual measures on this puller",
    )


# ---- another puller ------------------------------------------------------------------------


def _without_puller(bench: Bench) -> dict[str, Any]:
    """The puller's own keys, left out."""
    from soundergate.scenario.latches.choice import puller_keys

    return dict.fromkeys(puller_keys())


def air(bench: Bench, does: Test) -> Outcome:
    """An air cylinder of the usual measures, with or without the lever."""
    if bench.tables.latch.puller == "air cylinder":
        return None
    plain = {**_without_puller(bench), "puller": "air cylinder"}
    same = [Change({**plain, "lever": r}) for r in dict.fromkeys((bench.now.lever, 1.0))]
    return outcome(
        bench.first(same, does),
        lambda _, solved: (
            f": an air cylinder of the usual measures with a lever ratio of {solved.lever:g} "
            f"instead of the {bench.now.puller}"
        ),
        "an air cylinder of the usual measures",
    )


def latch_and_air(bench: Bench, does: Test) -> Outcome:
    """Both at once, when nothing alone does."""
    plain = {**_without_puller(bench), "puller": "air cylinder", "lever": 1.0}
    kinds = [k for k in ("pin", "knee", "rotary", "finger") if k != bench.now.latch_kind]
    return outcome(
        bench.first([Change({**plain, **_as_kind(bench, kind)}) for kind in kinds], does),
        lambda change, _: (
            f": a {change.latch['kind']} latch on an air cylinder, both of the usual measures"
        ),
        "another latch on an air cylinder of the usual measures",
    )


def container(bench: Bench, does: Test) -> Outcome:
    containers = bench.now.chain.site.containers
    if bench.now.puller != "animal" or not containers:
        return None
    empty = min(light for _, light in containers)
    masses = bench.amounts("mass", empty / GRAVITY, HEAVIEST_CONTAINER)
    return outcome(
        bench.least([Change(container=mass) for mass in masses], does),
        lambda change, _: f": a container that weighs {change.container} empty",
        f"a container of up to {bench.units.mass(HEAVIEST_CONTAINER)}",
    )


# ---- the gate ------------------------------------------------------------------------------


def balance(bench: Bench, does: Test) -> Outcome:
    """A counterweight that takes load off the latch of a drop gate."""
    if bench.now.gate_kind != "drop":
        return None
    gate, most = bench.tables.gate, MOST_BALANCED * bench.now.mass
    masses = bench.amounts("mass", gate.counterweight, most)
    some = masses[:: max(1, len(masses) // 8)]
    return outcome(
        bench.first([Change(gate={"counterweight": mass}) for mass in some], does),
        lambda change, _: f": a counterweight of {change.gate['counterweight']} on the gate",
        "",
    )


def channels(bench: Bench, does: Test) -> Outcome:
    if bench.now.gate_kind != "drop":
        return None
    height, gate = bench.tables.height, bench.tables.gate
    lengths = bench.amounts("length", max(height, gate.channel_length), 2.0 * height)
    guided = {} if gate.guided_length >= height * (1.0 - 1e-9) else {"guided_length": None}
    return outcome(
        bench.least([Change(gate={"channel_length": x, **guided}) for x in lengths], does),
        lambda change, _: f": channels of {change.gate['channel_length']} a side",
        "longer channels",
    )


def lighter_counterweight(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if bench.now.gate_kind != "drop" or gate.counterweight == 0.0:
        return None
    zero = f"0 {bench.units.masses[0]}"
    masses = [zero, *bench.amounts("mass", 0.0, gate.counterweight * (1.0 - 1e-6))][::-1]
    old = bench.units.mass(gate.counterweight)
    return outcome(
        bench.least([Change(gate={"counterweight": mass}) for mass in masses], does),
        lambda change, _: f": a counterweight of {change.gate['counterweight']} instead of {old}",
        "a lighter counterweight",
    )


def hung_from_its_middle(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if bench.now.gate_kind != "drop" or gate.pull_offset == gate.offset:
        return None
    change = Change(gate={"pull_offset": f"{gate.offset!r} m"})
    return outcome(
        bench.first([change], does),
        lambda *_: ": a gate that hangs from above its centre of mass",
        "hanging the gate from above its centre of mass",
    )


def clean_channels(bench: Bench, does: Test) -> Outcome:
    if bench.now.gate_kind != "drop":
        return None
    options = [Change(gate={"friction": to}) for to in _greased(bench.tables.gate.friction)]
    return outcome(
        bench.least(options, does),
        lambda change, _: (
            ": channels kept clean and greased to a friction of "
            f"{change.gate['friction']['median']:g}"
        ),
        f"channels kept clean and greased (a friction of {GREASED:g})" if options else "",
    )


def spring(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if getattr(gate, "closer", None) != "spring":
        return None
    most = 4.0 * max(gate.spring_rate, 1.0)
    rates = bench.amounts("torque", gate.spring_rate, most)
    return outcome(
        bench.least([Change(gate={"spring_rate": rate}) for rate in rates], does),
        lambda change, _: f": a spring of {change.gate['spring_rate']} a radian",
        "a spring of four times the rate",
    )


def set_lower(bench: Bench, does: Test) -> Outcome:
    gate = bench.tables.gate
    if bench.now.gate_kind != "top-hinged":
        return None
    level = read_quantity("90 deg", "angle")
    angles = bench.amounts("angle", level * (1.0 - 1e-6), gate.set_angle * (1.0 - 1e-6))[::-1]
    return outcome(
        bench.least([Change(gate={"set_angle": angle}) for angle in angles], does),
        lambda change, _: f": a gate set at {change.gate['set_angle']}",
        "a gate set nearer to level",
    )


ON_THE_LATCH: tuple[Kind, ...] = (
    lever, engaged, pull, gap, cable, pressure, bore, stroke, offset, support, grease, container,
    balance,
)  # fmt: skip
ON_THE_GATE: tuple[Kind, ...] = (
    channels, hung_from_its_middle, lighter_counterweight, clean_channels, spring, set_lower,
)  # fmt: skip
OTHER_PARTS: tuple[Kind, ...] = (other_latch, air)
"""Another latch or puller instead of a change to the one that is there."""
