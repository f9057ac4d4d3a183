"""A double as the 64 bits that it is stored in, and back: what NumPy's `view` is to an array."""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import Any, cast

from numba.core import types
from numba.extending import intrinsic, overload


def bits_of(x: float) -> int:
    """The stored bits of ``x`` as a whole number with a sign."""
    return cast(int, struct.unpack("<q", struct.pack("<d", x))[0])


def double_of(bits: int) -> float:
    """The double that is stored in these bits."""
    return cast(float, struct.unpack("<d", struct.pack("<q", bits))[0])


def _cast(given: Any, made: Any) -> Any:
    """A function for compiled code that reads the bits of one type as another."""

    def to(_: Any, x: Any) -> tuple[Any, Callable[..., Any]]:
        def generate(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
            return builder.bitcast(values[0], context.get_value_type(made))

        return made(given), generate

    return intrinsic(to)


_to_bits = _cast(types.float64, types.int64)
_to_double = _cast(types.int64, types.float64)


@overload(bits_of, strict=False)
def _bits_of(x: Any) -> Callable[..., Any]:
    return lambda x: _to_bits(x)


@overload(double_of, strict=False)
def _double_of(bits: Any) -> Callable[..., Any]:
    return lambda bits: _to_double(bits)
