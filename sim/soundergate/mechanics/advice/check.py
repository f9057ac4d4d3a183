"""`check`: what the steel of a scenario does, in words first, then a table, then cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite, isnan
from typing import TYPE_CHECKING, Any

from soundergate.kinds import offered
from soundergate.mechanics import clearance as bodies
from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics import scatter, setup
from soundergate.mechanics.advice import bench, lock, measured, mending, plan
from soundergate.mechanics.advice import saturated_flow as flow
from soundergate.mechanics.advice.weak_link import weak_link
from soundergate.mechanics.chain import within_reach
from soundergate.mechanics.gates import channel
from soundergate.mechanics.materials import pieces
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario import unit_system
from soundergate.scenario.unit_system import Units, system_of

if TYPE_CHECKING:
    import pandas as pd

_GATES = "soundergate.mechanics.advice.gates"
SURE = 0.9
"""Least probability of shutting that `check` lets pass."""

NEVER = 0.01
"""Probability of shutting below which a gate is said not to shut."""

UNRELEASED = 0.001
"""Probability of a release below which nothing is said of what would follow one."""

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

    ``verdict`` holds the sentences to read first, and of these ``in_vain`` the very first: what of
    the plan makes the best steel useless; ``rows`` one mapping an opening, label to text
    in the chosen units; ``cautions`` what can hurt someone. ``ok`` is False when any opening shuts
    with less than 0.9: that is, it stays set until something pulls, a try then frees its latch, and
    the gate gets all the way; or when at nominal friction its latch does not hold or its gate does
    not shut. What holds for no opening, such as a lever where nothing is latched, has no
    row.
    """

    ok: bool
    verdict: tuple[str, ...]
    in_vain: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]
    cautions: tuple[str, ...]
    units: str
    setup: setup.Setup = field(repr=False, compare=False)

    @property
    def failed(self) -> str:
        """In one line which openings fail and how; empty where ``ok``."""
        ways: dict[str, list[str]] = {}
        for number, opening in enumerate(self.setup.openings, 1):
            if not passes(opening):
                ways.setdefault(_state(opening), []).append(str(number))
        if len(self.setup.openings) == 1:
            return "".join(f"The opening: {state}." for state in ways)
        told = (
            f"opening{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}: {state}"
            for state, numbers in ways.items()
        )
        line = "; ".join(told)
        return f"{line[:1].upper()}{line[1:]}." if line else ""

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
    chosen = unit_system.units(units or system_of(scenario.raw))
    solved = setup.solve(scenario)
    verdict: list[str] = []
    many = len(solved.openings) > 1
    for k, opening in enumerate(solved.openings):
        name = f"Opening {k + 1}" if many else "The opening"
        like = next(n for n, other in enumerate(solved.openings) if other is opening)
        if like < k:
            verdict.append(f"{name}: as opening {like + 1}.")
        else:
            verdict.extend(_verdict(name, opening, scenario, k, chosen))
    verdict += plan.misplaced(scenario, chosen)
    in_vain = tuple(plan.in_vain(scenario))
    return CheckReport(
        ok=all(passes(opening) for opening in solved.openings),
        verdict=(*in_vain, *verdict),
        in_vain=in_vain,
        rows=_rows(scenario, solved, chosen),
        cautions=_cautions(solved, chosen),
        units=chosen.name,
        setup=solved,
    )


def passes(opening: OpeningSetup) -> bool:
    """Whether an opening's latch holds and releases, and its gate shuts, surely enough."""
    if opening.latch_kind == "none":
        return not opening.jams
    works = opening.latch.holds and not opening.jams
    return works and opening.shut_probability >= SURE


def _verdict(
    name: str, opening: OpeningSetup, scenario: Any, index: int, units: Units
) -> list[str]:
    tables = scenario.opening[index]
    size = f"{units.length(opening.width)} wide, {units.length(opening.height)} high"
    kind = opening.gate_kind if opening.latch_kind == "none" else f"{opening.gate_kind} gate"
    head = f"{name} ({kind}, {size})"
    if opening.latch_kind == "none":
        push = units.force(opening.gate.push_force)
        return [
            f"{head}: a one-way entrance, always set. It typically takes a push of {push} to open; "
            f"let go, {_closing(opening, units)}.",
            *_made_of(tables, units),
            *(one.sentence for one in measured.differences(scenario, index, units)),
            _flow(scenario, index),
            *_notes(opening, units),
        ]
    lines = [f"{head}: {_state(opening)}."]
    lines.append(f"{_holding(opening, units)} {_releasing(opening, units)}")
    lines.extend(_unstated(tables, units))
    lines.extend(_made_of(tables, units))
    lines.extend(one.sentence for one in measured.differences(scenario, index, units))
    lines.extend(measured.notes(scenario, index))
    lines.extend(_tries(opening))
    if _released(opening):
        lines.append(_sentence(_closing(opening, units) + _passing(opening, scenario)))
    else:
        share = words.percent(opening.release_probability)
        lines.append(f"The latch lets go in {share} of tries, so no times of a closing are told.")
    lines.append(_flow(scenario, index))
    lines.append(f"Weak link: {weak_link(opening)}.")
    lines.extend(mending.proposals(scenario, index, opening, units))
    said = offered(_GATES, opening.gate_kind, "said", lambda *_: [])
    lines.extend(said(opening, scenario, tables.gate, units))
    lines.extend(lock.said(opening, scenario, tables.gate, units))
    lines.extend(_notes(opening, units))
    return lines


def _released(opening: OpeningSetup) -> bool:
    """Whether it ever closes: a one-way entrance, a latch that holds nothing, or one let go."""
    if opening.latch_kind == "none" or not opening.latch.holds:
        return True
    return opening.release_probability >= UNRELEASED


def _unstated(tables: Any, units: Units) -> list[str]:
    """What pulls the latch, where the file leaves that open."""
    latch = tables.latch
    if latch.puller != "solenoid" or latch.turns is not None or "pull" in latch.model_fields_set:
        return []
    taken = units.force(latch.pull)
    if "latch" not in tables.model_fields_set:
        return [f"No latch is stated, so a {latch.kind} and a solenoid of {taken} are taken."]
    return [f"No pull of the solenoid is stated, so {taken} is taken."]


def _made_of(tables: Any, units: Units) -> list[str]:
    """What the gate weighs and of what that is made up, where the file says materials."""
    weighed = tables.measured is not None and tables.measured.weight is not None
    if tables.gate.mass is not None or weighed:
        return []
    parts = pieces(tables.gate, tables.width, tables.height)
    whole = units.mass(sum(part.mass for part in parts))
    told = [f"{units.mass(part.mass)} of {part.name} ({part.origin})" for part in parts]
    if len(parts) == 1:
        return [f"The gate weighs {whole}, all of it {parts[0].name} ({parts[0].origin})."]
    return [f"The gate weighs {whole}: {', '.join(told)}."]


def _notes(opening: OpeningSetup, units: Units) -> list[str]:
    return [_sentence(words.told(note, units)) for note in opening.notes]


def _state(opening: OpeningSetup) -> str:
    """The one-line answer."""
    if opening.latch_kind != "none" and not opening.latch.holds:
        return "the latch does NOT hold the gate up"
    if opening.jams:
        return "the gate does NOT shut when it is let go"
    share = words.percent(opening.shut_probability)
    sticks = words.percent(opening.hang_probability)
    if opening.shut_probability >= SURE:
        often = opening.hang_probability > mending.HANG_TARGET
        more = f"; let go, it sticks open in {sticks} of releases" if often else ""
        return f"holds, releases and shuts in {share} of tries{more}"
    if not _released(opening):
        return (
            f"does NOT shut: it stays set in {words.percent(opening.hold_probability)} of "
            f"settings, then releases in {words.percent(opening.release_probability)} of tries"
        )
    parts = (
        f"it stays set in {words.percent(opening.hold_probability)} of settings, then releases in "
        f"{words.percent(opening.release_probability)} of tries, and then sticks open in {sticks} "
        "of releases"
    )
    if opening.shut_probability < NEVER:
        return f"does NOT shut: {parts}"
    return f"does NOT shut surely: in {share} of tries ({parts})"


def _holding(opening: OpeningSetup, units: Units) -> str:
    return f"The latch carries {units.force(opening.holding_load)} while the gate is set."


def _releasing(opening: OpeningSetup, units: Units) -> str:
    if not opening.latch.holds:
        return "It takes no pull to free it: the load itself turns it open."
    if opening.pull_required == 0.0:
        return "It takes no pull to free it: by the friction stated, nothing in it rubs."
    need = units.force(opening.pull_required)
    if opening.puller == "animal":
        return f"It typically takes a pull of {need}, and an animal has to give it."
    have = units.force(opening.pull_available)
    if not within_reach(opening.chain):  # no pull helps beyond the stroke
        return f"The {opening.puller} must typically give {need}, and cannot move that far."
    text = (
        f"The {opening.puller} must typically give {need} and gives {have}: a margin of "
        f"{_ratio(opening.margin)}"
    )
    factor = scatter.factor_for(bench.TARGET, opening.required, opening.available)
    if factor is None:
        return text + "."
    enough, aim = factor * opening.margin, words.percent(bench.TARGET)
    return f"{text}; one of {enough:.2g} would do in {aim} of tries."


def _ratio(value: float) -> str:
    """Two figures, or whole numbers from 100 up."""
    return f"{value:.0f}" if value >= 99.5 else f"{value:.2g}"


def _closing(opening: OpeningSetup, units: Units) -> str:
    if opening.jams:
        return "the gate stays open"
    curve = opening.curve
    moved = "it is shut again" if opening.latch_kind == "none" else "once it moves it is shut"
    text = (
        f"{moved} in {curve.shut_time:.2f} s, its edge then at "
        f"{units.speed(float(curve.speed[0]))} with {units.energy(float(curve.energy[0]))}"
    )
    delay = opening.release_delay.median()
    if opening.latch_kind != "none":
        text += f"; from the trigger to its first movement it takes {delay:.2g} s"
    return text


def _passing(opening: OpeningSetup, scenario: Any) -> str:
    """How long a juvenile, or else the smallest that comes, can still get by."""
    measure = opening.curve.measure
    needed = bodies.clearances(scenario, measure)
    name = "juvenile" if "juvenile" in needed else min(needed, key=needed.__getitem__)
    time = opening.curve.time_to(needed[name])
    if opening.latch_kind == "none" or opening.jams or not isfinite(time):
        return ""
    if needed[name] > opening.curve.height:
        return f". A {name} does not get through it even when it is set"
    way = "get through its gap" if measure == "gap" else "duck under it"
    return f". A {name} can {way} for the first {time:.2f} s of its closing"


def _flow(scenario: Any, index: int) -> str:
    """How fast a group gets through, beside figures for a scale."""
    rate = 60.0 * flow.saturated_flow(scenario, index)
    if not isfinite(rate):
        return "Going through it takes no time by this file."
    low, high = flow.CHUTE_A_MINUTE
    people = flow.people_a_minute(scenario.opening[index].width)
    return (
        f"When all want in at once about {_ratio(rate)} a minute go through it (for scale: "
        f"{low:.0f} to {high:.0f} market pigs in single file at a loading chute, {people:.0f} "
        "people through a doorway of this width)."
    )


def _tries(opening: OpeningSetup) -> list[str]:
    """What a try is where animals pull, and on what it hangs."""
    found = opening.odds
    lines = []
    if found.by_state:
        states = [f"{words.percent(p)} when {name}" for name, p in found.by_state.items()]
        lines.append(
            f"A try is the container falling: it frees the latch in {', '.join(states)}; the "
            "headline takes it full."
        )
    if found.by_class:
        shares = [f"by a {name} in {words.percent(p)}" for name, p in found.by_class.items()]
        lines.append(
            "A try is one touch of the line, by any animal of the group that is tall enough. It "
            f"releases on a touch {', '.join(shares)} of tries."
        )
        if found.releases + found.snaps < 1.0 - NEVER:
            lines.append(
                "A line that did not break may be touched again that night, so a gate closes on "
                "more nights than on tries; `run` says on how many."
            )
    if found.drawn > 1e-3:
        lines.append(
            "As soon as it is set, the line's own tension draws the latch in "
            f"{words.percent(found.drawn)} of settings."
        )
    return lines


def _rows(scenario: Any, solved: setup.Setup, units: Units) -> tuple[dict[str, str], ...]:
    """One mapping an opening, all with the same labels, none of them empty everywhere."""
    rows = [
        _row(opening, scenario, k, units) | _channel(opening, scenario.opening[k].gate, units)
        for k, opening in enumerate(solved.openings)
    ]
    kept = [label for label in rows[0] if any(row[label] != "-" for row in rows)]
    return tuple({label: row[label] for label in kept} for row in rows)


def _bodily(opening: OpeningSetup, scenario: Any) -> dict[str, str]:
    """By class: how long after the gate starts to move a median animal still gets by."""
    needed = bodies.clearances(scenario, opening.curve.measure)
    largest_first = sorted(needed, key=needed.__getitem__, reverse=True)
    return {f"a {name} gets by until": _until(opening, needed[name]) for name in largest_first}


def _shut_in(opening: OpeningSetup) -> str:
    if not _released(opening):
        return "-"
    return f"{opening.curve.shut_time:.2f} s" if opening.curve.shuts else "does not shut"


def _until(opening: OpeningSetup, needed: float) -> str:
    if opening.latch_kind == "none" or not _released(opening):
        return "-"
    if needed > opening.curve.height:
        return "does not fit"
    time = opening.curve.time_to(needed)
    return f"{time:.2f} s" if isfinite(time) else "always"


def _channel(opening: OpeningSetup, gate: Any, units: Units) -> dict[str, str]:
    bears = "-"
    if opening.gate_kind == "drop":
        bears = units.force(channel.lip_force(channel.thickness_of(gate)))
    return {"channel lips bend at": bears}


def _per_minute(rate: float) -> str:
    return _ratio(60.0 * rate) if isfinite(rate) else "-"


def _row(opening: OpeningSetup, scenario: Any, index: int, units: Units) -> dict[str, str]:
    curve, latched = opening.curve, opening.latch_kind != "none"
    needed = bodies.clearances(scenario, curve.measure)
    least = min(needed, key=needed.__getitem__)
    powered = latched and opening.puller != "animal"
    stroke, closes = opening.pull.stroke, _released(opening)
    return {
        "gate": opening.gate_kind,
        "latch": opening.latch_kind,
        "pulled by": opening.puller,
        "width": units.length(opening.width),
        "height": units.length(opening.height),
        "at most through it a minute": _per_minute(flow.saturated_flow(scenario, index)),
        "gate mass": units.mass(opening.mass),
        "load on the latch": units.force(opening.holding_load) if latched else "-",
        "lever ratio": f"{opening.lever:.3g}" if latched else "-",
        "pull needed, typically": units.force(opening.pull_required) if latched else "-",
        "pull available, typically": units.force(opening.pull_available) if powered else "-",
        "margin": "-" if isnan(opening.margin) else f"{opening.margin:.2f}",
        "travel needed": units.short(opening.trip_travel) if latched else "-",
        "travel available": units.short(stroke) if isfinite(stroke) and latched else "-",
        "stays set": words.percent(opening.hold_probability) if latched else "-",
        "releases": words.percent(opening.release_probability) if latched else "-",
        "let go, sticks open": words.percent(opening.hang_probability)
        if latched and closes
        else "-",
        "shuts, all in all": words.percent(opening.shut_probability) if latched else "-",
        "trigger to movement": f"{opening.release_delay.median():.2g} s"
        if latched and closes
        else "-",
        **_bodily(opening, scenario),
        "movement to shut": _shut_in(opening),
        "edge speed when shut": units.speed(float(curve.speed[0])) if closes else "-",
        "energy when shut": units.energy(float(curve.energy[0])) if closes else "-",
        "starts to lift with": _opened_by(opening.lift_force, opening, units),
        "starts to pry open with": _opened_by(opening.pry_force, opening, units),
        f"opens for a {least} with": _opened_by(
            bodies.opens_with(opening, needed[least]), opening, units
        ),
        "lift to set it": units.force(opening.set_weight),
    }


def _opened_by(force: float, opening: OpeningSetup, units: Units) -> str:
    text = units.force(force) if isfinite(force) else "no force does"
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
    return (*dict.fromkeys(words.told(line, units) for line in lines), *GENERAL_CAUTIONS)


def _sentence(text: str) -> str:
    """With a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
