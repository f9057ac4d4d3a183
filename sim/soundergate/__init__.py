"""soundergate: the night of a corral trap, played before the trap is built.

    import soundergate
    result = soundergate.run("trap.toml", precision=0.01)
    print(result.table)

Inside, everything is in SI: m, kg, s, N, Pa, J, rad. Units are for scenario files, where every
quantity carries its own ("8 ft", "25 lbf"), and for `check`, which speaks in the file's units.

load(path)                 scenario file -> Scenario; raises ScenarioError
with_values(scenario, {})  the scenario with dotted values changed, written as in a file ("8 ft")
check(scenario)            mechanics alone: verdict, margins (texts with units), cautions
night(scenario, number)    one night of a run as a Trace: times in s since the set, lengths in m
run(scenario)              many nights -> RunResult: shares 0 to 1, counts in animals a night
compare(scenarios, vary)   several setups on the same nights -> Comparison: differences a minus b
rule(scenario)             when a person at the link should release -> ReleaseResult
season(scenarios)          campaigns night after night -> SeasonResult; also the package
study(path)                a study file played -> StudyResult; also the package of that name
register()                 every default with unit, plausible range, origin and citation
Scenario, ScenarioError    the validated scenario (SI), and the one error that bad input raises
__version__                of the installed package

Names are looked up when first used, so that `import soundergate` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.api import check, night
    from soundergate.scenario.errors import ScenarioError
    from soundergate.scenario.loading import load, with_values
    from soundergate.scenario.register import register
    from soundergate.scenario.schema import Scenario
    from soundergate.season.season import season
    from soundergate.study.compare import compare
    from soundergate.study.estimate import run
    from soundergate.study.played import run_study as study
    from soundergate.study.release import rule

    __version__: str

_HOMES = {
    "Scenario": "scenario.schema",
    "ScenarioError": "scenario.errors",
    "check": "api",
    "compare": "study.compare",
    "load": "scenario.loading",
    "night": "api",
    "register": "scenario.register",
    "rule": "study.release",
    "run": "study.estimate",
    "with_values": "scenario.loading",
}

__all__ = [
    "Scenario",
    "ScenarioError",
    "check",
    "compare",
    "load",
    "night",
    "register",
    "rule",
    "run",
    "season",
    "study",
    "with_values",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("soundergate")
    if name in ("season", "study"):
        return import_module(f"{__name__}.{name}")  # a package that can be called
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
