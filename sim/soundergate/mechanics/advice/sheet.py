"""A sheet to take to the trap: what to measure, where to hook the scale, what to expect, when to
worry, by this trap's own numbers; how to stay unhurt first.

What to expect is worked out without anything measured. The range of a closing time is that of the
gate's own friction and drag between their 5 and 95 % points.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, sqrt
from typing import Any

from soundergate.mechanics import scatter, setup
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.opening import OpeningSetup
from soundergate.mechanics.pullers.solenoid import circuit_of
from soundergate.scenario.assumptions import unknowns_of, value_at
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import with_values
from soundergate.scenario.unit_system import Units, system_of, units

FRAMES_A_SECOND = 30.0
"""Of a phone's ordinary video; the sheet says what it takes for granted."""

SURE = 0.9
"""Share of tries in which a pull must be enough for the sheet not to worry: as `check` asks."""

SLOWER = 1.2
"""A closing time beyond this many times the expected one is worth a look, whatever friction is."""

BEFORE = (
    "A raised gate is a suspended load. Before anyone reaches under or into it, block it: a post "
    "across the opening that would hold it, and another person watching.",
    "Nobody stands, reaches or leans in the opening while the gate is set. Keep children, helpers "
    "and dogs away.",
    "Pull the latch from the side and from further off than the gate reaches, with a line on the "
    "scale. It lets go without warning.",
    "To try the pull, set a block under the gate so that it can drop only an inch. The latch still "
    "carries the whole load, and the gate cannot hit anyone.",
    "Disconnect battery or air before you touch latch or wiring; connect it only to measure.",
    "Wear gloves and eye protection. Have no animal in the trap. Local codes and licensed practice "
    "come first.",
)


def sheet(scenario: Any, system: str | None = None) -> list[str]:
    """The sheet as lines, "" between its parts; in "US" or "SI" units, or those of the file.

    Raises
    ------
    ScenarioError : measures that cannot be built.
    """
    chosen = units(system or system_of(scenario.raw))
    plain = without(scenario)
    solved = setup.solve(plain)
    lines = [f"What to measure at the trap: {scenario.title or 'no title'}", "", "Before you begin"]
    lines += [f"- {line}" for line in BEFORE]
    for index, opening in solved.different():
        lines += ["", *_opening(plain, index, opening, chosen, len(solved.openings) > 1)]
    lines += [
        "",
        "What you wrote down goes into the file under its opening, for example:",
        "",
        "[opening.measured]",
        *_fragment(solved.openings[0], chosen),
        "",
        "Take each reading three times or more; they need not agree. `check` then says by how much "
        "measurement and model differ.",
    ]
    return lines


def _fragment(opening: OpeningSetup, chosen: Units) -> list[str]:
    said = [f'weight = "{_plain(chosen.mass(opening.mass))}"']
    if opening.latch_kind != "none":
        pull = _plain(chosen.force(opening.pull_required))
        said = [f'pull = ["{pull}", "{pull}", "{pull}"]', *said]
        if opening.curve.shuts:
            count = max(1, round(opening.curve.shut_time * FRAMES_A_SECOND))
            said[1:1] = [f"frames = [{count}, {count}]", f"frame_rate = {FRAMES_A_SECOND:.0f}"]
    return said


def _plain(text: str) -> str:
    return text.replace(",", "")


def _opening(
    scenario: Any, index: int, opening: OpeningSetup, chosen: Units, several: bool
) -> Iterator[str]:
    name = f"Opening {index + 1}" if several else "The opening"
    yield f"{name}: {opening.gate_kind} gate, {chosen.length(opening.width)} wide"
    yield from _weight(opening, chosen)
    if opening.latch_kind == "none":
        return
    yield from _pull(opening, chosen)
    yield from _closing(scenario, index, opening)
    if opening.puller == "solenoid":
        yield from _volts(scenario.opening[index].latch, opening)


def _weight(opening: OpeningSetup, chosen: Units) -> Iterator[str]:
    yield "1. Weight of the gate, before it is hung (key weight)."
    yield "   How: stand on a bathroom scale with and without it, or weigh each end and add."
    yield f"   Expect: {chosen.mass(opening.mass)}."
    yield (
        f"   Worry: above {chosen.mass(1.2 * opening.mass)} or below "
        f"{chosen.mass(0.8 * opening.mass)}, a fifth off: the file is not of this gate."
    )


def _pull(opening: OpeningSetup, chosen: Units) -> Iterator[str]:
    need = opening.required
    low, high = (scatter.quantile(need, share) for share in (0.05, 0.95))
    yield "2. Pull that frees the latch (key pull)."
    where = {
        "solenoid": "the plunger's end of the link, with the plunger unhooked",
        "air cylinder": "the rod's end of the link, with the rod unhooked",
        "animal": "the line where it reaches the latch or its lever",
    }[opening.puller]
    yield (
        f"   How: hook the scale on {where}, and pull the way that the link runs, slowly, until "
        "the latch lets go. Read the most it showed."
    )
    yield (
        f"   Expect: {chosen.force(opening.pull_required)}, nine times in ten "
        f"{chosen.force(low)} to {chosen.force(high)}."
    )
    if opening.puller == "animal":
        yield "   Worry: if it is more than that; `check` with the reading says what pigs then do."
        return
    enough = scatter.quantile(opening.available, 1.0 - SURE)
    yield (
        f"   Worry: above {chosen.force(enough)}, more than the {opening.puller} gives in nine "
        f"tries of ten. If it lets go below half of what you expect, see whether it holds in wind."
    )


def _closing(scenario: Any, index: int, opening: OpeningSetup) -> Iterator[str]:
    yield "3. Closing time (keys frames and frame_rate, or closing)."
    yield (
        "   How: film it from the side, the phone on a post. Count the frames from the first "
        "movement to shut; slow motion counts finer."
    )
    shut = opening.curve.shut_time
    if not isfinite(shut):
        yield "   Expect: by this file it does not shut. Do not set it before that is mended."
        return
    slow = _at_most_friction(scenario, index)
    frames = f"{shut * FRAMES_A_SECOND:.0f} frames at {FRAMES_A_SECOND:.0f} a second"
    yield f"   Expect: {shut:.2f} s, which is {frames}."
    if slow is None or not isfinite(slow):
        yield (
            "   Worry: if it is slower at all, or stops on the way: with the most friction that is "
            "plausible it sticks."
        )
        return
    worst = max(slow, SLOWER * shut)
    why = (
        "slower than with the most friction and drag that is plausible"
        if slow >= SLOWER * shut
        else "a fifth more than it should take"
    )
    yield (
        f"   Worry: above {worst:.2f} s ({worst * FRAMES_A_SECOND:.0f} frames), {why}: look for "
        "bent channels, mud, a dry hinge."
    )


def _at_most_friction(scenario: Any, index: int) -> float | None:
    """Closing time (s) with the gate's own friction and drag at their 95 % points; None if what
    those would be cannot be written."""
    start = f"opening.{index + 1}.gate."
    high = {
        path: value_at(scenario, path, known, known.quantile(0.95))
        for path, known in unknowns_of(scenario)
        if path.startswith(start) and known.id.rpartition(".")[2] in ("friction", "drag_share")
    }
    try:
        return setup.solve(with_values(scenario, high)).openings[index].curve.shut_time
    except ScenarioError:
        return None


def _volts(latch: Any, opening: OpeningSetup) -> Iterator[str]:
    there = circuit_of(latch).coil_volts
    yield "4. Volts at the coil while it pulls (key volts)."
    yield (
        "   How: a meter on the two ends of the coil, the gate blocked, the switch held closed for "
        "a second. At the battery alone it says nothing of wire and joints."
    )
    yield f"   Expect: {there:.3g} V."
    need = scatter.quantile(opening.required, SURE)
    given = opening.available.median
    if given > 0.0 and need < given:
        least = there * sqrt(need / given)
        yield (
            f"   Worry: below {least:.3g} V, where the pull, which goes with the square of the "
            "volts, is no longer enough in nine tries of ten."
        )
    else:
        yield "   Worry: already; by this file the pull is too weak at full volts."
