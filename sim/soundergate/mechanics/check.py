"""`check`: what the steel of a scenario does, in words first, then a table, then cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, Any

from soundergate.mechanics import mending, setup, words
from soundergate.mechanics.model import OpeningSetup
from soundergate.mechanics.words import Units
from soundergate.scenario.unit_system import system_of

if TYPE_CHECKING:
    import pandas as pd

SURE = 0.9
"""Least release probability that `check` lets pass."""

GENERAL_CAUTIONS = (
    "Trapped pigs are dangerous and can carry disease: keep out, keep dogs out, wear gloves.",
    "Check the trap at least daily, and release animals that are not its target.",
    "Laws on trapping, moving and killing, on carcasses and on radio equipment differ by place: "
    "local codes and licensed or agency advice come first.",
    "These figures are estimates from stated friction and materials: try the latch and the gate "
    "many times, with nobody near, before an animal meets them.",
)


@dataclass(frozen=True)
class CheckReport:
    """What `check` found.

    ``verdict`` holds the sentences to read first; ``rows`` one mapping an opening, label to text
    in the chosen units; ``cautions`` what can hurt someone. ``ok`` is False when any opening's
    release probability is below 0.9, its latch does not hold, or its gate jams or hangs at
    nominal friction.
    """

    ok: bool
    verdict: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]
    cautions: tuple[str, ...]
    units: str
    setup: setup.Setup = field(repr=False, compare=False)

    @property
    def table(self) -> pd.DataFrame:
        """The margins, one column an opening, one row a quantity (texts)."""
        import pandas as pd

        return pd.DataFrame(
            {f"opening {k + 1}": dict(row) for k, row in enumerate(self.rows)},
        )

    def text(self) -> str:
        """The whole report as plain text."""
        parts = ["\n".join(self.verdict), self.table.to_string()]
        parts.append("Cautions\n" + "\n".join(f"- {line}" for line in self.cautions))
        return "\n\n".join(parts) + "\n"


def check(scenario: Any, units: str | None = None) -> CheckReport:
    """Solve the mechanics of a `Scenario` and say in words how good they are.

    ``units`` is "US" (ft, lbf, psi) or "SI"; None takes those the scenario file uses.

    Raises
    ------
    ValueError : ``units`` that is neither.
    ScenarioError : measures that cannot be built.
    """
    chosen = words.units(units or system_of(scenario.raw))
    solved = setup.solve(scenario)
    verdict: list[str] = []
    many = len(solved.openings) > 1
    for k, opening in enumerate(solved.openings):
        name = f"Opening {k + 1}" if many else "The opening"
        verdict.extend(_verdict(name, opening, scenario.opening[k], chosen))
    return CheckReport(
        ok=all(passes(opening) for opening in solved.openings),
        verdict=tuple(verdict),
        rows=tuple(_row(opening, chosen) for opening in solved.openings),
        cautions=_cautions(solved, chosen),
        units=chosen.name,
        setup=solved,
    )


def passes(opening: OpeningSetup) -> bool:
    """Whether an opening's latch holds and releases, and its gate shuts, surely enough."""
    works = opening.latch.holds and not opening.jams
    return works and opening.release_probability >= SURE


def _verdict(name: str, opening: OpeningSetup, tables: Any, units: Units) -> list[str]:
    size = f"{units.length(opening.width)} wide, {units.length(opening.height)} high"
    head = f"{name} ({opening.gate_kind}, {size})"
    if opening.latch_kind == "none":
        return [f"{head}: a one-way entrance, always set; {_closing(opening, units)}."]
    lines = [f"{head}: {_state(opening)}."]
    lines.append(f"{_holding(opening, units)} {_releasing(opening, units)}")
    lines.append(_sentence(_closing(opening, units)))
    lines.append(f"Weak link: {weak_link(opening)}.")
    lines.extend(mending.proposals(opening, tables, units))
    lines.extend(_sentence(note) for note in opening.notes)
    return lines


def _state(opening: OpeningSetup) -> str:
    """The one-line answer."""
    if not opening.latch.holds:
        return "the latch does NOT hold the gate up"
    if opening.jams:
        return "the gate does NOT shut when it is let go"
    share = words.percent(opening.release_probability)
    if opening.release_probability < SURE:
        return f"holds, but does NOT release surely: in {share} of tries"
    return f"holds and releases in {share} of tries"


def _holding(opening: OpeningSetup, units: Units) -> str:
    return f"The latch carries {units.force(opening.holding_load)} while the gate is set."


def _releasing(opening: OpeningSetup, units: Units) -> str:
    need = units.force(opening.pull_required)
    if opening.puller == "animal":
        return f"An animal must pull it with {need} (median)."
    have = units.force(opening.pull_available)
    return (
        f"The {opening.puller} must give {need} (median) and gives {have}: "
        f"a margin of {opening.margin:.2g}."
    )


def _closing(opening: OpeningSetup, units: Units) -> str:
    if opening.jams:
        return "the gate stays open"
    curve = opening.curve
    text = (
        f"once it moves it is shut in {curve.shut_time:.2f} s, its edge then at "
        f"{units.speed(float(curve.speed[0]))} with {units.energy(float(curve.energy[0]))}"
    )
    delay = opening.release_delay.median()
    if opening.latch_kind != "none":
        text += f"; from the trigger to its first movement {delay:.2g} s (median)"
    return text


def weak_link(opening: OpeningSetup) -> str:
    """The likeliest reason for this opening to stay open, in words."""
    if not opening.latch.holds:
        return "the latch, which its own load opens"
    if opening.jams:
        return "the gate, which does not shut at typical friction"
    if opening.trip_travel > opening.pull.stroke:
        return "travel: the puller's stroke ends before the latch is free"
    misses = 1.0 - opening.release_probability
    if max(misses, opening.hang_probability) < 1e-4:
        return "none found in the steel; dirt, frost and a dead battery are not in these figures"
    if misses >= opening.hang_probability:
        return f"the pull, which is too weak in {words.percent(misses)} of tries"
    return f"the gate, which sticks open in {words.percent(opening.hang_probability)} of releases"


def _row(opening: OpeningSetup, units: Units) -> dict[str, str]:
    curve, latched = opening.curve, opening.latch_kind != "none"
    powered = latched and opening.puller != "animal"
    stroke = opening.pull.stroke
    return {
        "gate": opening.gate_kind,
        "latch": opening.latch_kind,
        "puller": opening.puller,
        "width": units.length(opening.width),
        "height": units.length(opening.height),
        "gate mass": units.mass(opening.mass),
        "load on the latch": units.force(opening.holding_load),
        "lever ratio": f"{opening.lever:.3g}" if latched else "-",
        "pull needed (median)": units.force(opening.pull_required) if latched else "-",
        "pull available (median)": units.force(opening.pull_available) if powered else "-",
        "margin": f"{opening.margin:.2f}" if powered else "-",
        "travel needed": units.short(opening.trip_travel) if latched else "-",
        "travel available": units.short(stroke) if isfinite(stroke) and latched else "-",
        "releases": words.percent(opening.release_probability) if latched else "-",
        "let go, sticks open": words.percent(opening.hang_probability),
        "trigger to movement": f"{opening.release_delay.median():.2g} s" if latched else "-",
        "movement to shut": f"{curve.shut_time:.2f} s" if curve.shuts else "does not shut",
        "edge speed when shut": units.speed(float(curve.speed[0])),
        "energy when shut": units.energy(float(curve.energy[0])),
        "force to lift it open": _opened_by(opening.lift_force, opening, units),
        "force to pry it open": _opened_by(opening.pry_force, opening, units),
        "lift to set it": units.force(opening.set_weight),
    }


def _opened_by(force: float, opening: OpeningSetup, units: Units) -> str:
    text = units.force(force)
    return f"{text} (and the lock)" if opening.locked else text


def _cautions(solved: setup.Setup, units: Units) -> tuple[str, ...]:
    """What can hurt someone, without repeats: this trap's own first."""
    lines: list[str] = []
    for opening in solved.openings:
        lines.extend(opening.cautions)
    energy = max(float(opening.curve.energy.max()) for opening in solved.openings)
    if energy > 0.0:
        speed = max(float(opening.curve.speed.max()) for opening in solved.openings)
        lines.append(
            f"The closing edge comes with up to {units.energy(energy)} at {units.speed(speed)} and "
            "can maim or kill a person, a child, a dog or a pig: this is a caution, and no energy "
            "or speed printed here is ever a clearance."
        )
    return (*dict.fromkeys(lines), *GENERAL_CAUTIONS)


def _sentence(text: str) -> str:
    """With a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
