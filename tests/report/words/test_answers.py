"""What is said of releases: of one that came, of one that failed, and of none."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from soundergate.report.words import answers
from soundergate.scenario import examples
from soundergate.scenario.loading import loads
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
