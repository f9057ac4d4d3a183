"""The one error for a study that cannot be run as asked."""

from __future__ import annotations


class StudyError(ValueError):
    """A wrong number of nights, seed, level, measure, arm or study file, in one sentence."""
