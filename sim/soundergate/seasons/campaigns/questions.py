"""What campaigns say: one figure a question, each with its interval; the campaign is the unit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from soundergate.seasons.campaigns.outcomes import Campaigns
from soundergate.studies.estimates.intervals import Bounds, Interval, mean_t, wilson
from soundergate.studies.estimates.tally import Estimate


@dataclass(frozen=True)
class Question:
    """One question to a campaign, answered by one number.

    ``share`` says that the answer lies between 0 and 1, ``yes_no`` that it is 0 or 1.
    """

    name: str
    words: str
    unit: str
    answer: Callable[[Campaigns], np.ndarray]
    share: bool = False
    yes_no: bool = False

    def estimate(self, campaigns: Campaigns, level: float) -> Estimate:
        """Mean over campaigns: Wilson's interval for yes or no, Student's t otherwise."""
        values = np.asarray(self.answer(campaigns), float)
        mean = float(values.mean())
        low, high, _ = self._interval(values, level)
        return Estimate(self.name, mean, low, high, level, self.unit, len(values))

    def _interval(self, values: np.ndarray, level: float) -> Interval:
        if self.yes_no:
            return wilson(int(values.sum()), len(values), level)
        bounds: Bounds = (0.0, 1.0 if self.share else math.inf)  # nothing asked is below 0
        return mean_t(values, level, bounds)


QUESTIONS = {
    question.name: question
    for question in (
        Question(
            "fraction_caught", "share of the group caught", "of the group",
            lambda c: c.caught / c.group_size, share=True,
        ),
        Question(
            "whole_group", "whole group caught", "of campaigns",
            lambda c: c.whole_group, yes_no=True,
        ),
        Question("caught", "pigs caught", "pigs a campaign", lambda c: c.caught),
        Question("left", "pigs left", "pigs a campaign", lambda c: c.left),
        Question(
            "wary", "of these, pigs that will not enter again", "pigs a campaign", lambda c: c.wary
        ),
        Question(
            "moved_away", "group stopped visiting", "of campaigns",
            lambda c: c.moved_away, yes_no=True,
        ),
        Question(
            "gave_up", "trap given up with pigs left", "of campaigns",
            lambda c: c.gave_up, yes_no=True,
        ),
        Question(
            "failed_closures", "failed closures that pigs saw and got away from", "a campaign",
            lambda c: c.failed_closures,
        ),
        Question("struck", "pigs struck by a gate", "pigs a campaign", lambda c: c.struck),
        Question("nights", "nights from first bait to last check", "nights", lambda c: c.nights),
        Question("set_nights", "nights set", "nights", lambda c: c.set_nights),
        Question(
            "idle_nights", "of these, nights after the last catch", "nights",
            lambda c: c.idle_nights,
        ),
        Question(
            "visits", "visits with bait and to the set trap", "visits a campaign",
            lambda c: c.visits,
        ),
        Question(
            "watched_hours", "hours watched", "h a campaign", lambda c: c.watched_min / 60.0
        ),
    )
}  # fmt: skip
"""Every question by name, in the order in which a table shows them."""
