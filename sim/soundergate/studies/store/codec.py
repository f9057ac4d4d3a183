"""Sums as text and nights as bytes, exactly: what is read back equals what was written.

Exact sums are ratios of whole numbers, which JSON would round; they are written as text. Nights are
compressed column by column, whole numbers in as few bytes as they need.
"""

from __future__ import annotations

import dataclasses
import json
import zlib
from fractions import Fraction
from typing import Any

import numpy as np

from soundergate.engine.outcomes import COLUMNS, Outcomes
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.tally import Tally

_KINDS: dict[str, type] = {kind.__name__: kind for kind in (Tally, PairTally, Moments)}
_FRACTION = "ratio"
_SMALL = ("u1", "i1", "u2", "i2", "i4", "i8")
_QUICK = 1  # zlib level: the rest of the bytes are digits of times, which nothing compresses


def to_text(sums: Tally | PairTally) -> str:
    """A tally as one line of JSON."""
    return json.dumps(_plain(sums), separators=(",", ":"))


def from_text(text: str) -> Tally | PairTally:
    """What `to_text` wrote. Raises ValueError if it did not write this."""
    try:
        read = _rebuilt(json.loads(text))
    except (KeyError, TypeError, AttributeError, ZeroDivisionError) as error:
        raise ValueError(f"not a tally: {error}") from None
    if not isinstance(read, Tally | PairTally):
        raise ValueError(f"not a tally: {text[:60]}")
    return read


def to_bytes(outcomes: Outcomes) -> bytes:
    """Nights, compressed."""
    head: list[tuple[str, int]] = []
    body: list[bytes] = []
    for name, kind in COLUMNS:
        values = _narrow(outcomes[name]) if kind == "i8" else outcomes[name]
        body.append(zlib.compress(values.tobytes(), _QUICK))
        head.append((values.dtype.str, len(body[-1])))
    lead = json.dumps({"nights": len(outcomes), "columns": head}).encode()
    return len(lead).to_bytes(4, "little") + lead + b"".join(body)


def from_bytes(data: bytes) -> Outcomes:
    """What `to_bytes` wrote. Raises ValueError if it did not write this, or it is damaged."""
    try:
        end = 4 + int.from_bytes(data[:4], "little")
        head = json.loads(data[4:end])
        columns = {}
        for (name, kind), (stored, size) in zip(COLUMNS, head["columns"], strict=True):
            raw = zlib.decompress(data[end : end + size])
            columns[name] = np.frombuffer(raw, np.dtype(stored)).astype(kind)
            end += size
        outcomes = Outcomes.from_columns(columns)
        if len(outcomes) != head["nights"]:
            raise ValueError(f"{len(outcomes)} nights in place of {head['nights']}")
    except (ValueError, KeyError, TypeError, zlib.error) as error:
        raise ValueError(f"not nights: {error}") from None
    return outcomes


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        fields = {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return {"kind": type(value).__name__, **fields}
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Fraction):
        return {_FRACTION: f"{value.numerator:x}/{value.denominator:x}"}
    if isinstance(value, float):
        return value.hex()
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise TypeError(f"a tally holds {value!r}, which is not written")


def _rebuilt(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(_rebuilt(item) for item in value)
    if isinstance(value, str):
        return float.fromhex(value)
    if not isinstance(value, dict):
        return value
    if _FRACTION in value:
        numerator, denominator = value[_FRACTION].split("/")
        return Fraction(int(numerator, 16), int(denominator, 16))
    items = {name: _rebuilt(item) for name, item in value.items() if name != "kind"}
    return _KINDS[value["kind"]](**items) if "kind" in value else items


def _narrow(values: np.ndarray) -> np.ndarray:
    """Whole numbers in the smallest type that holds them all."""
    if len(values) == 0:
        return values.astype("u1")
    low, high = int(values.min()), int(values.max())
    for kind in _SMALL:
        limits = np.iinfo(kind)
        if limits.min <= low and high <= limits.max:
            return values.astype(kind)
    return values
