"""A table of text, and its two renderings: here as HTML, in a terminal by `commands.console`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Table:
    """A table of text. The first column names the row.

    Columns in `numeric` are set flush right; cells in `unbroken` columns stay on one line in a
    narrow terminal. `note` stands under the table on a page.
    """

    caption: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    numeric: frozenset[int] = frozenset()
    note: str = ""
    unbroken: frozenset[int] = frozenset()


def html(*tables: Table) -> str:
    """The tables as HTML for a notebook, one below the other, all text escaped."""
    from soundergate.report.templating import fill

    return "\n".join(str(fill("table.html.j2", table=table, id="")) for table in tables)


_FIGURE = re.compile(r"([<>]?[-−]?[\d.]+)(?: (\S+))?")


def units_at_heads(table: Table) -> Table:
    """The table with a unit that all figures of a column share moved to its head.

    "22.5 lbf" becomes "22.5" below "load" and "(lbf)", so that the table fits a narrow window.
    """
    heads, cells = list(table.columns), [list(row) for row in table.rows]
    numeric: set[int] = set()
    for place in range(len(heads)):
        figures = [_FIGURE.fullmatch(row[place]) for row in cells]
        found = [match for match in figures if match]
        units = {match[2] for match in found}
        if not found or len(units) > 1:
            continue
        numeric.add(place)
        unit = units.pop()
        whole = f"{heads[place]} ({unit})" if unit else heads[place]
        heads[place] = whole.replace(" ", "\n", 1)
        for row, match in zip(cells, figures, strict=True):
            row[place] = match[1] if match else row[place]
    words = frozenset(range(len(heads))) - numeric
    return replace(table, columns=heads, rows=cells, numeric=frozenset(numeric), unbroken=words)
