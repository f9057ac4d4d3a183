"""A release rule written in Python: what a person sees at a look -> release, or wait.

Only the reference engine can ask it. It is given plain numbers and nothing of the night, and draws
are looked up by name, so that it cannot disturb them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from soundergate.scenario.errors import ScenarioError, show

HINT = "wanted a function of a soundergate.Seen that returns True to release and False to wait"


@dataclass(frozen=True, slots=True)
class Seen:
    """What a person on a link sees and knows at one look.

    Fields
    ------
    watched : float
        Seconds since this person began watching: `watched_for`.
    counted : int
        Animals counted inside on the screen: with the errors of a count, not the true number.
    group_size : int
        Animals that are about tonight, which the person is taken to know.
    clear : bool
        Whether nobody stands in any opening.
    """

    watched: float
    counted: int
    group_size: int
    clear: bool


def watched_for(began: float, now: float) -> float:
    """Seconds from ``began`` to ``now``, so that a threshold is passed as a table passes it.

    A table asks whether began + after <= now. For every ``after`` of whole microseconds that is the
    same as after <= the seconds given here; the bare difference may fall short of it by a bit.
    """
    seconds = round(now - began, 6)
    return seconds if began + seconds <= now else math.nextafter(seconds, 0.0)


@dataclass(frozen=True)
class PersonRule:
    """A function of what is seen, held to its promise; ``source`` names the scenario's file."""

    decide: Callable[[Seen], bool]
    source: str

    def releases(self, seen: Seen, night: int) -> bool:
        """Whether it says to release. Raises ScenarioError if it fails or says neither."""
        try:
            said = self.decide(seen)
        except Exception as error:
            raise ScenarioError(
                f"the rule failed in night {night} with {type(error).__name__}: "
                f"{' '.join(str(error).split())}; it was shown {seen}",
                file=self.source or None, key="rule", hint=HINT,
            ) from error  # fmt: skip
        if not isinstance(said, bool | np.bool_):
            raise ScenarioError(
                f"the rule returned {show(said)} in night {night}; it was shown {seen}",
                file=self.source or None, key="rule", hint=HINT,
            )  # fmt: skip
        return bool(said)
