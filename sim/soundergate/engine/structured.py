"""Records of numbers under names: the same fields for NumPy, for compiled code and for Python.

A class says the fields; an array holds one record after another, each of whole numbers and floats
of eight bytes, so that compiled code and plain Python read `openings[o].width` alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, TypeAlias, get_type_hints

import numpy as np
from numpy.typing import NDArray

Records: TypeAlias = Any
"""A NumPy array of records, from `blank` or `filled`. A field must not be called like an
attribute of NumPy's own, such as size."""

_TYPES: dict[Any, type] = {
    int: np.int64,
    float: np.float64,
    tuple[float, ...]: np.float64,
    NDArray[np.int64]: np.int64,
    NDArray[np.float64]: np.float64,
}


def blank(kind: type, count: int, shapes: Mapping[str, tuple[int, ...]] | None = None) -> Any:
    """``count`` records of zeros with the fields of a class; ``shapes`` are those of arrays."""
    return np.zeros(count, _layout(kind, tuple((shapes or {}).items()))).view(np.recarray)


@cache
def _layout(kind: type, shapes: tuple[tuple[str, tuple[int, ...]], ...]) -> np.dtype[np.void]:
    fields = [
        (name, _TYPES[hint], dict(shapes).get(name, ()))
        for name, hint in get_type_hints(kind).items()
    ]
    return np.dtype(fields, align=True)


def filled(
    kind: type, rows: Iterable[tuple[Any, ...]], shapes: Mapping[str, tuple[int, ...]] | None = None
) -> Any:
    """Records of these rows, which are tuples of the fields of the class in order."""
    given = list(rows)
    records = blank(kind, len(given), shapes)
    records[:] = given
    return records
