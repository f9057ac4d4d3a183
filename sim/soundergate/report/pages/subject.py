"""What a report needs to know of the setup it is about: units, bodies, sources, words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.clearance import clearances
from soundergate.report.contents import Source, source_of
from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import NONE
from soundergate.scenario import unit_system
from soundergate.scenario.unit_system import SI, Units, system_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from soundergate.mechanics.model import ClosingCurve
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.register import Entry
    from soundergate.scenario.schema import Scenario

_WEAKEST_FIRST = (
    "assumption",
    "memory",
    "common practice",
    "invented",
    "handbook",
    "published",
    "standard",
)
_BEHAVIOUR = frozenset(
    {"arrival", "entry", "leaving", "movement", "startle", "strike", "training", "visit"}
)


def units_of(scenario: Scenario | None) -> Units:
    """The units that the user writes in; SI without a scenario."""
    return SI if scenario is None else unit_system.units(system_of(scenario.raw))


def bodies_of(scenario: Scenario | None, measure: str = "height") -> dict[str, float]:
    """By class present: the clearance (m) that a median animal needs to pass a closing gate."""
    return {} if scenario is None else clearances(scenario, measure)


def sources_of(scenario: Scenario | None, first: Sequence[str] = ()) -> list[Source]:
    """The defaults the scenario rests on, those that may move the answer most first.

    `first` names dotted keys that are known to matter, such as those a sensitivity study found;
    they lead in that order. The rest follow by origin, the least certain first; within an origin
    what pigs do stands before what steel does, and wide ranges before narrow ones. Values without
    a range come last.
    """
    return [] if scenario is None else sources_of_arms({"": scenario}, first)


def sources_of_arms(scenarios: Mapping[str, Scenario], first: Sequence[str] = ()) -> list[Source]:
    """The same of several setups together; a default that not all rest on says which do."""
    from soundergate.scenario.assumptions import defaults_used

    entries: dict[tuple[str, str], Entry] = {}
    users: dict[tuple[str, str], list[str]] = {}
    for arm, scenario in scenarios.items():
        for name, entry in defaults_used(scenario):
            entries[name, entry.id] = entry
            users.setdefault((name, entry.id), []).append(arm)
    rank = {name: place for place, name in enumerate(first)}

    def order(item: tuple[str, Entry]) -> tuple[int, bool, int, bool, float]:
        name, entry = item
        key = rank.get(name, rank.get(entry.id, len(rank)))
        width = _range_width(entry)
        known = _WEAKEST_FIRST.index(entry.origin) if entry.origin in _WEAKEST_FIRST else 0
        steel = name.split(".")[0] not in _BEHAVIOUR
        return key, width <= 0, known, steel, -width

    used = [(name, entry, users[name, key]) for (name, key), entry in entries.items()]
    return [
        _with_users(source_of(name, entry), arms, len(scenarios))
        for name, entry, arms in sorted(used, key=lambda one: order(one[:2]))
    ]


def _with_users(source: Source, arms: Sequence[str], of: int) -> Source:
    if len(arms) == of:
        return source
    named = " and ".join(f"“{arm}”" for arm in arms) if len(arms) <= 2 else ""
    which = f"Only in {named}" if named else f"In {len(arms)} of the {of} setups"
    return replace(source, note=f"{which}. {source.note}".strip())


def _range_width(entry: Entry) -> float:
    """How wide the plausible range is: ln(high / low) if both are positive; 0 without a range."""
    low, high = entry.low, entry.high
    if not entry.numeric or not isinstance(low, int | float) or not isinstance(high, int | float):
        return 0.0
    if low > 0 and math.isfinite(high):
        return math.log(high / low)
    return 1.0 if high > low else 0.0


def closing_of(scenario: Scenario, setup: Setup, ax: Axes | None = None) -> Axes:
    """What is still clear as each opening closes, openings that close alike drawn once."""
    from soundergate.report.figures.gate import closing_curves

    curves: dict[str, ClosingCurve] = {}
    for number, opening in enumerate(setup.openings, 1):
        times = opening.curve.time.tobytes()
        if not any(times == curve.time.tobytes() for curve in curves.values()):
            curves[f"opening {number}"] = opening.curve
    measures = {curve.measure for curve in curves.values()}
    bodies = bodies_of(scenario, measures.pop()) if len(measures) == 1 else {}
    return closing_curves(curves, bodies, units_of(scenario), ax)


def setup_cautions(setups: Iterable[Setup | None], units: Units = SI) -> list[str]:
    """What the openings of these setups warn of, each once, figures in one system of units."""
    texts = [c for s in setups if s is not None for o in s.openings for c in o.cautions]
    return list(dict.fromkeys(words.told(text, units) for text in texts))


def steel_table(openings: dict[str, OpeningSetup], units: Units) -> Table:
    """Mechanics of some openings by name: one row a fact, one column an opening."""
    rows = [
        [label, *(_cell(opening, fact, quantity, units) for opening in openings.values())]
        for label, fact, quantity in _FACTS
    ]
    columns = ["", *openings]
    return Table(
        "What the steel does", columns, rows, frozenset(range(1, len(columns))), _STEEL_NOTE
    )


_STEEL_NOTE = (
    "Margin is the pull that is there divided by the pull that is needed. The strike energy is "
    "what the gate carries just before it is shut: a caution, never a clearance."
)
# label, attribute of OpeningSetup (or of its curve), quantity of `Units` or how to print it
_FACTS = (
    ("gate", "gate_kind", "text"),
    ("latch", "latch_kind", "text"),
    ("pulled by", "puller", "text"),
    ("mass of the gate", "mass", "mass"),
    ("load on the latch", "holding_load", "force"),
    ("pull needed, typically", "pull_required", "force"),
    ("pull available, typically", "pull_available", "force"),
    ("margin", "margin", "ratio"),
    ("stays set", "hold_probability", "share"),
    ("releases", "release_probability", "share"),
    ("let go, sticks open", "hang_probability", "share"),
    ("shuts, all in all", "shut_probability", "share"),
    ("closes in", "shut_time", "time"),
    ("energy near shut", "strike", "energy"),
    ("force to lift it when shut", "lift_force", "force"),
    ("load to lift when setting it", "set_weight", "force"),
)

_LATCHED = frozenset(
    {
        "latch_kind",
        "puller",
        "holding_load",
        "pull_required",
        "pull_available",
        "margin",
        "hold_probability",
        "release_probability",
        "shut_probability",
    }
)


def _cell(opening: OpeningSetup, fact: str, quantity: str, units: Units) -> str:
    if fact == "shut_time":
        value: Any = opening.curve.shut_time
    elif fact == "strike":
        value = float(opening.curve.energy[0])
    else:
        value = getattr(opening, fact)
    if opening.latch_kind == "none" and fact in _LATCHED:
        return NONE
    if quantity == "text":
        return str(value)
    if fact in ("pull_available", "margin") and opening.puller == "animal":
        return "an animal's"
    if quantity == "time":
        return f"{value:.2f} s" if math.isfinite(value) else "does not shut"
    if quantity == "share":
        return words.percent(value)
    if quantity == "ratio":
        return f"{value:.2f}" if math.isfinite(value) else NONE
    if not math.isfinite(value):  # a panel pushed against its neighbour
        return "no force does"
    return str(getattr(units, quantity)(value))
