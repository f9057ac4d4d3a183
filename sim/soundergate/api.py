"""Two of the public functions, which take a path as well as a `Scenario`; what `check` gives."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from numbers import Integral
from typing import TYPE_CHECKING, Any

from soundergate.mechanics.advice.check import CheckReport
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.players import Decide, as_scenario, check_rule
from soundergate.studies.seeds import LARGEST, check_seed

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.scenario.loading import Given
    from soundergate.scenario.schema import Scenario


@dataclass(frozen=True)
class CheckResult(CheckReport):
    """What `check` found, with the scenario it is about, to be shown, drawn and asked.

    Fields are those of :class:`soundergate.mechanics.advice.check.CheckReport`.
    """

    scenario: Scenario = field(repr=False, compare=False)

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


def check(scenario: Given, units: str | None = None) -> CheckResult:
    """What the steel does: whether the latch holds and releases, how the gate closes.

    Parameters
    ----------
    scenario : path, dict or Scenario
        As for `load`.
    units : str, optional
        Of the texts in the report: "US" (ft, lbf, psi) or "SI"; None takes those that the file is
        written in. The numbers behind them, ``report.setup``, are SI.

    Returns
    -------
    CheckResult
        Verdict, margins, cautions.

    Raises
    ------
    ScenarioError
        For a scenario that cannot be read or built, and for other ``units``.

    Example
    -------
    >>> import soundergate
    >>> soundergate.check("trap.toml").ok
    True
    """
    from soundergate.mechanics.advice.check import check as solved

    settled = as_scenario(scenario)
    if units is not None and not (isinstance(units, str) and units in ("US", "SI")):
        raise StudyError("no such units", key="units", value=units, hint='wanted "US" or "SI"')
    report = solved(settled, units)
    found = {one.name: getattr(report, one.name) for one in fields(report)}
    return CheckResult(**found, scenario=settled)


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
