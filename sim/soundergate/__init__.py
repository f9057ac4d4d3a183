"""soundergate: the night of a corral trap, played before the trap is built.

    import soundergate
    result = soundergate.run("trap.toml", precision=0.01)
    print(result.table)

Inside, everything is in SI: m, kg, s, N, Pa, J, rad. Units are for scenario files, where every
quantity carries its own ("8 ft", "25 lbf"), and for `check`, which speaks in the file's units.

A scenario or a study is given as a path, as a dict of the tables that the file would hold, or as
a Scenario; `vary` as text ("opening.width=4 ft,8 ft") or {"opening.width": ["4 ft", "8 ft"]}.

load(scenario)             path or dict -> Scenario; raises ScenarioError
with_values(scenario, {})  the scenario with dotted values changed, written as in a file ("8 ft")
check(scenario)            mechanics alone: verdict, margins (texts with units), cautions
night(scenario, number)    one night of a run as a Trace: times in s since the set, lengths in m
run(scenario)              many nights -> RunResult: shares 0 to 1, counts in animals a night
compare(scenarios, vary)   several setups on the same nights -> Comparison: differences a minus b
rule(scenario)             when a person at the link should release -> ReleaseResult
season(scenarios)          campaigns night after night -> SeasonResult
study(study)               a study file played -> StudyResult
worlds(scenarios, vary)    setups in plausible worlds -> RobustComparison
tornado(scenario)          what an answer leans on, one unknown at a time -> Tornado
sensitivity(scenario)      the same with all moving at once, Morris or Sobol' -> Sensitivity
trial_sizes(comparison)    sounders that a field trial would need to see it -> [TrialSize]
register()                 every default with unit, plausible range, origin and citation
Seen                       what a release rule in Python is shown: times in s, counts in animals
Scenario                   the validated scenario (SI)
ScenarioError              the one error that bad input raises: file, key, value, what would do
StudyError                 a ScenarioError about what was asked and not about a scenario: a number
                           of nights, a seed, a study file; a ValueError too
__version__                of the installed package

Names are looked up when first used, so that `import soundergate` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.api import check, night, sensitivity, worlds
    from soundergate.engine.reference.person_rule import Seen
    from soundergate.scenario.errors import ScenarioError
    from soundergate.scenario.loading import load, with_values
    from soundergate.scenario.register import register
    from soundergate.scenario.schema import Scenario
    from soundergate.seasons.season import season
    from soundergate.studies.compare import compare
    from soundergate.studies.errors import StudyError
    from soundergate.studies.estimate import run
    from soundergate.studies.rule.release import rule
    from soundergate.studies.study import study
    from soundergate.studies.trial_size import trial_sizes
    from soundergate.studies.worlds.one_at_a_time import tornado

    __version__: str

_HOMES = {
    "Scenario": "scenario.schema",
    "ScenarioError": "scenario.errors",
    "Seen": "engine.reference.person_rule",
    "StudyError": "studies.errors",
    "check": "api",
    "compare": "studies.compare",
    "load": "scenario.loading",
    "night": "api",
    "register": "scenario.register",
    "rule": "studies.rule.release",
    "run": "studies.estimate",
    "season": "seasons.season",
    "sensitivity": "api",
    "study": "studies.study",
    "tornado": "studies.worlds.one_at_a_time",
    "trial_sizes": "studies.trial_size",
    "with_values": "scenario.loading",
    "worlds": "api",
}

__all__ = [
    "Scenario",
    "ScenarioError",
    "Seen",
    "StudyError",
    "check",
    "compare",
    "load",
    "night",
    "register",
    "rule",
    "run",
    "season",
    "sensitivity",
    "study",
    "tornado",
    "trial_sizes",
    "with_values",
    "worlds",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("soundergate")
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
