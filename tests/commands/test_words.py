"""The headline of a run: honest for few, many, one, and none."""

from __future__ import annotations

import numpy as np
import pytest

from shared.results import from_outcomes
from soundergate.engine.outcomes import Outcomes
from soundergate.report.words.answers import run_told


def headline(caught: list[int], group: int | list[int]) -> str:
    nights = Outcomes.empty(len(caught))
    nights["night"][:] = np.arange(len(caught))
    nights["group_size"][:] = group
    nights["caught"][:] = caught
    return run_told(from_outcomes(nights))[0]


@pytest.mark.parametrize(
    ("caught", "group", "words"),
    [
        ([8, 8, 8, 9] * 100, 11, "About 8 of 11 pigs caught on an average night (95 % sure: 8.21"),
        ([1, 2] * 200, 11, "About 1.5 of 11 pigs"),
        ([0] * 399 + [1], 11, "Hardly any of 11 pigs caught"),
        ([1, 1, 1, 0] * 100, 1, "The one pig is caught on about 75 nights in 100 (95 % sure: 0.71"),
        ([3, 4] * 200, [5, 9] * 200, "About 4 pigs of 5 to 9 caught on an average night (95 %"),
        ([5], 11, "About 5 of 11 pigs caught on an average night (too few nights to say how"),
    ],
)
def test_headline(caught: list[int], group: int | list[int], words: str) -> None:
    assert headline(caught, group).startswith(words)
