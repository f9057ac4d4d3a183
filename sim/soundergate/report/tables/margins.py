"""The table of `check`: what each opening can be relied on for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.figures.robust import range_words
from soundergate.report.tables.table import Table
from soundergate.report.words.steel_answers import steel_rows
from soundergate.studies.worlds.phrases import named

if TYPE_CHECKING:
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.studies.worlds.steel import SteelOverWorlds

_BEHIND = "shuts, all in all"


def margins_table(report: CheckReport, over: SteelOverWorlds | None = None) -> Table:
    """One row a quantity, one column an opening; over plausible worlds behind those of one."""
    count = len(report.rows)
    heads = [f"opening {n}" if count > 1 else "opening" for n in range(1, count + 1)]
    rows = []
    for name in report.rows[0]:
        rows.append([name, *(row[name] for row in report.rows)])
        if name == _BEHIND and over is not None:
            rows += [[label, *cells] for label, cells in steel_rows(over).items()]
    return Table("", ["", *heads], rows)


_SHOWN = 6


def unknowns_tables(over: SteelOverWorlds | None) -> list[Table]:
    """What is shown to move the chance of a release over the worlds, a table an opening with a
    latch; none where nothing is shown to."""
    if over is None:
        return []
    many = over.passes.shape[1] > 1
    shown = {n: [one for one in over.movers(n) if one.shown] for n in over.latched}
    return [
        Table(
            "What nobody knows and a release hangs on"
            + (f", opening {opening + 1}" if many else ""),
            [
                "unknown",
                "nine in ten",
                "at low, % of tries",
                "at high",
                "of the spread, %",
            ],
            [
                [
                    named(one.unknown.id),
                    range_words(one.low, one.high, one.unknown.range_unit),
                    *(f"{100 * min(max(at, 0.0), 1.0):z.0f}" for at in (one.at_low, one.at_high)),
                    f"{100 * one.share:.0f}",
                ]
                for one in shown[opening][:_SHOWN]
            ],
            frozenset({2, 3, 4}),
            f"Over {over.worlds} plausible worlds. Average share of tries on which it lets go "
            "where the unknown is low, and where it is high, all others varying; what part of the "
            "spread it explains by itself. Only those are listed that move it more than chance "
            "would make the largest of all seem to.",
        )
        for opening in over.latched
        if shown[opening]
    ]
