"""How many nights to play: a fixed number, or until intervals are narrow enough.

Sequential rule. Play MINIMUM nights, look, and stop if every named half-width is at its target or
below. Otherwise play on to 1.05 times the number that the present spread calls for, at least a
tenth more and at most twice as many, and look again. The looks depend only on the nights played,
so the number of nights does not depend on workers. Stopping on a lucky narrow interval makes the
coverage fall a little short of its level; with a minimum of 1000 nights and few looks the loss is
well under one per cent (tests/studies/test_coverage.py measures it).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from numbers import Integral, Real

from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.measures import MEASURES

DEFAULT_NIGHTS = 10_000
MINIMUM_NIGHTS = 1_000
MAXIMUM_NIGHTS = 10_000_000
DEFAULT_MEASURE = "fraction_caught"

_ROUND_SECONDS = 2.0  # rounds of a player whose nights come from we know not where
_FIRST_ROUND, _LARGEST_ROUND = 256, 262_144

Targets = dict[str, float]
Progress = Callable[[int, int], None]
"""Called as progress(nights done, nights planned so far)."""


Advance = Callable[[int], None]
"""Called as advance(nights done since the last call)."""


class Counter:
    """Adds up what is done in pieces, for a progress that wants totals."""

    def __init__(self, progress: Progress | None, planned: int) -> None:
        self.progress, self.planned, self.done = progress, planned, 0

    def __call__(self, more: int) -> None:
        self.done += more
        if self.progress is not None:
            self.progress(self.done, self.planned)


@dataclass(frozen=True)
class Ending:
    """How a run ended: ``nights`` played; ``reached`` None if no precision was asked for."""

    nights: int
    interrupted: bool
    reached: bool | None


MOST_NIGHTS = 10**12
"""A month of a thousand cores. What asks for more is a slip of the hand."""


def check_nights(nights: int | None) -> int | None:
    """Raises StudyError unless None or a whole number above 0."""
    if nights is None:
        return None
    if isinstance(nights, bool) or not isinstance(nights, Integral) or int(nights) < 1:
        raise StudyError(f"nights is {nights!r}; wanted a whole number of nights, 1 or more")
    if int(nights) > MOST_NIGHTS:
        raise StudyError(f"nights is {int(nights):.3g}; the most is {MOST_NIGHTS:,}")
    return int(nights)


def check_precision(precision: float | Mapping[str, float] | str | None) -> Targets | None:
    """Half-widths to reach, by measure.

    A bare number is for fraction_caught; a mapping or a text such as "caught=0.1, whole_group=0.01"
    names measures. Raises StudyError for anything else.
    """
    if precision is None:
        return None
    if isinstance(precision, str):
        precision = _from_text(precision)
    if not isinstance(precision, Mapping):
        precision = {DEFAULT_MEASURE: precision}
    for name, width in precision.items():
        if name not in MEASURES:
            raise StudyError(f"precision names {name!r}; it must be one of {', '.join(MEASURES)}")
        if isinstance(width, bool) or not isinstance(width, Real) or not 0 < width < math.inf:
            raise StudyError(
                f"precision of {name} is {width!r}; wanted a number above 0, the half-width "
                "of the interval to reach"
            )
    if not precision:
        raise StudyError("precision names no measure")
    return {name: float(width) for name, width in precision.items()}


def _from_text(text: str) -> Mapping[str, float] | float:
    try:
        if "=" not in text:
            return float(text)
        pairs = (part.split("=", 1) for part in text.split(","))
        return {name.strip(): float(width) for name, width in pairs}
    except ValueError:
        raise StudyError(
            f"precision is {text!r}; wanted a number such as 0.01, or measure=number pairs "
            "such as caught=0.1,whole_group=0.01"
        ) from None


def play_until(
    play: Callable[[int, int], Iterator[int]],
    half_widths: Callable[[], Mapping[str, float]],
    nights: int | None = None,
    targets: Targets | None = None,
    progress: Progress | None = None,
) -> Ending:
    """Work through play(first, count) from night 0 on until enough nights are done.

    ``play`` yields numbers of nights as they are counted in, ``count`` altogether. With both
    ``nights`` and ``targets``, whichever comes first ends the run. On Ctrl-C the nights counted so
    far stand and the ending says interrupted; with none done KeyboardInterrupt goes on.
    """
    most = nights or (MAXIMUM_NIGHTS if targets else DEFAULT_NIGHTS)
    goal = min(MINIMUM_NIGHTS, most) if targets else most
    done, reached = 0, None if targets is None else False
    try:
        while True:
            for count in play(done, goal - done):
                done += count
                if progress is not None:
                    progress(done, goal)
            if done != goal:
                raise RuntimeError(f"{done} nights were played and not {goal}")
            if targets is None:
                break
            widths = half_widths()
            reached = all(widths[name] <= width for name, width in targets.items())
            if reached or done >= most:
                break
            goal = min(next_total(done, widths, targets), most)
    except KeyboardInterrupt:
        if done == 0:
            raise
        return Ending(done, True, reached)
    return Ending(done, False, reached)


class Rounds:
    """Rounds of about two seconds, learnt from how long the last one took."""

    def __init__(self) -> None:
        self.size = _FIRST_ROUND

    def over(self, first: int, count: int) -> Iterator[tuple[int, int]]:
        """(first, count) of each round; the time until the next is asked for is its length."""
        end = first + count
        while first < end:
            length = min(self.size, end - first)
            started = time.perf_counter()
            yield first, length
            self.size = _next_round(length, time.perf_counter() - started)
            first += length


def next_total(done: int, half_widths: Mapping[str, float], targets: Targets) -> int:
    """Nights in all at which to look next."""
    needed = 0.0
    for name, target in targets.items():
        width = half_widths[name]
        if math.isnan(width):
            return 2 * done
        needed = max(needed, done * (width / target) ** 2)
    return min(2 * done, max(math.ceil(1.1 * done), math.ceil(1.05 * needed)))


def _next_round(count: int, seconds: float) -> int:
    """Nights that should take about _ROUND_SECONDS, given how long the last ones took."""
    wanted = int(count / max(seconds, 1e-6) * _ROUND_SECONDS)
    return max(_FIRST_ROUND, min(wanted, 16 * count, _LARGEST_ROUND))
