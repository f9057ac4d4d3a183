"""What the answer leans on: each uncertain default moved to both ends of its range, one at a time.

Every default of the register has a plausible range. On common nights the setup is played with one
default at its low end, then at its high end, all others as they are; the difference is that
default's swing. First all defaults are screened on few nights; those that moved the answer most
are then played on many nights that the screening did not see, so that having been picked does
not flatter them. One at a time shows no interplay: that is for `global_sensitivity`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.measures import measure as measure_of
from soundergate.studies.estimates.paired import Difference, PairTally, check_measures
from soundergate.studies.estimates.stopping import Progress, check_nights
from soundergate.studies.estimates.tally import Estimate, Tally
from soundergate.studies.players import as_scenario
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.inputs import Input, inputs_of, moved
from soundergate.studies.worlds.one_at_a_time import (
    BASE,
    HIGH,
    LOW,
    Bench,
    Nights,
    check_counts,
    plan_of,
)

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.scenario.schema import Scenario


@dataclass(frozen=True)
class Swing:
    """How far one default moves the measure, on common nights.

    ``low`` and ``high`` are the measure with the default at that end less the measure as it is;
    ``swing`` is high less low. None where the trap cannot be built there, and ``why`` says so.
    """

    input: Input
    low: Difference | None
    high: Difference | None
    swing: Difference | None
    why: str = ""

    @property
    def id(self) -> str:
        """Of the register."""
        return self.input.id

    @property
    def reach(self) -> float:
        """The largest of the three differences, without its sign; 0 if none could be played."""
        found = [d.estimate for d in (self.low, self.high, self.swing) if d is not None]
        return max((abs(value) for value in found), default=0.0)

    @property
    def settled(self) -> bool:
        """Whether any of the differences is shown not to be zero."""
        return any(d.settled for d in (self.low, self.high, self.swing) if d is not None)

    def row(self) -> dict[str, Any]:
        """One row of the table."""
        entry = self.input.entry
        told: dict[str, Any] = {"id": self.id, "value": entry.value, "low": entry.low}
        told |= {"high": entry.high, "unit": f"times {entry.of}" if entry.of else entry.unit}
        told["origin"] = entry.origin
        for name in ("low", "high", "swing"):
            found: Difference | None = getattr(self, name)
            for part in ("estimate", "low", "high"):
                column = name if name == "swing" else f"at_{name}"
                column += "" if part == "estimate" else f"_{part}"
                told[column] = float("nan") if found is None else getattr(found, part)
        return told | {"why": self.why}


@dataclass(frozen=True)
class Tornado:
    """The defaults that move a measure most, the largest reach first.

    ``base`` is the measure as it is, over the same ``nights`` as the swings (nights ``screened``
    to ``screened + nights - 1`` of the seed); the screening took ``screened`` nights before them.
    ``considered`` defaults were screened, of which ``inert`` change nothing that a night reads.
    The intervals of the swings shown hold together at ``level`` (Bonferroni).
    """

    measure: str
    base: Estimate
    swings: list[Swing]
    nights: int
    screened: int
    considered: int
    inert: int
    seed: int
    level: float
    unbuilt: dict[str, str] = field(default_factory=dict)

    def matters(self, count: int = 5) -> list[str]:
        """Register ids of the defaults that move the answer most, only those shown to move it."""
        return [one.id for one in self.swings if one.settled][:count]

    @property
    def table(self) -> pd.DataFrame:
        """One row a default: its value and range, the measure's change at each end, the swing."""
        import pandas as pd

        return pd.DataFrame([one.row() for one in self.swings]).set_index("id")

    def sentence(self) -> str:
        """How the numbers were made, in a sentence."""
        words = measure_of(self.measure).words
        text = (
            f"Each of {self.considered} uncertain defaults was moved to both ends of its range, "
            f"one at a time, on {self.screened:,} nights; the {len(self.swings)} that moved "
            f"{words} most are shown as {self.nights:,} other nights found them"
        )
        return f"{text} ({100 * self.level:.4g} % confidence, all together)."

    def plot(self, ax: Any = None) -> Any:
        """Draw the swings as bars about the answer as it is; returns the axes."""
        from soundergate.report.figures.tornado import tornado as draw

        return draw(self, ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON."""
        swings = []
        for one in self.swings:
            row = one.row()
            swings.append({k: None if v != v else v for k, v in row.items()})
        return {
            "measure": self.measure,
            "base": self.base.to_json(),
            "swings": swings,
            "nights": self.nights,
            "screened": self.screened,
            "considered": self.considered,
            "inert": self.inert,
            "seed": self.seed,
            "level": self.level,
            "unbuilt": self.unbuilt,
        }


def tornado(
    scenario: Scenario | str,
    measure: str = "fraction_caught",
    *,
    nights: int = 2000,
    screen: int = 300,
    top: int = 10,
    seed: int | None = 1,
    level: float = 0.95,
    only: Iterable[str] | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Tornado:
    """Which uncertain defaults move a measure of this setup most, and how far.

    Parameters
    ----------
    scenario : Scenario or path of a scenario file
    measure : any that every night answers
    nights : common nights for the defaults shown
    screen : nights before those on which all defaults are screened; 0 shows all of them
    top : how many to show
    seed, level, workers : as in :func:`soundergate.studies.estimate.run`
    only : ids of the register, or the beginnings of ids, to look at; None takes all
    progress : called with (setups played, setups to play)

    Raises
    ------
    StudyError
        For a wrong number, measure or id, or a scenario that leaves nothing to uncertain defaults.
    ScenarioError
        For a scenario that cannot be read or built.
    """
    asked = check_measures([measure])[0].name
    check_counts(nights, screen, top)
    settled_seed, level = check_seed(seed), check_level(level)
    settled = as_scenario(scenario)
    inputs = inputs_of(settled, only)
    if not inputs:
        raise StudyError("this scenario leaves nothing to uncertain defaults")
    bench = _Bench(settled, inputs, asked, settled_seed, workers, progress)
    chosen = bench.inputs
    if screen and len(chosen) > top:
        chosen = bench.screened(screen)[:top]
    first = screen if screen else 0
    base, swings = bench.swings(chosen, first, nights, level)
    return Tornado(
        measure=asked,
        base=base,
        swings=sorted(swings, key=lambda one: -one.reach),
        nights=nights,
        screened=first,
        considered=bench.considered,
        inert=bench.considered - len(bench.inputs),
        seed=settled_seed,
        level=level,
        unbuilt=bench.unbuilt,
    )


class _Bench(Bench):
    """The bench with one setup on it."""

    def __init__(
        self,
        scenario: Scenario,
        inputs: Sequence[Input],
        measure: str,
        seed: int,
        workers: int | None,
        progress: Progress | None,
    ) -> None:
        super().__init__([(scenario, {one.id: one for one in inputs})], seed, workers, progress)
        self.measure = measure

    def per_night(self, played: Nights) -> np.ndarray:
        """The measure of each night."""
        values, divisor = measure_of(self.measure).column(played[0])
        return np.asarray(values / divisor, dtype=float)

    def swings(
        self, inputs: Sequence[Input], first: int, count: int, level: float
    ) -> tuple[Estimate, list[Swing]]:
        """The measure as it is, and the swings of inputs, on nights ``first`` and after."""

        def swing(one: Input, played: Mapping[str, Nights]) -> Swing:
            return self._swing(one, played, level, len(inputs))

        base = self.play(self.base, first, count)
        found = self.over(inputs, base, first, count, swing)
        return Tally.of(base[0]).estimate(self.measure, level), found

    def _swing(self, one: Input, played: Mapping[str, Nights], level: float, of: int) -> Swing:
        def less(a: str, b: str) -> Difference | None:
            if a not in played or b not in played:
                return None
            nights = played[a][0], played[b][0]
            tallies = (Tally.of(nights[0]), Tally.of(nights[1]))
            pair = PairTally.of(*nights, [self.measure])
            names = (f"{one.id} {a}", f"{one.id} {b}")
            return pair.difference(self.measure, names, tallies, level, of)

        low, high, swing = less(LOW, BASE), less(HIGH, BASE), less(HIGH, LOW)
        return Swing(one, low, high, swing, self.unbuilt.get(one.id, ""))


def response(
    scenario: Scenario,
    inputs: Sequence[Input],
    measure: str = "fraction_caught",
    nights: int = 500,
    seed: int | None = 1,
) -> Callable[[Any], Any]:
    """The measure as a function of the inputs, for `morris` and `sobol`.

    The function takes shares of the plausible distributions, float[n, d] in 0 to 1, and gives
    float[n], each over the same ``nights`` nights, so that it is smooth in the inputs and the same
    at every call. It raises ScenarioError, naming the key, where a trap cannot be built.
    """
    asked = check_measures([measure])[0]
    check_nights(nights)
    settled_seed = check_seed(seed)

    def of(shares: Any) -> Any:
        from soundergate.engine import play

        answers = []
        for row in np.atleast_2d(np.asarray(shares, dtype=float)):
            changed = moved(scenario, dict(zip(inputs, row.tolist(), strict=True)))
            outcomes = play(plan_of(changed), settled_seed, 0, nights)
            answers.append(Tally.of(outcomes).moments[asked.name].mean)
        return np.array(answers)

    return of
