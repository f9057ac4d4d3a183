"""What Python may hand over: a path, a dict or a Scenario; anything else ends in the one error."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import soundergate
from soundergate.scenario import examples
from soundergate.scenario.errors import SCREEN_COLUMNS, SCREEN_LINES

TABLES: dict[str, Any] = tomllib.loads(examples.text("watch"))
VARY = {"opening.width": ["4 ft", "6 ft"]}


class Stubborn:
    """A thing that will not even be shown."""

    def __repr__(self) -> str:
        raise RuntimeError("not to be shown")

    __str__ = __repr__


def endless() -> dict[str, Any]:
    table: dict[str, Any] = {}
    table["title"] = table
    return table


BAD: dict[str, Any] = {
    "none": None,
    "a number": 3,
    "a real number": 2.5,
    "true": True,
    "a list": [],
    "a list of numbers": [1],
    "a list in a list": [[]],
    "a tuple": (None,),
    "bytes": b"trap.toml",
    "a folder": Path(__file__).parent,
    "no file": "nowhere.toml",
    "no letters": "",
    "a sign that no path holds": "a\0b",
    "an empty dict": {},
    "number keys": {1: 2},
    "bytes for a key": {b"title": "x"},
    "number keys below": {**TABLES, "sounder": {1: 2}},
    "none for a value": {**TABLES, "title": None},
    "none in a list": {**TABLES, "opening": [None]},
    "an array for a value": {**TABLES, "sounder": {"sows": np.array([1, 2])}},
    "a frame for a value": {**TABLES, "opening": pd.DataFrame({"width": [1]})},
    "not a number": {**TABLES, "sounder": {"sows": np.float64("nan")}},
    "a set for a value": {**TABLES, "title": {1, 2}},
    "in itself": endless(),
    "a numpy number": np.float64(2.0),
    "an array": np.zeros(3),
    "a frame": pd.DataFrame({"title": [1]}),
    "a series": pd.Series([1.0, 2.0]),
    "a set": {1},
    "an object": object(),
    "a stubborn object": Stubborn(),
    "a class": int,
    "a function": len,
}
CALLS: dict[str, Callable[[Any], Any]] = {
    "load": soundergate.load,
    "check": soundergate.check,
    "night": soundergate.night,
    "run": lambda given: soundergate.run(given, nights=1),
    "compare": lambda given: soundergate.compare(given, VARY, nights=1),
    "compare several": lambda given: soundergate.compare([TABLES, given], nights=1),
    "rule": lambda given: soundergate.rule(given, nights=1),
    "season": lambda given: soundergate.season(given, campaigns=2),
    "study": soundergate.study,
    "worlds": lambda given: soundergate.worlds(given, VARY, 20, 10, only=["entry.clock"]),
    "only": lambda given: soundergate.worlds(TABLES, VARY, 20, 10, only=given),
    "tornado": lambda given: soundergate.tornado(given, nights=2, screen=0, top=1),
    "sensitivity": lambda given: soundergate.sensitivity(given, samples=2, nights=2),
    "less": lambda given: soundergate.sensitivity(TABLES, given, samples=2, nights=2),
    "trial_sizes": soundergate.trial_sizes,
    "with_values": lambda given: soundergate.with_values(given, {"title": "x"}),
    "with_values values": lambda given: soundergate.with_values(TABLES, given),
    "with_values value": lambda given: soundergate.with_values(TABLES, {"opening.width": given}),
    "vary": lambda given: soundergate.compare(TABLES, given, nights=1),
    "vary of season": lambda given: soundergate.season(TABLES, given, campaigns=2),
    "choices": lambda given: soundergate.compare(TABLES, {"opening.width": given}, nights=1),
    "choice": lambda given: soundergate.compare(TABLES, {"opening.width": [given]}, nights=1),
}
FINE = {
    ("with_values values", "an empty dict"),  # nothing changed
    ("less", "none"),
    ("only", "none"),
    *(("vary of season", name) for name in ("none", "a list", "an empty dict")),  # nothing varied
}


def refused(call: Callable[[], Any]) -> soundergate.ScenarioError:
    with pytest.raises(soundergate.ScenarioError) as caught:
        call()
    text = str(caught.value)
    assert len(text) <= SCREEN_LINES * SCREEN_COLUMNS
    assert text.isprintable()
    return caught.value


@pytest.mark.parametrize("name", CALLS)
def test_what_is_no_scenario_is_refused(name: str) -> None:
    for bad, given in BAD.items():
        if (name, bad) not in FINE:
            error = refused(lambda given=given: CALLS[name](given))
            assert error.file or error.key or "vary" in name, (bad, error)


STUDY = {"base": "trap.toml", "factors": {"opening": {"width": ["4 ft", "6 ft"]}}}


def test_a_dict_a_path_and_a_scenario_play_the_same(tmp_path: Path) -> None:
    path = tmp_path / "trap.toml"
    path.write_text(examples.text("watch"), encoding="utf-8")
    before = copy.deepcopy(TABLES)
    given = (path, str(path), TABLES, soundergate.load(path))
    runs = [soundergate.run(one, nights=5).to_json() for one in given]
    assert runs[1:] == runs[:-1]
    nights = [soundergate.night(one, 2).row for one in given]
    assert nights[1:] == nights[:-1]
    assert [soundergate.check(one).ok for one in given] == [soundergate.check(path).ok] * 4
    seasons = [soundergate.season(one, campaigns=2).setups[0].to_json() for one in given]
    assert {one["caught"]["estimate"] for one in seasons} == {seasons[0]["caught"]["estimate"]}
    texts = soundergate.compare(TABLES, "opening.width=4 ft,6 ft", nights=5)
    table = soundergate.compare(TABLES, VARY, nights=5)
    assert texts.to_json() == table.to_json()
    study = {**STUDY, "base": path, "nights": 5}
    assert (
        soundergate.study(study).comparison.to_json()["differences"]
        == (table.to_json()["differences"])
    )
    assert before == TABLES
    assert study["base"] is path


def test_numbers_of_numpy_are_numbers() -> None:
    sows = {**TABLES, "sounder": {"sows": np.int64(3), "piglets": np.int32(2)}}
    plain = {**TABLES, "sounder": {"sows": 3, "piglets": 2}}
    assert soundergate.load(sows).raw == soundergate.load(plain).raw
    assert type(soundergate.load(sows).raw["sounder"]["sows"]) is int
    flag = {"trigger.clear_opening": np.bool_(True)}
    assert soundergate.with_values(TABLES, flag).raw["trigger"]["clear_opening"] is True
    counts = soundergate.compare(TABLES, {"sounder.sows": np.array([2, 3])}, nights=2)
    assert [arm.set for arm in counts.arms] == [{"sounder.sows": 2}, {"sounder.sows": 3}]


@pytest.mark.parametrize(
    ("given", "file", "key", "says"),
    [
        ({**TABLES, "sounder": {1: 2}}, "<dict>", "sounder.1", "a key is text"),
        ({**TABLES, "title": None}, "<dict>", "title", "leave the key out"),
        ({**TABLES, "sounder": {"sows": "many"}}, "<dict>", "sounder.sows", "whole number"),
        ({**TABLES, "opening": [{"width": object()}]}, "<dict>", "opening.1.width", "wanted text"),
        (None, None, "scenario", "wanted the path of a scenario file, a dict"),
    ],
)
def test_an_error_names_file_and_key(given: Any, file: str | None, key: str, says: str) -> None:
    error = refused(lambda: soundergate.load(given))
    assert (error.file, error.key) == (file, key)
    assert says in str(error)


def test_there_is_one_error() -> None:
    assert issubclass(soundergate.StudyError, soundergate.ScenarioError)
    assert issubclass(soundergate.StudyError, ValueError)
