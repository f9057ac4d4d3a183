"""Which seeds there are: a whole number, or None for a fresh one that is then reported."""

from __future__ import annotations

import secrets
from numbers import Integral

from soundergate.studies.errors import StudyError

LARGEST = 2**63 - 1  # the engines keep a seed as int64
_FRESH_BITS = 48  # any reader of JSON keeps a whole number of this size exactly


def check_seed(seed: int | None) -> int:
    """The seed to use; 0 is a seed like any other. Raises StudyError for anything else."""
    if seed is None:
        return secrets.randbits(_FRESH_BITS)
    if isinstance(seed, bool) or not isinstance(seed, Integral):
        raise StudyError(
            f"seed is {seed!r}; wanted a whole number from 0 to {LARGEST}, or None for a fresh one"
        )
    if not 0 <= int(seed) <= LARGEST:
        raise StudyError(f"seed is {int(seed)}; it must lie between 0 and {LARGEST}")
    return int(seed)
