"""What an answer leans on with every unknown moving at once: `[sensitivity]` of a study file.

The unknowns are those of `robust`, over the same ranges. Each world of the design is played on the
same nights, so that the answer is a smooth function of the unknowns. The answer is a measure of one
arm, or its difference between two.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.scenario.errors import ScenarioError
from soundergate.studies.arms import Arm
from soundergate.studies.cells import csv_text
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import finite
from soundergate.studies.estimates.measures import measure as measure_of
from soundergate.studies.estimates.paired import check_measures
from soundergate.studies.estimates.stopping import Advance, Counter, Progress, check_nights
from soundergate.studies.players import check_engine, plan_of
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds.global_sensitivity import (
    Morris,
    Sobol,
    check_points,
    check_trajectories,
    morris,
    sobol,
)
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.phrases import named
from soundergate.studies.worlds.worlds import in_world, unknowns

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.scenario.schema import Scenario

SAMPLES = {"morris": 20, "sobol": 64}
"""Methods, and how many trajectories or points they take unless others are asked for."""
DEFAULT_NIGHTS = 200
_NAMED = 3
"""Unknowns that the sentence names."""


@dataclass(frozen=True)
class Sensitivity:
    """How a measure of ``arm`` (less that of ``less``, if one is named) follows from the unknowns.

    ``nights`` were played in each of ``found.evaluations`` worlds.
    """

    measure: str
    arm: str
    less: str
    nights: int
    unknowns: list[Input]
    found: Morris | Sobol = field(repr=False)

    @property
    def method(self) -> str:
        """ "morris" or "sobol"."""
        return "morris" if isinstance(self.found, Morris) else "sobol"

    @property
    def table(self) -> pd.DataFrame:
        """One row an unknown: its range and unit, then the columns of `Morris` or `Sobol`."""
        ranges = {one.id: one for one in self.unknowns}
        table = self.found.table
        entries = [ranges[name].entry for name in table.index]
        table.insert(0, "low_end", [entry.low for entry in entries])
        table.insert(1, "high_end", [entry.high for entry in entries])
        table.insert(2, "unit", [ranges[name].range_unit for name in table.index])
        return table

    @property
    def sentence(self) -> str:
        """The unknowns that matter most, and how that was found."""
        words = measure_of(self.measure).words
        of = f"{words} of “{self.arm}”"
        if self.less:
            of = f"the difference in {words} between “{self.arm}” and “{self.less}”"
        lead = (
            f"What moves {of} most, of {len(self.unknowns)} unknowns moved together in "
            f"{self.found.evaluations:,} worlds of {self.nights:,} nights"
        )
        leading = self.found.table.iloc[:_NAMED].to_dict("index")
        if isinstance(self.found, Morris):
            asked = measure_of(self.measure)
            factor, unit = (100, "points") if asked.a_share else (1, asked.unit)
            sizes = {name: factor * one["mu_star"] for name, one in leading.items()}
            told = [f"{named(str(name))}, {size:.2g} {unit}" for name, size in sizes.items()]
            how = "mean size of the change from end to end of its range, by Morris's method"
        else:
            told = [
                f"{named(str(name))}, {100 * one['total']:.0f} % "
                f"({100 * one['first']:.0f} % by itself)"
                for name, one in leading.items()
            ]
            how = "share of the variance in which it has a part, by Sobol's method"
        return f"{lead}: {'; '.join(told)}: {how}."

    def to_table_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """The table as CSV text; written to ``path`` if given."""
        table = self.table.reset_index()
        return csv_text([*table], table.itertuples(index=False), path)

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON, the unknowns in the order of the table; None for nan."""
        rows = self.table.reset_index().to_dict("records")
        return {
            "method": self.method,
            "measure": self.measure,
            "arm": self.arm,
            "less": self.less,
            "nights": self.nights,
            "worlds": self.found.evaluations,
            "unknowns": [{name: finite(value) for name, value in row.items()} for row in rows],
        }


_EDGE = 1e-9
"""How near to 0 and 1 a level comes, where what is plausible has no end."""


def sensitivity(
    arm: Arm,
    less: Arm | None = None,
    method: str = "morris",
    samples: int | None = None,
    nights: int = DEFAULT_NIGHTS,
    seed: int | None = 1,
    engine: str = "batch",
    progress: Progress | None = None,
    *,
    only: Sequence[str] | None = None,
    measure: str = "fraction_caught",
    level: float = 0.95,
) -> Sensitivity:
    """Move every unknown of an arm, or of two, at once.

    Parameters
    ----------
    less : arm whose measure is subtracted from that of ``arm``, on the same nights
    method : "morris", (d + 1) worlds a trajectory for d unknowns, or "sobol", (d + 2) a point
    samples : trajectories or points, as many as `SAMPLES` says if not given
    nights : in each world
    only, measure, level, seed, engine, progress : as in `worlds.robust.robust`

    Raises
    ------
    StudyError
        For a wrong method or number, nothing to move, or a world in which a trap cannot be built.
    """
    count, level = check_design(method, samples), check_level(level)
    check_engine(engine)
    arms = [arm] if less is None else [arm, less]
    what = unknowns([one.scenario for one in arms], only)
    if not what:
        raise StudyError("nothing to move: these setups state every value asked for")
    names = [one.id for one in what]
    worlds = count * (len(what) + (1 if method == "morris" else 2))
    counter = Counter(progress, worlds * nights * len(arms))
    reach = 0.9 if method == "morris" else 1.0  # of which the grid's ends are the register's
    answers = [
        response(one.scenario, what, measure, nights, seed, engine, counter, reach) for one in arms
    ]

    def of(shares: np.ndarray) -> np.ndarray:
        first, *others = (np.asarray(answer(shares)) for answer in answers)
        return first - others[0] if others else first

    try:
        found: Morris | Sobol = (
            morris(of, names, count, seed=seed)
            if method == "morris"
            else sobol(of, names, count, seed, level)
        )
    except StudyError:
        raise
    except ScenarioError as error:
        raise StudyError(
            f"a world of its design cannot be built: {error}",
            hint="name under only what to move, without the unknown that this came from",
        ) from None
    return Sensitivity(measure, arm.name, "" if less is None else less.name, nights, what, found)


def check_design(method: str, samples: int | None) -> int:
    """How many trajectories or points. Raises StudyError for another method or a wrong number."""
    if method not in SAMPLES:
        raise StudyError(f"method is {method!r}; it must be one of {', '.join(SAMPLES)}")
    if samples is None:
        return SAMPLES[method]
    return check_trajectories(samples) if method == "morris" else check_points(samples)


def response(
    scenario: Scenario,
    inputs: Sequence[Input],
    measure: str = "fraction_caught",
    nights: int = 500,
    seed: int | None = 1,
    engine: str = "batch",
    advance: Advance | None = None,
    reach: float = 1.0,
) -> Callable[[Any], Any]:
    """The measure as a function of the inputs, for `morris` and `sobol`.

    The function takes shares of the plausible distributions, float[n, d] in 0 to 1, and gives
    float[n], each over the same ``nights`` nights, so that it is smooth in the inputs and the same
    at every call. It raises ScenarioError, naming the key, where a trap cannot be built.
    ``advance`` is called with the nights of each point. ``reach`` 0.9 leaves the tails beyond the
    register's ranges out: 0 is then a low end and 1 a high one.
    """
    (asked,) = check_measures([measure])
    check_nights(nights)
    settled_seed = check_seed(seed)

    def of(shares: Any) -> Any:
        from soundergate.engine import play

        answers = []
        levels = 0.5 + reach * (np.atleast_2d(np.asarray(shares, dtype=float)) - 0.5)
        for row in np.clip(levels, _EDGE, 1 - _EDGE):
            plan = plan_of(in_world(scenario, inputs, row.tolist()))
            outcomes = play(plan, settled_seed, 0, nights, engine=engine)
            answers.append(asked.mean(outcomes))
            if advance is not None:
                advance(nights)
        return np.array(answers)

    return of
