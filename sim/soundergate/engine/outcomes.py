"""What a run of nights left behind: one row a night, one typed column a fact.

Both engines fill the same columns in the same order, so their files can be compared byte by byte.
The file written here is a gzip-compressed CSV with nothing in it that depends on the clock, the
machine or the file name.
"""

from __future__ import annotations

import gzip
import os
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from soundergate.files import writing

if TYPE_CHECKING:
    import pandas as pd

COLUMNS: list[tuple[str, str]] = [
    ("night", "i8"),
    ("group_size", "i8"),
    ("arrived", "i8"),
    ("released", "?"),
    ("release_s", "f8"),
    ("inside_at_release", "i8"),
    ("caught", "i8"),
    ("escaped_before", "i8"),
    ("escaped_during", "i8"),
    ("escaped_after", "i8"),
    ("never_entered", "i8"),
    ("educated", "i8"),
    ("struck", "i8"),
    ("strike_energy_j", "f8"),
    ("whole_group", "?"),
    ("operator_min", "f8"),
    ("night_s", "f8"),
]
"""Name and NumPy type of every column, in file order.

night            number of the night; night k of a seed is the same night in every run
group_size       animals in the sounder
arrived          animals that come before the trap check, whatever became of the trap by then
released         a gate was let go and closed
release_s        seconds from set to release; nan if nothing pulled the latch. Finite with
                 released False: the latch was pulled and no gate closed (a failed release)
inside_at_release  within the fence when the first gate moved
caught           inside at the trap check, with every way shut
escaped_before   inside at some time, but not at the release, and not held: gone before it, or in
                 an opening as the gate moved, or in a trap of which no gate ever moved
escaped_during   inside at the release, and not held: out before every way was shut, or by one that
                 stayed open, or inside still while one is open
escaped_after    got out of a trap that held it
never_entered    never inside
educated         animals that met the closing gate and are free
struck           animals hit by the gate
strike_energy_j  largest energy of a strike, joule
whole_group      every animal of the sounder was caught
operator_min     minutes a person spent on the link
night_s          seconds from set to the end of the night
"""

_NAMES = [name for name, _ in COLUMNS]
WORLD = "world"
"""The column of a file by which nights of several worlds are told apart."""
_WRITE_BLOCK = 65_536  # rows turned into text at a time, to bound memory


class Outcomes(Mapping[str, np.ndarray]):
    """Columns of equal length n, one row a night; ``outcomes["caught"]`` is int64[n].

    Build with :meth:`empty`, :meth:`from_columns`, :meth:`concatenate` or :meth:`read_csv`.
    ``len(outcomes)`` is the number of nights; iteration and ``in`` go over column names.
    """

    def __init__(self, columns: dict[str, np.ndarray]) -> None:
        self._columns = columns

    @classmethod
    def empty(cls, n: int) -> Self:
        """n nights of zeros, nan for floats and False for flags, to be filled in place."""
        if n < 0:
            raise ValueError(f"number of nights is {n}; it must be 0 or more")
        fill = {"i8": 0, "f8": np.nan, "?": False}
        return cls({name: np.full(n, fill[kind], dtype=kind) for name, kind in COLUMNS})

    @classmethod
    def from_columns(cls, columns: Mapping[str, Any]) -> Self:
        """Take columns by name; all of :data:`COLUMNS` and no others, of one length.

        Raises ValueError if a column is missing, unknown, of another length, or holds values that
        its type cannot keep exactly.
        """
        missing = [name for name in _NAMES if name not in columns]
        unknown = sorted(name for name in columns if name not in _NAMES)
        if missing or unknown:
            raise ValueError(f"outcome columns missing: {missing}; unknown: {unknown}")
        taken = {name: _typed(name, kind, columns[name]) for name, kind in COLUMNS}
        lengths = {name: len(values) for name, values in taken.items()}
        if len(set(lengths.values())) > 1:
            raise ValueError(f"outcome columns differ in length: {lengths}")
        return cls(taken)

    @classmethod
    def concatenate(cls, parts: Iterable[Outcomes]) -> Self:
        """One after the other, in the order given; no parts give zero nights."""
        whole = list(parts)
        if not whole:
            return cls.empty(0)
        return cls({name: np.concatenate([part[name] for part in whole]) for name in _NAMES})

    def __getitem__(self, name: str) -> np.ndarray:
        return self._columns[name]

    def __iter__(self) -> Iterator[str]:
        return iter(_NAMES)

    def __len__(self) -> int:
        return len(self._columns["night"])

    def __eq__(self, other: object) -> bool:
        """The same nights, bit by bit (nan equals nan)."""
        if not isinstance(other, Outcomes):
            return NotImplemented
        return all(self[name].tobytes() == other[name].tobytes() for name in _NAMES)

    __hash__ = None  # type: ignore[assignment]  # the arrays inside can be filled in place

    def __repr__(self) -> str:
        return f"Outcomes({len(self)} nights)"

    @property
    def failed_release(self) -> np.ndarray:
        """bool[n]: the latch was pulled and no gate closed."""
        return ~self["released"] & np.isfinite(self["release_s"])

    def rows(self, start: int, stop: int) -> Outcomes:
        """Nights start..stop-1 by position, as views."""
        return Outcomes({name: values[start:stop] for name, values in self._columns.items()})

    def frame(self) -> pd.DataFrame:
        """The columns as a pandas table."""
        import pandas as pd

        return pd.DataFrame(self._columns, columns=_NAMES)

    def write_csv(self, path: str | os.PathLike[str]) -> None:
        """Write gzip-compressed CSV, as `write_nights` does."""
        write_nights(path, [self])

    @classmethod
    def read_csv(cls, path: str | os.PathLike[str]) -> Self:
        """Read what :func:`write_nights` wrote; ValueError naming the file if it is not that.

        Of a file with nights of several worlds, those of world 0: every unknown as it is assumed.
        """
        import pandas as pd

        try:
            text = pd.read_csv(path, compression="gzip", dtype=str)
        except (OSError, EOFError, UnicodeDecodeError, pd.errors.ParserError) as error:
            if isinstance(error, FileNotFoundError):
                raise
            raise ValueError(f"{path}: not a gzip-compressed table of nights ({error})") from error
        if list(text.columns) == [*_NAMES, WORLD]:
            text = text[text.pop(WORLD) == "0"]
        if list(text.columns) != _NAMES:
            raise ValueError(f"{path}: columns are {list(text.columns)}; wanted {_NAMES}")
        try:
            return cls({name: _parsed(text[name], kind) for name, kind in COLUMNS})
        except ValueError as error:
            raise ValueError(f"{path}: {error}") from error


def write_nights(
    path: str | os.PathLike[str],
    parts: Iterable[Outcomes],
    worlds: Mapping[int, Outcomes] | None = None,
) -> None:
    """Write nights as gzip-compressed CSV; the same nights in any parts give the same bytes.

    Floats as the shortest text that reads back to the same number, nan as an empty field, flags as
    0 or 1. With ``worlds``, which may be empty, a last column `world` says whose night it is: 0 for
    ``parts``, then those of each world by its number. The file appears whole or not at all. Only a
    part is held in memory at a time.
    """
    with (
        writing(path) as raw,
        gzip.GzipFile(filename="", mode="wb", compresslevel=6, fileobj=raw, mtime=0) as out,
    ):
        out.write((",".join(_NAMES if worlds is None else [*_NAMES, WORLD]) + "\n").encode())
        for block in _blocks(parts):
            out.write(_text_of(block, None if worlds is None else 0).encode())
        for number, nights in (worlds or {}).items():
            out.write(_text_of(nights, number).encode())


def _blocks(parts: Iterable[Outcomes]) -> Iterator[Outcomes]:
    """The same rows in blocks of one length: the compressor must not see where parts end."""
    held = Outcomes.empty(0)
    for part in parts:
        held = Outcomes.concatenate([held, part]) if len(held) else part
        whole = len(held) - len(held) % _WRITE_BLOCK
        for start in range(0, whole, _WRITE_BLOCK):
            yield held.rows(start, start + _WRITE_BLOCK)
        held = held.rows(whole, len(held))
    if len(held):
        yield held


def _typed(name: str, kind: str, values: Any) -> np.ndarray:
    given = np.asarray(values)
    if given.ndim != 1:
        raise ValueError(f"outcome column {name} has shape {given.shape}; wanted one dimension")
    with np.errstate(invalid="ignore"):
        kept = np.ascontiguousarray(given, dtype=kind)
    if kind != "f8" and not np.array_equal(kept, given):
        raise ValueError(f"outcome column {name} holds values that {kept.dtype} cannot keep")
    return kept


def _text_of(block: Outcomes, world: int | None) -> str:
    fields: list[list[str]] = []
    for name, kind in COLUMNS:
        values = block[name]
        if kind == "f8":
            fields.append(["" if v != v else repr(v) for v in values.tolist()])
        else:
            fields.append([str(v) for v in values.astype("i8").tolist()])
    if world is not None:
        fields.append([str(world)] * len(block))
    return "".join(",".join(row) + "\n" for row in zip(*fields, strict=True))


def _parsed(column: pd.Series, kind: str) -> np.ndarray:
    if kind == "f8":
        # Python's float() is the inverse of repr; pandas' fast parser may be off by one ulp
        return np.array([np.nan if v != v else float(v) for v in column], dtype="f8")
    numbers = np.array([_whole(column.name, v) for v in column], dtype="i8")
    if kind == "?":
        if not np.isin(numbers, (0, 1)).all():
            raise ValueError(f"column {column.name} holds something other than 0 and 1")
        return numbers.astype("?")
    return numbers


def _whole(name: Any, text: Any) -> int:
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"column {name} holds {text!r}; wanted a whole number") from None
