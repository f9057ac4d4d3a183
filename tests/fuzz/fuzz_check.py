"""What must hold of a case: it is refused in one clear message, or played without a fault."""

from __future__ import annotations

import dataclasses
import json
import math
import random
import re
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from fuzz_cases import Case
from fuzz_files import play_record, play_store

from shared.identities import check_identities
from shared.results import from_outcomes
from soundergate.api import night
from soundergate.commands.night import _data as night_data
from soundergate.engine import play
from soundergate.engine.build import build
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.mechanics.setup import solve
from soundergate.report.tables.nights import measure_table
from soundergate.report.words.answers import night_answer, run_told
from soundergate.scenario.assumptions import defaults_used
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, loads, with_values
from soundergate.scenario.schema import Scenario
from soundergate.seasons.season import season
from soundergate.studies.arms import make_arms, parse_vary
from soundergate.studies.record import plain
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads as loads_study

NIGHTS = 4
SCREEN = 24 * 80
"""Characters of a terminal of the usual size: a message is never longer."""
TWIN_EVERY = 20
"""One case in so many is played by the reference engine too, and looked at as `check` does."""
LEAKS = re.compile(r"Traceback|<class|object at 0x|ValidationError|\bNoneType\b|pydantic|numpy\.")

REFUSED, PLAYED = "refused", "played"


def verdict(case: Case) -> str:
    """``REFUSED`` or ``PLAYED``; raises whatever is wrong, AssertionError if it came to an end."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            _PLAY[case.kind](case)
            found = PLAYED
        except ScenarioError as error:
            check_message(error)
            found = REFUSED
    assert not caught, f"a warning that the user would see: {caught[0].message}"
    return found


def check_message(error: ScenarioError | str) -> None:
    """One message of a screen at most, that says where and shows nothing of our own inside."""
    words = str(error)
    assert words.strip(), "nothing is said"
    assert "\n" not in words, f"several lines: {words!r}"
    assert len(words) <= SCREEN, f"{len(words)} characters: {words}"
    assert not LEAKS.search(words), f"our own inside is shown: {words}"


def _scenario(case: Case) -> None:
    try:
        scenario = loads(case.scenario, "trap.toml")
    except ScenarioError as error:
        check_named(error)
        raise
    assert from_table(scenario.resolved()) == scenario, "what was resolved is another night"
    check_nights(scenario, case.seed)


def check_named(error: ScenarioError) -> None:
    """A message about a file names it, and the key unless the text is none or the file is empty."""
    words = str(error)
    assert words.startswith("trap.toml: "), f"the file is not named: {words}"
    unread = ("not valid TOML", "the file is empty", "line ", "nested too deeply")
    assert error.key or error.problem.startswith(unread), f"no key is named: {words}"


def check_key(error: ScenarioError) -> None:
    """A message about a value names its key."""
    assert error.key, f"no key is named: {error}"


def check_file(error: ScenarioError, folder: str) -> None:
    """A message about a study begins with a file of its folder."""
    assert str(error).startswith(folder), f"the file is not named: {error}"


def check_nights(scenario: Scenario, seed: int) -> Outcomes:
    """A handful of nights of a scenario that loads, and what is said of them."""
    try:
        setup = solve(scenario)
        plan = build(scenario, setup)
    except ScenarioError as error:
        check_key(error)
        raise
    nights = play(plan, seed, 0, NIGHTS, "batch")
    check_outcomes(nights)
    if seed % TWIN_EVERY == 0:
        check_twin(plan, nights, seed)
        check_steel(scenario)
        check_told(scenario, nights, seed)
    result = from_outcomes(nights, seed, scenario=scenario)
    numbers(result.to_json(), "result")
    told([*run_told(result), *map(str, measure_table(result).rows)])
    return nights


def check_outcomes(nights: Outcomes) -> None:
    """Every animal has one fate; nothing that must be a number is none."""
    check_identities(nights)
    for name in ("operator_min", "night_s"):
        assert np.isfinite(nights[name]).all(), f"{name}: {nights[name]}"
    struck = nights["struck"] > 0
    assert np.isfinite(nights["strike_energy_j"][struck]).all(), nights["strike_energy_j"]
    pulled = ~np.isnan(nights["release_s"])
    assert (nights["release_s"][pulled] <= nights["night_s"][pulled]).all(), nights["release_s"]


def check_twin(plan: NightPlan, nights: Outcomes, seed: int) -> None:
    """The reference engine plays the same nights to the bit."""
    few = 2
    reference = play(plan, seed, 0, few, "reference")
    first = nights.rows(0, few)
    assert reference == first, [name for name in first if (first[name] != reference[name]).any()]


def check_steel(scenario: Scenario) -> None:
    """`check` of the same, with what it advises."""
    from soundergate.commands import check_json
    from soundergate.mechanics.advice.check import check

    report = check(scenario)
    numbers(check_json.data(report, scenario, {}), "check", allowed=NONE_OF)
    told([*report.verdict, *report.cautions, *map(str, report.rows)])


def check_told(scenario: Scenario, nights: Outcomes, seed: int) -> None:
    """The night that `night` tells is the first of the run, and can be told."""
    trace = night(scenario, 0, seed)
    row = {name: nights[name][0].item() for name in nights}
    assert plain(trace.row) == plain(row), f"{trace.row} told of {row}"
    told([night_answer(trace), *map(str, trace.table.itertuples(index=False))])
    json.dumps(plain(night_data(trace)), allow_nan=False)
    for path, entry in defaults_used(scenario):
        assert path, entry


def told(texts: list[str]) -> None:
    """Nobody reads of a number that is none."""
    for text in texts:
        assert not re.search(r"\bnan\b|\bNaN\b|\binf\b", text), text


NONE_OF = re.compile(r"margin|probability|available|seconds|_s$|delay|time")
"""Figures of `check` that some openings have not, such as the margin of a latch pulled by pigs."""


def numbers(value: Any, where: str, allowed: re.Pattern[str] | None = None) -> None:
    """Raise AssertionError for a NaN anywhere in nested data."""
    if isinstance(value, dict):
        for key, item in value.items():
            numbers(item, f"{where}.{key}", allowed)
    elif isinstance(value, list | tuple):
        for item in value:
            numbers(item, where, allowed)
    elif isinstance(value, float | np.floating) and math.isnan(value):
        assert allowed and allowed.search(where), f"{where} is no number"  # noqa: PT018


def _path(case: Case) -> None:
    base = loads(case.scenario, "trap.toml")
    try:
        scenario = with_values(base, case.more["values"])
    except ScenarioError as error:
        check_key(error)
        raise
    check_nights(scenario, case.seed)


def _vary(case: Case) -> None:
    base = loads(case.scenario, "trap.toml")
    parse_vary(case.more["vary"])
    for arm in make_arms(base, case.more["vary"])[:4]:
        check_nights(arm.scenario, case.seed)


def _study(case: Case) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "base.toml").write_text(case.scenario, encoding="utf-8")
        try:
            study = loads_study(case.more["study"], Path(folder) / "study.toml")
        except ScenarioError as error:
            check_file(error, folder)
            raise
        too_many = study.nights is None or study.nights > 8 or study.precision is not None
        limits: dict[str, Any] = {"nights": 8} if too_many else {}
        if study.robust is not None and study.robust.worlds * study.robust.nights > 40:
            return
        try:
            result = run_study(study, workers=1, **limits)
        except ScenarioError as error:
            check_file(error, folder)
            raise
        for reason in result.failed.values():
            check_message(reason)
        assert result.to_json()["title"] == study.title


def _season(case: Case) -> None:
    scenario = loads(case.scenario, "trap.toml")
    if scenario.campaign.set_nights * (scenario.training.nights + 1) > 300:
        check_nights(scenario, case.seed)  # so long a campaign takes too long
        return
    more = case.more
    result = season(
        scenario,
        more["vary"] or None,
        3,
        case.seed % 1000,
        1,
        campaigns_a_year=more["campaigns_a_year"],
    )
    data = result.to_json()
    for setup in result.setups:
        course = setup.course.campaigns
        for one in dataclasses.fields(course):
            values = getattr(course, one.name)
            if isinstance(values, np.ndarray) and values.dtype.kind == "f":
                assert not np.isnan(values).any(), f"{one.name} of a campaign is no number"
        caught = course.caught
        assert ((caught >= 0) & (caught <= course.group_size)).all(), "more caught than there were"
    assert data["campaigns"] == 3


def _record(case: Case) -> None:
    play_record(case, random.Random(case.seed))


def _store(case: Case) -> None:
    play_store(case, random.Random(case.seed))


_PLAY: dict[str, Callable[[Case], None]] = {
    "scenario": _scenario,
    "path": _path,
    "vary": _vary,
    "study": _study,
    "season": _season,
    "record": _record,
    "store": _store,
}
