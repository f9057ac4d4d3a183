"""`check --trade-off`: holding load against closing time, by set angle and by counterweight."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from math import degrees, isfinite, isnan
from typing import TYPE_CHECKING, Any

from soundergate.commands.check_section import (
    Part,
    file_stem,
    seconds_cell,
    sentence,
    share_cell,
    titled,
)
from soundergate.report.tables.table import Table, units_at_heads
from soundergate.report.words.numbers import NONE
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.mechanics.advice.trade_off import TradeOff
    from soundergate.scenario.schema import Scenario


def trade_off(scenario: Scenario, index: int, name: str, units: Units) -> Part:
    from soundergate.mechanics.advice.trade_off import both_ways

    found = both_ways(scenario, index)
    answer = [sentence(_traded(kind, swept, units), name) for kind, swept in found.items()]
    answer.append("Below 90 deg a top-hinged gate leaves less than its whole opening clear.")
    tables = [
        units_at_heads(
            Table(
                titled(_TRADES[kind], name),
                (
                    _HEADS[kind],
                    "load",
                    "pull",
                    "releases",
                    "sticks",
                    "juvenile until",
                    "shut",
                    "energy",
                ),
                [_trade_row(kind, row, units) for row in swept.table.to_dict("records")],
            )
        )
        for kind, swept in found.items()
    ]

    def draw() -> dict[str, Figure]:
        from soundergate.report.figures import trade_off as trade_off_figure

        ax = trade_off_figure.trade_off(found, units)
        return {file_stem("trade_off", name): ax.figure}  # type: ignore[dict-item]

    data = {
        "opening": index + 1,
        **{kind: swept.table.to_dict("records") for kind, swept in found.items()},
    }
    return Part("trade_off", tuple(answer), tuple(tables), data, draw)


_TRADES = {
    "top-hinged": "As a top-hinged gate, by set angle (90 is level)",
    "drop": "As a drop gate, by counterweight",
}
_HEADS = {"top-hinged": "angle", "drop": "weight"}


def _traded(kind: str, swept: TradeOff, units: Units) -> str:
    """What the setting buys and costs, from where it holds most to the lightest that shuts."""
    ends = swept.ends()
    if ends is None:
        return f"{kind} gate: it shuts at none of these settings."
    first, last = ends
    return (
        f"{kind} gate: from {_setting(kind, float(swept.value[first]), units)} to "
        f"{_setting(kind, float(swept.value[last]), units)} the load on the latch falls from "
        f"{units.force(float(swept.holding_load[first]))} to "
        f"{units.force(float(swept.holding_load[last]))} and the time to shut grows from "
        f"{swept.shut_time[first]:.2f} to {swept.shut_time[last]:.2f} s. "
        f"To be relied on: {_relied_on(kind, swept, units)}."
    )


def _relied_on(kind: str, swept: TradeOff, units: Units) -> str:
    """The settings that can be relied on, neighbours told as a range."""
    good = swept.relied_on().tolist()
    if all(good):
        return "all of them"
    names = [_setting(kind, float(value), units) for value in swept.value]
    told = []
    for sure, run in groupby(range(len(good)), key=good.__getitem__):
        inside = list(run)
        if sure:
            ends = dict.fromkeys((names[inside[0]], names[inside[-1]]))
            told.append(" to ".join(ends))
    return ", ".join(told) or "none of these settings"


def _setting(kind: str, value: float, units: Units) -> str:
    if kind == "top-hinged":
        return f"{degrees(value):.0f} deg"
    return units.mass(value) if value else "no counterweight"


def _trade_row(kind: str, row: Mapping[Any, float], units: Units) -> list[str]:
    setting = units.mass(row["value"]) if kind == "drop" else _setting(kind, row["value"], units)
    if isnan(row["holding_load"]):
        return [setting, *[NONE] * 6, "not built"]
    return [
        setting,
        units.force(row["holding_load"]),
        units.force(row["pull_required"]),
        share_cell(row["release_probability"]),
        share_cell(row["hang_probability"]),
        seconds_cell(row["juvenile_time"], "always"),
        seconds_cell(row["shut_time"], "never"),
        units.energy(row["energy"]) if isfinite(row["shut_time"]) else NONE,
    ]
