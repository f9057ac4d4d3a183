"""The one error for a study that cannot be run as asked."""

from __future__ import annotations

from soundergate.scenario.errors import ScenarioError


class StudyError(ScenarioError, ValueError):
    """A wrong number of nights, seed, level, measure, arm or study file, in one sentence.

    A ScenarioError with the same fields, so that whoever reports bad input needs to know only one
    kind; a ValueError too, for those who call from Python.
    """
