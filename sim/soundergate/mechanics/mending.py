"""What would mend a weak opening: the lever, the pull, the pressure, the channel that would do."""

from __future__ import annotations

from typing import Any

from soundergate.mechanics import lever, release
from soundergate.mechanics.model import GRAVITY, OpeningSetup, Uncertain
from soundergate.mechanics.words import Units, percent

TARGET = 0.95
"""Release probability that a proposal aims at."""

HANG_TARGET = 0.02
"""Share of releases that may stick open before channels are worth lengthening."""


def proposals(opening: OpeningSetup, tables: Any, units: Units) -> list[str]:
    """Sentences that say what would mend an opening; empty when nothing needs it.

    ``tables`` is the scenario's own opening (gate and latch tables).
    """
    lines: list[str] = []
    powered = opening.puller != "animal" and opening.latch.holds and opening.latch.releases
    if powered and opening.release_probability < TARGET:
        lines.extend(_more_pull(opening, tables, units))
    lines.extend(_heavier_container(opening, units))
    if opening.gate_kind == "drop" and (opening.jams or opening.hang_probability > HANG_TARGET):
        lines.append(_longer_channels(opening, tables, units))
    return lines


def empty_release(opening: OpeningSetup) -> float | None:
    """Probability that the empty bait container still frees the latch; None for other pullers."""
    return opening.odds.by_state.get("empty")


def _heavier_container(opening: OpeningSetup, units: Units) -> list[str]:
    """The container that frees the latch to the end, where this one does not."""
    empty = empty_release(opening)
    if empty is None or empty >= TARGET or opening.release_probability < TARGET:
        return []
    required = Uncertain(opening.pull_required, opening.pull_required_sigma)
    mass = release.pull_for(TARGET, required, 0.0) / GRAVITY
    return [
        f"A container that weighs {units.mass(mass)} empty would free the latch in "
        f"{percent(TARGET)} of tries however much is eaten; so would a longer lever, in step."
    ]


def factor_needed(opening: OpeningSetup) -> float:
    """By how much the pull at the latch must grow for a release probability of 0.95."""
    required = Uncertain(opening.pull_required, opening.pull_required_sigma)
    wanted = release.pull_for(TARGET, required, opening.pull.available_sigma)
    return wanted / opening.pull.available if opening.pull.available > 0.0 else float("inf")


def levers(opening: OpeningSetup) -> tuple[float, float] | None:
    """The lever ratios, least and greatest, with which the latch is freed surely enough.

    The least gives force for a release probability of 0.95, the greatest still leaves the travel
    (inf when nothing limits the stroke). None when no ratio does both, or none is needed.
    """
    latch = opening.latch
    if not (latch.holds and latch.releases) or opening.release_probability >= TARGET:
        return None
    least = opening.lever * factor_needed(opening)
    greatest = lever.longest_ratio(latch.trip_travel, opening.pull.stroke)
    return (least, greatest) if least <= greatest else None


def _no_pull(opening: OpeningSetup, tables: Any, units: Units) -> list[str]:
    """For a puller that gives nothing, which no lever mends."""
    required = Uncertain(opening.pull_required, opening.pull_required_sigma)
    pull = release.pull_for(TARGET, required, opening.pull.available_sigma)
    source = ""
    if opening.puller == "air cylinder":
        from soundergate.mechanics.air_cylinder import areas

        push_area, pull_area = areas(tables.latch.bore, tables.latch.rod)
        area = pull_area if tables.latch.retracting else push_area
        supply = tables.latch.supply.median
        gauge = (pull / area + tables.latch.seal_loss) / supply
        source = f", which this cylinder gives at {units.pressure(gauge)} (only within its rating)"
    return [
        f"The {opening.puller} gives no pull at all. For {percent(TARGET)} with the lever as it "
        f"is: a pull of {units.force(pull)}{source}."
    ]


def _more_pull(opening: OpeningSetup, tables: Any, units: Units) -> list[str]:
    if opening.pull.available <= 0.0:
        return _no_pull(opening, tables, units)
    factor = factor_needed(opening)
    short = opening.trip_travel > opening.pull.stroke
    longest = lever.longest_ratio(opening.latch.trip_travel, opening.pull.stroke)
    aim = percent(TARGET)
    lines: list[str] = []
    if short:
        lines.append(
            f"Its {opening.puller} moves {units.short(opening.pull.stroke)} but the latch needs "
            f"{units.short(opening.trip_travel)} there: a lever ratio of {longest:.2g} is the most "
            "that still frees it; a longer stroke or less engaged length would allow more."
        )
    ratio = opening.lever * factor
    if ratio <= longest:
        travel = units.short(opening.latch.trip_travel * ratio)
        lines.append(
            f"For {aim}: a lever ratio of {_rounded_up(ratio)}, with {travel} of travel "
            "at the puller."
        )
    elif factor > 1.0 and not short:
        lines.append(
            f"A lever alone will not do: {aim} needs a ratio of {_rounded_up(ratio)}, and the "
            f"stroke of {units.short(opening.pull.stroke)} frees the latch only up to "
            f"{longest:.2g}."
        )
    if factor > 1.0 and opening.puller != "animal":
        more = factor * opening.lever / longest if short else factor
        lever_words = f"a lever ratio of {longest:.2g}" if short else "the lever as it is"
        pull = units.force(more * opening.pull_available)
        source = _source(opening, tables, more, units)
        lines.append(f"For {aim} with {lever_words}: a pull of {pull}{source}.")
    if factor > 1.0:
        lines.append(
            "A latch that rubs less, kept clean and greased, lowers the pull needed in step."
        )
    return lines


def _source(opening: OpeningSetup, tables: Any, factor: float, units: Units) -> str:
    """For an air cylinder, the pressure or bore that gives the pull."""
    if opening.puller != "air cylinder":
        return ""
    latch = tables.latch
    gauge = latch.seal_loss + factor * (latch.pressure - latch.seal_loss)
    return (
        f", which this cylinder gives at {units.pressure(gauge)} (only within its rating), or one "
        f"of {factor**0.5:.2g} times the bore and rod at the same pressure"
    )


def _longer_channels(opening: OpeningSetup, tables: Any, units: Units) -> str:
    from soundergate.mechanics import drop_gate

    gate = drop_gate.from_table(tables.gate, tables, opening.mass)
    needed = drop_gate.channel_for(gate, HANG_TARGET)
    lighter = drop_gate.counterweight_for(gate, HANG_TARGET) if gate.counterweight else None
    if needed is None and lighter is not None:
        return (
            f"A counterweight of {units.mass(lighter)} instead of "
            f"{units.mass(gate.counterweight)} would bring sticking open to "
            f"{percent(HANG_TARGET)}; clean channels help as much."
        )
    centred = "hang the gate from its middle, " if gate.eccentricity > 0.0 else ""
    if needed is None:
        return (
            f"No channel length brings sticking open below {percent(HANG_TARGET)}: clean and "
            f"grease the channels, {centred}or make the gate narrower."
        )
    return (
        f"Channels of {units.length(needed)} a side would bring sticking open to "
        f"{percent(HANG_TARGET)}; clean channels help as much."
    )


def _rounded_up(ratio: float) -> str:
    """To one decimal, never down."""
    return f"{int(ratio * 10.0 + 0.999999) / 10.0:.1f}"
