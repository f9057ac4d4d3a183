"""Cases of a test that say much the same: a few of them in the first tier, all in both together."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def few_first(cases: Iterable[Any], every: int = 2) -> list[Any]:
    """Parameters of a test, one each: the first of every so many is quick, the others are slow."""
    return [
        pytest.param(case, marks=[pytest.mark.slow] * bool(number % every))
        for number, case in enumerate(cases)
    ]
