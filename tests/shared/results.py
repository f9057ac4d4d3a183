"""A result of nights made by hand."""

from __future__ import annotations

from soundergate.engine.outcomes import Outcomes
from soundergate.scenario.schema import Scenario
from soundergate.studies.estimate import RunResult
from soundergate.studies.estimates.tally import Tally


def from_outcomes(
    outcomes: Outcomes, seed: int = 1, level: float = 0.95, scenario: Scenario | None = None
) -> RunResult:
    """What a run that has played these nights would return."""
    tally = Tally.of(outcomes)
    return RunResult(
        nights=tally.nights,
        seed=seed,
        group_size=tally.group_size,
        level=level,
        tally=tally,
        outcomes=outcomes,
        scenario=scenario,
    )
