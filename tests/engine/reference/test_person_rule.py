"""A release rule in Python: the same nights as the table that says the same, or the one error."""

from __future__ import annotations

import dataclasses
import math
import random
import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import soundergate
from soundergate.engine.outcomes import COLUMNS
from soundergate.scenario import examples

WATCH: dict[str, Any] = tomllib.loads(examples.text("watch"))
NIGHTS = 20
SLOW = "one night at a time"


def watched(**trigger: Any) -> dict[str, Any]:
    """The example whose person follows another rule; sounders vary, and so do counts."""
    others = {k: v for k, v in WATCH["trigger"].items() if k not in ("count", "share", "rule")}
    base = {"frame_interval": "5 s", "undercount": 0.1, "overcount": 0.05}
    return {**WATCH, "trigger": {**others, **base, **trigger}}


def at(minutes: float, count: float, share: float = math.inf) -> tuple[float, float, float]:
    return 60 * minutes, count, share


RULES = {
    "one count": [at(0, 4)],
    "fewer later": [at(0, 9), at(10, 6), at(25, 2)],
    "more later": [at(0, 3), at(1, 12), at(40, 4)],
    "a share": [at(0, math.inf, 1.0), at(15, 5, 0.6)],
    "waits first": [at(0, math.inf), at(20, 1)],
    "never": [at(0, math.inf)],
}


def table(steps: list[tuple[float, float, float]]) -> list[dict[str, Any]]:
    found = []
    for after, count, share in steps:
        step: dict[str, Any] = {"after": f"{after:g} s"}
        if count < math.inf:
            step["count"] = int(count)
        if share < math.inf:
            step["share"] = share
        found.append(step if len(step) > 1 else step | {"wait": True})
    return found


def function(steps: list[tuple[float, float, float]]) -> Callable[[soundergate.Seen], bool]:
    def decide(seen: soundergate.Seen) -> bool:
        random.random()  # a rule may do what it likes with luck of its own
        random.seed(len(steps))
        _, count, share = [step for step in steps if step[0] <= seen.watched][-1]
        some = math.ceil(share * seen.group_size - 1e-9) if share < math.inf else math.inf
        return bool(seen.counted >= min(count, some))

    return decide


@pytest.mark.parametrize("frame", ["0.7 s", "0.3 s"])
def test_a_threshold_on_a_look_is_met_at_that_look(frame: str) -> None:
    """Looks at 2.1 s and 0.9 s are no exact multiples in binary: the function may come no look
    later than the table does."""
    steps = [at(0, math.inf), *((round(2.1 * k, 6), 6 - k, math.inf) for k in range(1, 6))]
    written = watched(rule=table(steps), frame_interval=frame)
    told = watched(count=1, frame_interval=frame)
    reference = soundergate.run(written, nights=NIGHTS)
    with pytest.warns(UserWarning, match=SLOW):
        asked = soundergate.run(told, nights=NIGHTS, engine="reference", rule=function(steps))
    assert reference.outcomes == asked.outcomes


@pytest.mark.parametrize(
    ("name", "clear"),
    [
        pytest.param(name, clear, marks=[pytest.mark.slow] * ((i + clear) % 2))  # every other one
        for i, name in enumerate(RULES)
        for clear in (True, False)
    ],
)
def test_a_function_plays_the_nights_of_the_table_that_says_the_same(
    name: str, clear: bool
) -> None:
    steps = RULES[name]
    written = watched(rule=table(steps), clear_opening=clear)
    told = watched(count=1, clear_opening=clear)  # which the function is to set aside
    batch = soundergate.run(written, nights=NIGHTS)
    reference = soundergate.run(written, nights=NIGHTS, engine="reference")
    with pytest.warns(UserWarning, match=SLOW):
        asked = soundergate.run(told, nights=NIGHTS, engine="reference", rule=function(steps))
    one, two, three = (run.outcomes for run in (batch, reference, asked))
    assert one is not None
    assert two is not None
    assert three is not None
    for column, _ in COLUMNS:
        assert one[column].tobytes() == two[column].tobytes() == three[column].tobytes(), column
    assert (one["caught"].sum() > 0) != (name == "never")
    with pytest.warns(UserWarning, match=SLOW):
        trace = soundergate.night(told, 7, rule=function(steps))
    assert trace.row["caught"] == one["caught"][7]


def test_it_sees_what_a_person_sees() -> None:
    shown: list[soundergate.Seen] = []

    def decide(seen: soundergate.Seen) -> bool:
        shown.append(seen)
        return False

    with pytest.warns(UserWarning, match=SLOW):
        trace = soundergate.night(watched(clear_opening=False), 3, rule=decide)
    assert [type(value) for value in dataclasses.astuple(shown[0])] == [float, int, int, bool]
    times = [seen.watched for seen in shown]
    assert times[0] == 0.0
    assert np.allclose(np.diff(times), 5.0)
    assert {seen.group_size for seen in shown} == {trace.row["group_size"]}
    assert {seen.clear for seen in shown} == {True, False}
    assert len({seen.counted for seen in shown}) > 2
    with pytest.raises(dataclasses.FrozenInstanceError):
        shown[0].counted = 99  # type: ignore[misc]


def fails(seen: soundergate.Seen) -> bool:
    raise KeyError("nothing of the kind")


NONSENSE: dict[str, Any] = {
    "none": lambda seen: None,
    "a text": lambda seen: "release",
    "a number": lambda seen: 1,
    "an array": lambda seen: np.array([True, False]),
    "fails": fails,
    "takes nothing": lambda: True,
    "takes two": lambda seen, more: True,
    "changes what it is shown": lambda seen: setattr(seen, "counted", 99),
    "a class": dict,
}


@pytest.mark.filterwarnings("ignore:a release rule in Python")
@pytest.mark.parametrize("name", NONSENSE)
def test_nonsense_ends_in_the_one_error(name: str) -> None:
    for call in (
        lambda: soundergate.run(watched(), nights=5, engine="reference", rule=NONSENSE[name]),
        lambda: soundergate.night(watched(), 0, rule=NONSENSE[name]),
    ):
        with pytest.raises(soundergate.ScenarioError, match="returns True to release") as caught:
            call()
        assert (caught.value.file, caught.value.key) == ("<dict>", "rule")
        assert "Seen(watched=" in str(caught.value)


class OneByOne:
    """An executor."""

    def map(self, work: Any, chunks: Any) -> list[Any]:
        return [work(chunk) for chunk in chunks]


@pytest.mark.parametrize(
    ("scenario", "more", "says"),
    [
        (watched(), {}, "trigger.rule"),  # the batch engine
        (watched(), {"engine": "batch"}, 'engine="reference"'),
        (watched(frame_interval="0 s"), {"engine": "reference"}, "time between looks"),
        (tomllib.loads(examples.text("line")), {"engine": "reference"}, "no person on a link"),
        (watched(), {"engine": "reference", "rule": 3}, "wanted a function"),
        (watched(), {"engine": "reference", "rule": []}, "a table stands in the scenario"),
        (watched(), {"engine": "reference", "executor": OneByOne()}, "leave out executor"),
    ],
)
def test_what_no_rule_can_be_given_to(
    scenario: dict[str, Any], more: dict[str, Any], says: str
) -> None:
    with pytest.raises(soundergate.StudyError, match=says):
        soundergate.run(scenario, nights=5, **{"rule": lambda seen: True, **more})
