"""Tables of a season, for the terminal and for the page alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report.tables.table import Table
from soundergate.report.words.numbers import NONE, estimate_cells, points, with_range
from soundergate.report.words.season_answers import money_range
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.population.published import WHY_THEY_DIFFER, readings

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.seasons.money.cost_summary import CostFigure
    from soundergate.seasons.season import SeasonResult
    from soundergate.studies.estimates.tally import Estimate

_COSTS = {
    "cost_per_campaign": "money a campaign",
    "cost_per_pig": "money a pig caught",
    "cost_per_group": "money a whole group",
    "hours_per_campaign": "hours a campaign",
    "hours_per_pig": "hours a pig caught",
    "net_per_campaign": "damage prevented less cost",
}


def figures_table(result: SeasonResult) -> Table:
    """Every figure of the campaigns, setups side by side."""
    rows = []
    for name, question in QUESTIONS.items():
        cells = [_cells(setup[name]) for setup in result.setups]
        unit = cells[0][1]
        rows.append([question.words, *(value for value, _ in cells), unit])
    return Table(_with_ranges("Campaigns", result), *_beside("figure", result, rows, "unit"))


def _with_ranges(what: str, result: SeasonResult) -> str:
    return f"{what}, with {100 * result.level:g} % ranges"


def _beside(
    head: str, result: SeasonResult, rows: list[list[str]], *tail: str, alone: str = "estimate"
) -> tuple[list[str], list[list[str]], frozenset[int]]:
    """Columns, rows and which of them are numbers: a name, a column a setup, and what follows.

    ``alone`` heads the column of a setup that stands by itself.
    """
    names = [setup.name for setup in result.setups] if len(result.setups) > 1 else [alone]
    return [head, *names, *tail], rows, frozenset(range(1, len(names) + 1))


def _cells(e: Estimate) -> tuple[str, str]:
    """The estimate with its range, and the unit of both."""
    value, ends, unit = estimate_cells(e)
    return with_range(value, ends), unit


def gains_table(result: SeasonResult) -> Table:
    """What setups have more of than the first, on common campaigns."""
    rows = []
    for gain in result.gains:
        e = gain.estimate
        value, ends, unit = estimate_cells(e, signed=True)
        pair, settled = f"{gain.second} − {gain.first}", "yes" if gain.settled else "no"
        rows.append([pair, QUESTIONS[e.name].words, value, ends, points(unit), settled])
    columns = ["difference", "in", "estimate", f"{100 * result.level:g} % range", "unit", "settled"]
    return Table("Differences, campaign by campaign", columns, rows, frozenset({2, 3}))


def cost_table(result: SeasonResult) -> Table:
    """Costs, setups side by side; what is not known says why below."""
    rows = []
    why: dict[str, None] = {}
    for name, words in _COSTS.items():
        figures = {setup.name: setup.costs[name] for setup in result.setups}
        rows.append([words, *map(_money, figures.values()), result.setups[0].costs[name].unit])
        unknown = {setup: f for setup, f in figures.items() if math.isnan(f.estimate)}
        why |= {f"{setup}: {f.why}": None for setup, f in unknown.items()}
    note = "Not known: " + "; ".join(why) + "." if why else ""
    return Table(_with_ranges("Costs", result), *_beside("cost", result, rows, "unit"), note)


def _money(figure: CostFigure) -> str:
    return money_range(figure.estimate, figure.low, figure.high)


def parts_table(result: SeasonResult) -> Table:
    """Money and hours a campaign by what they are spent on, setups side by side."""
    tables = [setup.costs.parts_table for setup in result.setups]
    names = list(dict.fromkeys(str(part) for table in tables for part in table.index))
    rows = [[name, *(_part(table, name) for table in tables)] for name in names]
    money = result.setups[0].costs.currency or "money"
    missing = [f"{s.name}: {one.words}" for s in result.setups for one in s.costs.not_counted]
    note = "Not counted: " + "; ".join(missing) + "." if missing else ""
    caption = f"Spent on ({money}, hours)"
    return Table(caption, *_beside("part", result, rows, alone="a campaign"), note)


def _part(table: pd.DataFrame, name: str) -> str:
    if name not in table.index:
        return NONE
    money, hours = (float(table.loc[name, f"{what}_per_campaign"]) for what in ("money", "hours"))  # type: ignore[arg-type]
    told = [] if math.isnan(money) else [f"{money:,.0f}"]
    told += [] if math.isnan(hours) else [f"{hours:.1f} h"]
    return ", ".join(told) or NONE


def unknowns_table(result: SeasonResult) -> Table:
    """Share caught with each assumption at either end of its range."""
    rows = []
    for setup, moved in zip(result.setups, result.unknowns, strict=True):
        for one in moved:
            shares, nights = (
                [e.estimate for e in one.figure(name)] for name in ("fraction_caught", "nights")
            )
            rows.append([
                setup.name, one.key, f"{one.entry.low:g} to {one.entry.high:g}",
                f"{100 * shares[0]:.1f} to {100 * shares[1]:.1f} %",
                f"{nights[0]:.1f} to {nights[1]:.1f}",
            ])  # fmt: skip
    return Table(
        "Assumptions about learning, each at both ends",
        ["setup", "assumption", "range", "share caught", "nights"],
        rows,
        frozenset({2, 3, 4}),
        "Nobody has measured these. Set what you know better, and see what changes.",
    )


def population_table(result: SeasonResult) -> Table:
    """What each figure of growth asks for, in campaigns of each setup."""
    tables = [None if one is None else one.table for one in result.outlooks]
    known = next((table for table in tables if table is not None), None)
    heads = ("growth a year, times", "share to remove a year")
    rows = []
    for number, row in () if known is None else known.iterrows():
        needed = [_campaigns(table, number) for table in tables]
        growth = _ends(row["growth_factor_low"], row["growth_factor_high"], 2)
        share = _ends(100 * row["share_low"], 100 * row["share_high"], 0, " %")
        rows.append([f"{row['figure']} ({row['read_as']})", *needed, growth, share])
    return Table(
        "Campaigns a year that stop growth, by figures that disagree",
        *_beside("figure and how it is read", result, rows, *heads, alone="campaigns a year"),
        "No figure is preferred here: they come from different places and years, and count pigs "
        "at different times. That the last pigs are harder to catch is not in them. A dash: so "
        "many arrive that no removal holds the number, or the figure cannot be read in this way.",
    )


def published_table(result: SeasonResult) -> Table:
    """What the published figures say, and where: for a page, since it is long."""
    immigration = result.setups[0].scenario.population.immigration
    figures = {one.figure.name: one.figure for one in readings(immigration)}
    rows = [[f.name, f.says, f.caution, f"{f.source} ({f.status})"] for f in figures.values()]
    return Table(
        "Published figures of growth and removal",
        ["figure", "what is printed", "beware", "source (how it was seen)"],
        rows,
        frozenset(),
        "Why they may differ. " + " ".join(WHY_THEY_DIFFER),
    )


def _campaigns(table: pd.DataFrame | None, number: Any) -> str:
    if table is None:
        return "never"
    low, high = (float(table[f"campaigns_{end}"][number]) for end in ("low", "high"))
    return _ends(low, high, 1)


def _ends(low: float, high: float, digits: int, unit: str = "") -> str:
    """Two ends as text, one if they are alike; an end without limit is "never"."""
    if math.isnan(low) or math.isnan(high):
        return NONE
    ends = [f"{end:.{digits}f}" if math.isfinite(end) else "never" for end in (low, high)]
    return (ends[0] if ends[0] == ends[1] else " to ".join(ends)) + unit


def season_tables(result: SeasonResult) -> Sequence[Table]:
    """All of them, in the order in which they are read."""
    tables = [figures_table(result)]
    if result.gains:
        tables.append(gains_table(result))
    if any(setup.any_price for setup in result.setups):
        tables += [cost_table(result), parts_table(result)]
    if any(result.unknowns):
        tables.append(unknowns_table(result))
    return [*tables, population_table(result)] if any(result.outlooks) else tables
