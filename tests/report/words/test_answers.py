"""What is said of releases: of one that came, of one that failed, and of none."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.report.words import answers
from soundergate.scenario import examples
from soundergate.scenario.loading import loads
from soundergate.studies.arms import Arm
from soundergate.studies.compare import compare_players
from soundergate.studies.estimates.intervals import wilson
from soundergate.studies.estimates.tally import Estimate


class Result(SimpleNamespace):
    """So many of 100 nights with a gate that closes, and with a pull that fails."""

    def __getitem__(self, name: str) -> Estimate:
        count = getattr(self, name)
        low, high, level = wilson(count, 100, 0.95)
        return Estimate(name, count / 100, low, high, level, "of nights", 100)


NONE = "Nothing was released on any of the 100 nights."


@pytest.mark.parametrize(("released", "failed"), [(0, 0), (40, 0), (0, 40), (40, 10)])
def test_what_was_pulled_and_what_closed(released: int, failed: int) -> None:
    scenario = loads(examples.text(next(iter(examples.names()))))
    result: Any = Result(
        scenario=scenario, nights=100, released=released, failed_release=failed, escaped=0
    )
    said = answers._escapes(result)
    assert (said == [NONE]) is (released == failed == 0)
    assert any("A gate closes on" in line for line in said) is (released + failed > 0)
    assert any("no gate closes on" in line for line in said) is (failed > 0)


def nights_of(caught: np.ndarray) -> Outcomes:
    """Nights of a group of 11 of which this many are caught."""
    outcomes = Outcomes.empty(len(caught))
    outcomes["night"][:] = np.arange(len(caught))
    outcomes["group_size"][:] = outcomes["arrived"][:] = 11
    outcomes["caught"][:] = caught
    outcomes["never_entered"][:] = 11 - outcomes["caught"]
    return outcomes


def test_what_rests_on_few_nights_is_not_called_settled() -> None:
    """The first sentence and those on differences say the same."""
    caught = np.full(400, 5)
    caught[:30] = 9
    played = {"wide": nights_of(caught), "narrow": nights_of(np.full(400, 5))}
    scenario = loads(examples.text("line"))
    players: list[Any] = [
        (Arm(name, scenario, {}), lambda seed, first, count, n=n: n.rows(first, first + count))
        for name, n in played.items()
    ]
    first, *others = answers.comparison_answer(compare_players(players, nights=400))
    assert "these nights do not settle" in first
    assert "wide has" in others[0]
    assert "Too few nights to tell" in others[0]
