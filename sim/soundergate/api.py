"""Public functions that join what several rooms do, and what `check` gives."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from numbers import Integral
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.advice.check import CheckReport
from soundergate.studies.arms import Arm, Setups, Vary, make_arms
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.paired import COMPARED
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.options import checked
from soundergate.studies.players import Decide, as_scenario, check_rule
from soundergate.studies.seeds import LARGEST, check_seed
from soundergate.studies.worlds.robust import DEFAULT_NIGHTS, DEFAULT_WORLDS, asks_worlds

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.sensitivity import Sensitivity
    from soundergate.studies.worlds.steel import SteelOverWorlds


@dataclass(frozen=True)
class CheckResult(CheckReport):
    """What `check` found, with the scenario it is about, to be shown, drawn and asked.

    Fields are those of :class:`soundergate.mechanics.advice.check.CheckReport`; ``worlds`` says how
    sure a release is over plausible worlds, and is None where none were asked for.
    """

    scenario: Scenario = field(repr=False, compare=False)
    worlds: SteelOverWorlds | None = field(repr=False, compare=False, default=None)

    def interval(self, name: str = "margin", level: float = 0.95, opening: int = 0) -> Interval:
        """Where a quantity lies in a share ``level`` of tries, equally often below as above.

        ``name`` is "margin" (pull there over pull needed), "pull_required" or "pull_available" (N,
        at the puller) or "release_delay" (s from the trigger to the gate moving); ``opening``
        counts from 0. This is the scatter from try to try under the friction and the supply that
        the scenario states, not the uncertainty of an estimate: mechanics are computed, not
        sampled, so that a probability of release is one number and has no interval.

        Raises
        ------
        StudyError
            For another name, opening or level, or for a quantity that this opening has not, such as
            the margin of a latch that an animal pulls.
        """
        tail = (1 - check_level(level)) / 2
        number = len(self.setup.openings)
        if opening not in range(number):
            raise StudyError(f"no opening {opening!r}; they are numbered 0 to {number - 1}")
        solved = self.setup.openings[opening]
        if name == "release_delay" and solved.latch_kind != "none":
            delay = solved.release_delay
            return Interval(delay.quantile(tail), delay.quantile(1 - tail), level)
        sigmas = {
            "pull_required": solved.pull_required_sigma,
            "pull_available": solved.pull_available_sigma,
            "margin": math.hypot(solved.pull_required_sigma, solved.pull_available_sigma),
        }
        if name not in (*sigmas, "release_delay"):
            raise StudyError(
                f"{name!r} does not scatter from try to try",
                hint=f"wanted one of {', '.join([*sigmas, 'release_delay'])}",
            )
        median = getattr(solved, name) if name in sigmas else math.nan
        if not (math.isfinite(median) and median > 0):
            latch = f"latch {solved.latch_kind!r}, puller {solved.puller!r}"
            raise StudyError(f"opening {opening} has no {name} ({latch})")
        from statistics import NormalDist

        if name != "margin":
            from soundergate.mechanics.scatter import quantile

            law = solved.required if name == "pull_required" else solved.available
            return Interval(quantile(law, tail), quantile(law, 1 - tail), level)
        factor = math.exp(NormalDist().inv_cdf(1 - tail) * sigmas[name])
        return Interval(median / factor, median * factor, level)

    def plot(self, ax: Any = None) -> Any:
        """Draw what is still clear as each gate closes, and what bodies need; returns the axes."""
        from soundergate.report.pages.subject import closing_of

        return closing_of(self.scenario, self.setup, ax)

    def _repr_html_(self) -> str:
        return str(self.table.to_html())


@checked
def check(
    scenario: Given, units: str | None = None, *, worlds: int = 0, seed: int | None = 1
) -> CheckResult:
    """What the steel does: whether the latch holds and releases, how the gate closes.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`.
    units : str, optional
        Of the texts in the report: "US" (ft, lbf, psi) or "SI"; None takes those that the file is
        written in. The numbers behind them, ``report.setup``, are SI.
    worlds : int
        Plausible worlds, by what nobody knows of friction, rust, supply and the push of animals, in
        which the steel is solved again: 20 or more, or 0 for none.
    seed : int, optional
        Of the worlds; None draws one.

    Returns
    -------
    CheckResult
        Verdict, margins, cautions, and ``worlds``.

    Raises
    ------
    ScenarioError
        For a scenario that cannot be read or built, other ``units``, or a wrong number.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.check("trap.toml", worlds=20)
    >>> found.ok, found.worlds.worlds
    (True, 20)
    """
    from soundergate.mechanics.advice.check import check as solved
    from soundergate.studies.worlds.steel import steel_over_worlds

    settled = as_scenario(scenario)
    if units is not None and not (isinstance(units, str) and units in ("US", "SI")):
        raise StudyError("no such units", key="units", value=units, hint='wanted "US" or "SI"')
    over = steel_over_worlds(settled, worlds, seed) if asks_worlds(worlds) else None
    report = solved(settled, units)
    found = {one.name: getattr(report, one.name) for one in fields(report)}
    return CheckResult(**found, scenario=settled, worlds=over)


@checked
def night(scenario: Given, number: int = 0, seed: int = 1, rule: Decide | None = None) -> Trace:
    """Night ``number`` of the run with this seed, event by event.

    Times in the trace are s since the trap was set, lengths m, masses kg. ``trace.row`` is the very
    row ``number`` of a run with the same seed.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`.
    number : int
        Whole number from 0.
    seed : int
        Of the run, a whole number from 0.
    rule : function of a `Seen`, optional
        A release rule in Python, as for `run`.

    Returns
    -------
    Trace

    Raises
    ------
    StudyError
        For a number or a seed that is not a whole number from 0.
    ScenarioError
        For a scenario that cannot be read or played, or a ``rule`` that fails.

    Example
    -------
    >>> import soundergate
    >>> trace = soundergate.night("trap.toml", number=3)
    >>> trace.row["night"], trace.events[0].kind
    (3, 'arrives')
    """
    from soundergate.engine.trace.one_night import trace_night

    whole = isinstance(number, Integral) and not isinstance(number, bool)
    if not whole or not 0 <= number <= LARGEST:
        raise StudyError(f"number is {number!r}; a night's number is whole, from 0 to {LARGEST}")
    settled, chosen = as_scenario(scenario), check_seed(seed)
    person_rule = None if rule is None else check_rule(rule, settled)
    return trace_night(settled, chosen, int(number), person_rule)


@checked
def worlds(
    scenarios: Setups,
    vary: Vary | None = None,
    worlds: int = DEFAULT_WORLDS,
    nights: int = DEFAULT_NIGHTS,
    seed: int | None = 1,
    engine: str = "batch",
    *,
    only: Sequence[str] | None = None,
    level: float = 0.95,
    measures: Iterable[str] = COMPARED,
    names: Sequence[str] | None = None,
    progress: Progress | None = None,
) -> RobustComparison:
    """Play setups in plausible worlds, each of which draws everything that nobody knows.

    Parameters
    ----------
    scenarios, vary, names : as for `compare`; one setup alone will do
    worlds, nights : int
        How many worlds, 20 or more, and nights in each, 10 or more.
    seed, engine, progress : as for `run`
    only : list of str, optional
        Leading parts of the ids to draw, such as "entry"; all that nobody knows if not given.
    level : float
        Of all intervals of a measure together.
    measures : list of str
        What to compare.

    Returns
    -------
    RobustComparison
        In what share of worlds one setup is ahead, by how much, and what is worth knowing.

    Raises
    ------
    ScenarioError
        For a scenario that cannot be read or built.
    StudyError
        For a wrong number, nothing to draw, or no world that can be played.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.worlds("trap.toml", {"opening.width": ["4 ft", "8 ft"]},
    ...                            worlds=20, nights=10, only=["entry"])
    >>> len(found.arms), len(found.table) > 0
    (2, True)
    """
    from soundergate.studies.worlds.robust import robust

    _check_only(only)
    arms = make_arms(scenarios, vary, names)
    return robust(
        arms, worlds, nights, seed, engine, progress, only=only, level=level, measures=measures
    )


@checked
def sensitivity(
    scenario: Given,
    less: Given | None = None,
    method: str = "morris",
    samples: int | None = None,
    nights: int = DEFAULT_NIGHTS,
    seed: int | None = 1,
    engine: str = "batch",
    *,
    only: Sequence[str] | None = None,
    measure: str = "fraction_caught",
    level: float = 0.95,
    progress: Progress | None = None,
) -> Sensitivity:
    """What an answer leans on with every unknown moving at once.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`.
    less : path, dict or Scenario, optional
        A setup whose measure is taken off, on the same nights.
    method : str
        "morris" ranks unknowns cheaply, in (d + 1) worlds a trajectory for d unknowns; "sobol"
        gives shares of the variance, in (d + 2) worlds a point (Saltelli et al. 2010).
    samples : int, optional
        Trajectories, 20 if not given, or points, 64 if not given and a power of two.
    nights : int
        In each world.
    seed, engine, progress : as for `run`
    only : list of str, optional
        Leading parts of the ids to move; all that nobody knows if not given.
    measure : str
        What the answer is; shares lie from 0 to 1.
    level : float
        Of the intervals.

    Returns
    -------
    Sensitivity

    Raises
    ------
    ScenarioError
        For a scenario that cannot be read or built.
    StudyError
        For a wrong method or number, nothing to move, or a world that cannot be built.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.sensitivity("trap.toml", method="sobol", samples=4, nights=20,
    ...                                 only=["entry.clock", "leaving.clock"])
    >>> found.method, len(found.table)
    ('sobol', 4)
    """
    from soundergate.studies.worlds.sensitivity import sensitivity as found

    _check_only(only)
    arm = Arm("setup", as_scenario(scenario))
    other = None if less is None else Arm("other", as_scenario(less))
    return found(
        arm, other, method, samples, nights, seed, engine, progress,
        only=only, measure=measure, level=level,
    )  # fmt: skip


def _check_only(only: Sequence[str] | None) -> None:
    listed = isinstance(only, list | tuple) and all(isinstance(one, str) for one in only)
    if only is not None and not (listed and only):
        raise StudyError("is no list of ids", key="only", value=only, hint='such as ["entry"]')
