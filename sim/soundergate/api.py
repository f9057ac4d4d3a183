"""Two of the public functions, which take a path as well as a `Scenario`."""

from __future__ import annotations

import os
from numbers import Integral
from typing import TYPE_CHECKING

from soundergate.study.errors import StudyError
from soundergate.study.players import as_scenario
from soundergate.study.seeds import LARGEST, check_seed

if TYPE_CHECKING:
    from soundergate.engine.trace import Trace
    from soundergate.mechanics.check import CheckReport
    from soundergate.scenario.schema import Scenario


def check(scenario: Scenario | str | os.PathLike[str], units: str | None = None) -> CheckReport:
    """What the steel does: whether the latch holds and releases, how the gate closes.

    ``units`` of the texts in the report: "US" (ft, lbf, psi) or "SI"; None takes those that the
    file is written in. The numbers behind them, ``report.setup``, are SI.

    Raises
    ------
    ScenarioError
        For a scenario that cannot be read or built.
    ValueError
        For other ``units``.
    """
    from soundergate.mechanics.check import check as solved

    return solved(as_scenario(scenario), units)


def night(scenario: Scenario | str | os.PathLike[str], number: int = 0, seed: int = 1) -> Trace:
    """Night ``number`` of the run with this seed, event by event.

    Times in the trace are s since the trap was set, lengths m, masses kg. ``trace.row`` is the very
    row ``number`` of a run with the same seed.

    Raises
    ------
    StudyError
        For a number or a seed that is not a whole number from 0.
    ScenarioError
        For a scenario that cannot be read or played.
    """
    from soundergate.engine.replay import trace_night

    whole = isinstance(number, Integral) and not isinstance(number, bool)
    if not whole or not 0 <= number <= LARGEST:
        raise StudyError(f"number is {number!r}; a night's number is whole, from 0 to {LARGEST}")
    return trace_night(as_scenario(scenario), check_seed(seed), int(number))
