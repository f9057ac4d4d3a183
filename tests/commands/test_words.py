"""The headline of a run: honest for few, many, one, and none."""

from __future__ import annotations

import numpy as np
import pytest

from shared.results import from_outcomes
from soundergate.engine.outcomes import Outcomes
from soundergate.report.words.answers import run_answer, run_told
from soundergate.report.words.world_answers import worlds_answer
from soundergate.scenario.loading import from_table
from soundergate.studies.estimate import run
from soundergate.studies.worlds.one_setup import over_worlds


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
        ([0] * 400, 11, "None of 11 pigs caught on an average night (95 % sure: 0.0 to 0.1)"),
        ([0] * 99_999, 11, "None of 11 pigs caught on an average night (95 % sure: 0.0000 to 0."),
        ([0] * 400, [5, 9] * 200, "No pigs of 5 to 9 caught on an average night (95 % sure: 0"),
        ([1, 1, 1, 0] * 100, 1, "The one pig is caught on about 75 nights in 100 (95 % sure: 0.71"),
        ([3, 4] * 200, [5, 9] * 200, "About 4 pigs of 5 to 9 caught on an average night (95 %"),
        ([5], 11, "About 5 of 11 pigs caught on an average night (too few nights to say how"),
    ],
)
def test_headline(caught: list[int], group: int | list[int], words: str) -> None:
    assert headline(caught, group).startswith(words)


def test_the_surest_range_is_never_from_nothing_to_nothing() -> None:
    """Of a million nights one pig: the range has as many digits as it takes."""
    assert "sure: 0.00 to 0.00)" not in headline([0] * 99_999 + [1], 11)


def test_a_run_says_first_that_its_count_cannot_be_reached() -> None:
    table = {
        "sounder": {"sows": 2},
        "opening": [{"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop", "mass": "20 kg"}}],
    }
    for count, there in ((2, False), (3, True)):
        counted = from_table(table | {"trigger": {"kind": "counter", "count": count}})
        result = run(counted, nights=20, engine="reference", workers=1)
        over = over_worlds(counted, 20, 10, engine="reference", workers=1)
        behind = [*worlds_answer(over, counted, 2), *run_told(result, over_worlds=True)]
        for told in (run_answer(result), run_told(result), behind):
            lines = [line for line in told if line.startswith("The trigger waits for 3 animals")]
            assert lines == told[:1] * there
            assert sum("on average" in line or "average night" in line for line in told) >= 1
