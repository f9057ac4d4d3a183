"""What `check` can be asked for besides its verdict: pairs, widths, trade-off, claims.

Each is worked out whole before anything is printed, so that bad input leaves nothing half said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from math import isnan
from typing import TYPE_CHECKING, Any

from soundergate.commands.check_section import (
    Part,
    file_stem,
    not_built,
    ratio_cell,
    seconds_cell,
    sentence,
    share_cell,
    titled,
)
from soundergate.commands.check_trade_off import trade_off
from soundergate.commands.options import CheckOptions
from soundergate.mechanics import numbers_in_words as words
from soundergate.mechanics.numbers_in_words import percent
from soundergate.report.tables.table import Table, units_at_heads
from soundergate.report.words.numbers import NONE
from soundergate.scenario import unit_system
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.unit_system import SI, Units
from soundergate.scenario.units import parse_quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.mechanics.advice.pairs import Pair
    from soundergate.mechanics.advice.sweep import WidthSweep
    from soundergate.scenario.schema import Scenario

USUAL = "usual"
"""What --widths says for the widths swept unless others are named."""


def parts(scenario: Scenario, report: CheckReport, asked: CheckOptions) -> list[Part]:
    """All that was asked for, an opening at a time; openings that are alike are told once.

    Raises
    ------
    ScenarioError : widths that are no lengths, or that the scenario cannot have.
    """
    units = unit_system.units(report.units)
    widths = read_widths(asked.widths) if asked.widths is not None else None
    found: list[Part] = []
    for index, name in _latched(report):
        if asked.pairs:
            found.append(_pairs(scenario, index, name, units))
        if asked.widths is not None:
            found.append(_widths(scenario, index, name, units, widths))
        if asked.trade_off:
            found.append(trade_off(scenario, index, name, units))
        if asked.claims and not any(part.key == "claims" for part in found):
            found.append(_claims(scenario, index, units))
    if found or not asked.asks_more:
        return found
    raise ScenarioError(
        "all openings are one-way entrances: there is no latch to look into",
        file=scenario.source,
        hint="leave out --pairs, --widths, --trade-off and --claims",
    )


def read_widths(text: str) -> list[float] | None:
    """Widths (m, rising, each once) from "3 ft, 4 ft"; None for the usual ones.

    Raises
    ------
    ScenarioError : a part that is no length.
    """
    if text == USUAL:
        return None
    try:
        return sorted({parse_quantity(part, "length") for part in text.split(",")})
    except ScenarioError as error:
        raise ScenarioError(
            error.problem, key="--widths", value=error.value, hint='such as "3 ft,4 ft,6 ft"'
        ) from None


def _latched(report: CheckReport) -> Iterator[tuple[int, str]]:
    """Index and name of each different opening that has a latch; a single one needs no name."""
    several = len(report.setup.openings) > 1
    for index, opening in report.setup.different():
        if opening.latch_kind != "none":
            yield index, f"opening {index + 1}" if several else ""


def _pairs(scenario: Scenario, index: int, name: str, units: Units) -> Part:
    from soundergate.mechanics.advice.pairs import compare_pairs, gate_words

    found = compare_pairs(scenario, index)
    sure, all_pairs = sum(p.feasible for p in found.pairs), len(found.pairs)
    if found.best is None:
        said = f"none of {all_pairs} pairs of gate and latch can be relied on with this puller"
    else:
        best = found.best
        said = (
            f"a {gate_words(best.gate)} with a {best.latch} latch is the first to stop a juvenile, "
            f"{best.juvenile_time:.2f} s after the trigger; {sure} of {all_pairs} pairs hold, "
            "release and shut surely enough with this puller"
        )

    def draw() -> dict[str, Figure]:
        from soundergate.report.figures.pairs import pairs_figure

        return {file_stem("pairs", name): pairs_figure(found, name.capitalize())}

    tables = [
        units_at_heads(
            Table(
                titled("Gates and latches, times from the trigger", name),
                (
                    "gate",
                    "latch",
                    "margin",
                    "releases",
                    "sticks",
                    "moves",
                    "juvenile until",
                    "shut",
                ),
                [_pair_row(pair) for pair in found.pairs],
            )
        )
    ]
    if sure < all_pairs:
        why = [(_gate(p), p.latch, p.why) for p in found.pairs if not p.feasible]
        tables.append(
            Table(
                titled("Why not", name),
                ("gate", "latch", "reason"),
                why,
                unbroken=frozenset({0, 1}),
            )
        )
    data = {"opening": index + 1, "pairs": [asdict(pair) for pair in found.pairs]}
    return Part("pairs", (sentence(said, name) + ".",), tuple(tables), data, draw)


def _gate(pair: Pair) -> str:
    """The gate in few letters."""
    shorter = {"side-hinged, single": "side, one leaf", "side-hinged, double": "side, two leaves"}
    return shorter.get(pair.gate, pair.gate)


def _pair_row(pair: Pair) -> list[str]:
    return [
        _gate(pair),
        pair.latch,
        ratio_cell(pair.margin),
        share_cell(pair.release_probability),
        share_cell(pair.hang_probability),
        seconds_cell(pair.release_time, NONE),
        seconds_cell(pair.juvenile_time, "always"),
        seconds_cell(pair.shut_time, "never"),
    ]


def _widths(
    scenario: Scenario, index: int, name: str, units: Units, widths: list[float] | None
) -> Part:
    from soundergate.mechanics.advice.sweep import sweep_width

    swept = sweep_width(scenario, widths, index)
    records = swept.table.to_dict("records")
    widest = swept.widest()
    built = [float(width) for width in swept.width[swept.built()]]
    if not built:
        said = "at none of these widths can it be built as the file says"
    elif widest is None:
        said = f"not even {units.length(built[0])} wide does it shut surely enough"
    elif widest == built[-1]:
        every = "at every width tried" + (" that can be built" if any(swept.why) else "")
        said = f"{every}, up to {units.length(widest)}, it shuts in 9 of 10 tries or more"
    else:
        said = (
            "of the widths tried it shuts in 9 of 10 tries or more up to "
            f"{units.length(widest)}, not beyond"
        )
    answer = [sentence(said, name) + "."]
    if len(built) > 1:
        answer.append(_grown(swept, units))
    answer += not_built(swept.why, [units.length(float(width)) for width in swept.width])

    def draw() -> dict[str, Figure]:
        from soundergate.report.figures.width import width_sweep

        own = scenario.opening[index].width
        return {file_stem("widths", name): width_sweep(swept, units, own)}

    table = Table(
        titled("Widths: load on the latch, pull needed, there", name),
        ("width", "mass", "load", "pull", "there", "margin", "releases", "sticks", "shut"),
        [_width_row(row, units) for row in records],
    )
    data = {"opening": index + 1, "widths": records}
    return Part("widths", tuple(answer), (units_at_heads(table),), data, draw)


def _grown(swept: WidthSweep, units: Units) -> str:
    """What the widest weighs and sticks beside the narrowest, of those that can be built."""
    built = swept.built()
    width, mass, sticks = (
        values[built] for values in (swept.width, swept.mass, swept.hang_probability)
    )
    hangs = [float(share) for share in sticks[[0, -1]]]
    return (
        f"From {units.length(float(width[0]))} to {units.length(float(width[-1]))} "
        f"the gate grows from {units.mass(float(mass[0]))} to "
        f"{units.mass(float(mass[-1]))}, and let go it sticks open in "
        f"{percent(hangs[0])} and {percent(hangs[1])} of releases."
    )


def _width_row(row: Mapping[Any, float], units: Units) -> list[str]:
    if isnan(row["mass"]):
        return [units.length(row["width"]), *[NONE] * 7, "not built"]
    powered = row["pull_available"] > 0
    return [
        units.length(row["width"]),
        units.mass(row["mass"]),
        units.force(row["holding_load"]),
        units.force(row["pull_required"]),
        units.force(row["pull_available"]) if powered else NONE,
        ratio_cell(row["margin"]),
        share_cell(row["release_probability"]),
        share_cell(row["hang_probability"]),
        seconds_cell(row["shut_time"], "never"),
    ]


def _claims(scenario: Scenario, index: int, units: Units) -> Part:
    from soundergate.mechanics.advice import claims
    from soundergate.mechanics.advice.claims_case import Case

    case = Case.of(scenario, index)
    found = claims.examine(case)
    counts = {
        word: sum(v.verdict == word for v in found) for word in ("agree", "depends", "disagree")
    }
    said = ", ".join(f"{word} {count}" for word, count in counts.items())
    worked = f"Worked out for {words.told(case.text(), units)}."
    numbered = [(str(number), verdict) for number, verdict in enumerate(found, 1)]
    tables = (
        Table(
            "Claims of the trade (common practice, no source)",
            ("", "claim", "verdict", "reason"),
            [(n, v.claim, v.verdict, words.told(v.reason, units)) for n, v in numbered],
            unbroken=frozenset({0, 2}),
        ),
        Table(
            "Part by part",
            ("", "part", "came out"),
            [
                (n, part, "yes" if ok else "no")
                for n, v in numbered
                for part, ok in v.checks.items()
            ],
            unbroken=frozenset({0}),
        ),
        Table(
            "The numbers",
            ("", "figure", "value"),
            [(n, *pair) for n, v in numbered for pair in claims.figures(v, units)],
            unbroken=frozenset({0}),
        ),
    )

    def draw() -> dict[str, Figure]:
        from soundergate.report.figures.claims import claims_figure

        return {"claims": claims_figure(found, units, case.text())}

    data = [
        {
            "claim": v.claim,
            "verdict": v.verdict,
            "checks": dict(v.checks),
            "reason": words.told(v.reason, SI),
            "figures": dict(v.figures),
            "origin": v.origin,
        }
        for v in found
    ]
    return Part("claims", (f"Claims of the trade: {said}. {worked}",), tables, data, draw)
