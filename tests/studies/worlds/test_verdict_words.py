"""Verdicts said aloud: never "in 0 %", never more than so many worlds can show."""

from __future__ import annotations

import re

import numpy as np
import pytest

from soundergate.studies.worlds.sentences import tally_sentence, verdict_sentence
from soundergate.studies.worlds.verdicts import AHEAD, NO_MATTER, Verdict, fewest_worlds, verdict


def of(gains: np.ndarray, measure: str = "fraction_caught", pairs: int = 1) -> Verdict:
    return verdict("near", "far", measure, gains, pairs=pairs)


UP, FLAT = np.full(200, 0.3), np.zeros(200)
MIXED = np.where(np.arange(200) < 120, 0.3, -0.3)


@pytest.mark.parametrize("gains", [UP, -UP, FLAT, MIXED, np.full(20, 0.3), np.full(20, -0.3)])
@pytest.mark.parametrize("measure", ["fraction_caught", "whole_group"])
def test_none_and_all_are_said_in_words(gains: np.ndarray, measure: str) -> None:
    said = verdict_sentence(of(gains, measure))
    assert not re.search(r"\b(0|100) %", said)
    assert "nan" not in said
    if measure != "fraction_caught":
        assert "catches" not in said


def test_worlds_that_can_show_nothing_are_told() -> None:
    """0.9^n below the level of each pair: 29 for one pair at 95 %, 46 for six."""
    assert fewest_worlds(0.95) == 29
    assert of(np.full(28, 0.3)).verdict != AHEAD == of(np.full(29, 0.3)).verdict
    few = of(np.full(40, 0.3), pairs=6)
    assert few.fewest_worlds == 46
    assert "play 46 or more" in verdict_sentence(few)
    assert of(np.full(45, 0.3), pairs=6).verdict != AHEAD
    assert of(np.full(46, 0.3), pairs=6).verdict == AHEAD
    assert "or more" not in verdict_sentence(of(MIXED))


def test_one_that_is_hardly_ahead_is_said_to_be_hardly_ahead() -> None:
    """Better by 0.3 points on average, by more than the negligible in a tenth of worlds."""
    little = of(np.where(np.arange(200) < 30, 0.03, -0.002))
    assert (little.verdict, little.ahead) == (AHEAD, "near")
    assert round(little.mean, 4) == 0.0028
    told = verdict_sentence(little)
    assert told.startswith("“near” is ahead of “far”: 0.3 points more on average")
    assert told.endswith("So little hardly matters: on average it is less than 2 points.")
    assert "hardly" not in verdict_sentence(of(UP))
    turned = of(-np.where(np.arange(200) < 30, 0.03, -0.002))
    assert "“far” is ahead of “near”: 0.3 points" in verdict_sentence(turned)
    assert "hardly matters" in verdict_sentence(turned)


def test_many_pairs_are_counted_first() -> None:
    ahead, alike, depends = of(UP), of(FLAT), of(MIXED)
    assert (ahead.verdict, alike.verdict) == (AHEAD, NO_MATTER)
    assert tally_sentence([ahead, ahead, alike, depends]) == (
        "Of 4 pairs of setups in 2 one is ahead, in 1 it is no matter which and in 1 it depends."
    )
    few = [of(np.full(100, 0.3), pairs=4950)] * 4950
    assert tally_sentence(few) == (
        "Of all 4950 pairs of setups it is left open. So few worlds cannot show more of so many "
        "pairs: play 110 or more."
    )
    assert tally_sentence([ahead] * 5) == "Of all 5 pairs of setups one is ahead."
