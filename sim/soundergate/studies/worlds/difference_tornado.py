"""What a difference leans on: each uncertain default moved to both ends of its range in both arms.

As `studies.worlds.sensitivity` does for one setup, but asked of two: on common nights, how
far does the difference between them go when a default that either rests on is at one end of its
range, in both alike? A difference that turns round within a range is not settled by any number of
nights at the defaults.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from soundergate.studies.arms import Arm
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates import intervals
from soundergate.studies.estimates.measures import Measure
from soundergate.studies.estimates.measures import measure as measure_of
from soundergate.studies.estimates.paired import Difference, PairTally, check_measures
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import Input, inputs_of
from soundergate.studies.worlds.one_at_a_time import BASE, HIGH, LOW, Bench, Nights, check_counts
from soundergate.studies.worlds.sensitivity import Swing, Tornado


@dataclass(frozen=True)
class DifferenceTornado(Tornado):
    """The defaults that move a difference, ``a`` minus ``b``, most; the largest reach first.

    ``base`` is the difference as it is. The swings say how far it moves; ``ends`` holds by id what
    it then is, at the low and at the high end, None where a trap cannot be built. Those intervals
    hold together at ``level`` as well.
    """

    base: Difference  # type: ignore[assignment]
    a: str = ""
    b: str = ""
    ends: dict[str, tuple[Difference | None, Difference | None]] = field(default_factory=dict)

    def turning(self) -> dict[str, str]:
        """Ids at an end of which the difference is shown to be the other way round -> which end."""
        return self._ends_where(lambda d: d.settled and d.estimate * self.base.estimate < 0)

    def vanishing(self) -> dict[str, str]:
        """Ids at an end of which the same nights no longer show a difference -> which end."""
        return self._ends_where(lambda d: not d.settled)

    def _ends_where(self, holds: Callable[[Difference], bool]) -> dict[str, str]:
        found: dict[str, str] = {}
        for name, ends in self.ends.items():
            named = zip((LOW, HIGH), ends, strict=True)
            there = [end for end, at in named if at is not None and holds(at)]
            if there and self.base.settled:
                found[name] = " and ".join(there)
        return found

    def verdict(self) -> str:
        """Whether the difference turns round, or goes, at the end of any range that was tried."""
        between = f"between “{self.a}” and “{self.b}”"
        if not self.base.settled:
            return (
                f"The {self.nights:,} nights on which this was tried show no difference {between}, "
                "so that nothing can be said to turn it round."
            )
        turned, gone = self.turning(), self.vanishing()
        if turned:
            text = f"The difference {between} turns round with {_told(turned)}"
        else:
            text = (
                f"No single default, at either end of its range, is shown to turn the difference "
                f"{between} round"
            )
        return f"{text}; it is no longer shown with {_told(gone)}." if gone else f"{text}."

    def sentence(self) -> str:
        """How the numbers were made, in a sentence."""
        words = measure_of(self.measure).words
        text = (
            f"Each of {self.considered} uncertain defaults was moved to both ends of its range in "
            f"both setups, one at a time, on {self.screened:,} nights; the {len(self.swings)} that "
            f"moved the difference in {words} most are shown as {self.nights:,} other nights found "
            "them"
        )
        return f"{text} ({100 * self.level:.4g} % confidence, all together)."

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON."""
        ends = {
            name: [None if there is None else there.to_json() for there in both]
            for name, both in self.ends.items()
        }
        found = {"turning": self.turning(), "vanishing": self.vanishing()}
        return super().to_json() | {"a": self.a, "b": self.b, "ends": ends} | found


_MOST_TOLD = 3
"""Defaults that a sentence names, those of the largest reach; more would hide the answer."""


def _told(ends: Mapping[str, str]) -> str:
    named = [
        f"{name} at {'either' if ' and ' in end else f'the {end}'} end"
        for name, end in ends.items()
    ]
    more = len(named) - _MOST_TOLD
    text = ", ".join(named[:_MOST_TOLD])
    return f"{text} and with {more} other{'s' if more > 1 else ''}" if more > 0 else text


def difference_tornado(
    a: Arm,
    b: Arm,
    measure: str = "fraction_caught",
    *,
    nights: int = 2000,
    screen: int = 300,
    top: int = 10,
    seed: int | None = 1,
    level: float = 0.95,
    workers: int | None = None,
    progress: Progress | None = None,
) -> DifferenceTornado:
    """Which uncertain defaults move the difference between two arms most, and how far.

    A default that one arm sets itself is moved in the other alone. Parameters and errors are those
    of :func:`soundergate.studies.worlds.sensitivity.tornado`.
    """
    asked = check_measures([measure])[0]
    check_counts(nights, screen, top)
    settled_seed, level = check_seed(seed), check_level(level)
    bench = _Bench((a, b), asked, settled_seed, workers, progress)
    if not bench.considered:
        raise StudyError("these setups leave nothing to uncertain defaults")
    chosen = bench.inputs
    if screen and len(chosen) > top:
        chosen = bench.screened(screen)[:top]
    first = screen if screen else 0
    base, found = bench.swings(chosen, first, nights, level)
    found.sort(key=lambda one: -one[0].reach)
    return DifferenceTornado(
        measure=asked.name,
        base=base,
        swings=[swing for swing, _ in found],
        nights=nights,
        screened=first,
        considered=bench.considered,
        inert=bench.considered - len(bench.inputs),
        seed=settled_seed,
        level=level,
        unbuilt=bench.unbuilt,
        a=a.name,
        b=b.name,
        ends={swing.id: ends for swing, ends in found},
    )


class _Bench(Bench):
    """The bench with both arms on it."""

    def __init__(
        self,
        arms: tuple[Arm, Arm],
        measure: Measure,
        seed: int,
        workers: int | None,
        progress: Progress | None,
    ) -> None:
        setups = [(arm.scenario, {one.id: one for one in inputs_of(arm.scenario)}) for arm in arms]
        super().__init__(setups, seed, workers, progress)
        self.names, self.measure = (arms[0].name, arms[1].name), measure

    def per_night(self, played: Nights) -> np.ndarray:
        """First minus second."""
        (x, over_x), (y, over_y) = (self.measure.column(nights) for nights in played)
        return np.asarray(x / over_x - y / over_y, dtype=float)

    def swings(
        self, inputs: Sequence[Input], first: int, count: int, level: float
    ) -> tuple[Difference, list[tuple[Swing, tuple[Difference | None, Difference | None]]]]:
        """The difference as it is, and how far each input moves it and to what."""
        of = max(len(inputs), 1)

        def swing(
            one: Input, played: Mapping[str, Nights]
        ) -> tuple[Swing, tuple[Difference | None, Difference | None]]:
            def less(end: str, other: str) -> Difference | None:
                if end not in played or other not in played:
                    return None
                names = (f"{one.id} {end}", f"{one.id} {other}")
                return self._moved(played[end], played[other], names, level, 3 * of)

            def there(end: str) -> Difference | None:
                return self._difference(played[end], level, 2 * of) if end in played else None

            low, high, between = less(LOW, BASE), less(HIGH, BASE), less(HIGH, LOW)
            told = Swing(one, low, high, between, self.unbuilt.get(one.id, ""))
            return told, (there(LOW), there(HIGH))

        base = self.play(self.base, first, count)
        found = self.over(inputs, base, first, count, swing)
        return self._difference(base, level, 1), found

    def _difference(self, both: Nights, level: float, of: int) -> Difference:
        tallies = (Tally.of(both[0]), Tally.of(both[1]))
        pair = PairTally.of(both[0], both[1], [self.measure.name])
        return pair.difference(self.measure.name, self.names, tallies, level, of)

    def _moved(
        self, there: Nights, here: Nights, names: tuple[str, str], level: float, of: int
    ) -> Difference:
        """How far the difference moves from one pair of arms to another, night by night."""
        moves = self.per_night(there) - self.per_night(here)
        each = intervals.bonferroni(level, of)
        sizes = [int(nights["group_size"].max(initial=0)) for nights in (*there, *here)]
        limits = self.measure.bounds(max(sizes))
        widest = 2 * (limits[1] - limits[0])
        bounds = (-widest, widest)
        low, high, _ = intervals.mean_t(moves, each, bounds)
        return Difference(
            *names, self.measure.name, float(moves.mean()), low, high, level, each, math.nan,
            len(moves), self.measure.unit,
        )  # fmt: skip
