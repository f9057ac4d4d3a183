"""CSV files: numbers as they are, and text so that a spreadsheet shows it and does not compute it.

Names are the user's own and may come from anybody. A cell that begins like a formula is run when
the file is opened (CWE-1236, improper neutralization of formula elements in a CSV file), so it
gets an apostrophe in front, which spreadsheets take for "this is text". Numbers are no text and
stay as they are.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeVar

from soundergate.files import AnyPath, write_text

if TYPE_CHECKING:
    import pandas as pd

V = TypeVar("V")

FORMULA_SIGNS = tuple("=+-@\t\r\n＝＋－＠")
"""First signs of a formula; some programs take those of full width alike."""


def cell(value: V) -> V | str:
    """The value as it may stand in a CSV file: text that begins like a formula after an apostrophe.

    Anything that is not text stays as it is.
    """
    if isinstance(value, str) and value.lstrip(" ").startswith(FORMULA_SIGNS):
        return f"'{value}"
    return value


def csv_text(
    head: Sequence[str], rows: Iterable[Iterable[object]], path: AnyPath | None = None
) -> str:
    """Rows as CSV text under their head, nan and None empty; written to ``path`` if given."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(map(cell, head))
    for row in rows:
        writer.writerow("" if value != value else cell(value) for value in row)
    if path is not None:
        write_text(path, out.getvalue())
    return out.getvalue()


def safe_frame(table: pd.DataFrame) -> pd.DataFrame:
    """A table with every text in it, its index and its column names as they may stand in CSV."""
    import pandas as pd

    safe = table.copy()
    names = safe.index.names
    for place in range(safe.shape[1]):
        column = safe.iloc[:, place]
        if not pd.api.types.is_numeric_dtype(column):
            safe.isetitem(place, column.map(cell).to_numpy())
    safe.columns = safe.columns.map(cell)
    safe.index = safe.index.map(
        lambda key: tuple(map(cell, key)) if isinstance(key, tuple) else cell(key)
    )
    safe.index.names = names
    return safe


def shown(name: str) -> str:
    """The name of a file without what no page can show, or shows as other than it is."""
    return "".join(sign if sign.isprintable() else "�" for sign in name)
