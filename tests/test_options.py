"""Options from Python: whatever is of a wrong type ends in the one documented error, at once.

A property over all public functions and all their options. What would do is told here by a table of
its own, option by option, so that an option without one fails too.
"""

from __future__ import annotations

import inspect
import tomllib
import warnings
from collections.abc import Callable
from numbers import Integral, Real
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import soundergate
from soundergate.scenario import examples
from soundergate.scenario.errors import SCREEN_COLUMNS, SCREEN_LINES

TABLES: dict[str, Any] = tomllib.loads(examples.text("watch"))
VARY = {"opening.width": ["4 ft", "6 ft"]}
FEW = ["entry.clock", "entry.shy_share"]


class Stubborn:
    """A thing that will not even be shown."""

    def __repr__(self) -> str:
        raise RuntimeError("not to be shown")

    __str__ = __repr__


BAD: dict[str, Any] = {
    "none": None,
    "zero": 0,
    "three": 3,
    "a real number": 2.5,
    "below zero": -1,
    "true": True,
    "text": "many",
    "no letters": "",
    "a list": [],
    "a list of numbers": [1],
    "a list of text": ["many"],
    "a dict": {},
    "a dict of text": {"fraction_caught": "b"},
    "bytes": b"x",
    "not a number": float("nan"),
    "without end": float("inf"),
    "huge": 10**400,
    "an array": np.zeros(3),
    "a set": {1},
    "an object": object(),
    "a stubborn object": Stubborn(),
    "a class": int,
    "a function of nothing": lambda: None,
}


def whole(x: Any) -> bool:
    return isinstance(x, Integral) and not isinstance(x, bool) and abs(int(x)) < 2**63


def number(x: Any) -> bool:
    return isinstance(x, Real) and not isinstance(x, bool) and not (
        isinstance(x, int) and not whole(x)
    )  # fmt: skip


def text(x: Any) -> bool:
    return isinstance(x, str)


def texts(x: Any) -> bool:
    return isinstance(x, list) and all(isinstance(one, str) for one in x)


def flag(x: Any) -> bool:
    return isinstance(x, bool)


def nothing(x: Any) -> bool:
    return False


def widths(x: Any) -> bool:
    return number(x) or text(x) or (isinstance(x, dict) and all(map(number, x.values())))


DOES: dict[str, Callable[[Any], bool]] = {
    **dict.fromkeys(
        ("nights", "seed", "workers", "worlds", "searched", "campaigns", "number", "screen", "top",
         "samples"),
        whole,
    ),
    **dict.fromkeys(("level", "taught_costs", "negligible", "campaigns_a_year", "power"), number),
    **dict.fromkeys(("engine", "against", "wanted", "method", "measure", "units"), text),
    **dict.fromkeys(("keep_outcomes", "decisions"), flag),
    **dict.fromkeys(("measures", "names"), texts),
    **dict.fromkeys(("progress", "executor", "store", "record", "rule"), nothing),
    "precision": widths,
    "only": lambda x: text(x) or texts(x),
    "vary": lambda x: text(x) or isinstance(x, dict | list),
    "values": lambda x: isinstance(x, dict),
    "less": lambda x: text(x) or isinstance(x, dict),
}  # fmt: skip


def calls(tmp_path: Path) -> dict[str, tuple[Any, dict[str, Any]]]:
    """By the name of a public function: what it is about, and options that make it quick."""
    file = tmp_path / "trap.toml"
    file.write_text(examples.text("watch"), encoding="utf-8")
    study = {"base": file, "factors": VARY, "nights": 2}
    return {
        "check": (TABLES, {}),
        "compare": (TABLES, {"vary": VARY, "nights": 2}),
        "load": (TABLES, {}),
        "night": (TABLES, {}),
        "rule": (TABLES, {"nights": 2, "searched": 100}),
        "run": (TABLES, {"nights": 2}),
        "season": (TABLES, {"campaigns": 2}),
        "sensitivity": (TABLES, {"samples": 2, "nights": 2, "only": FEW}),
        "study": (study, {}),
        "tornado": (TABLES, {"nights": 2, "screen": 0, "top": 1, "only": FEW[:1]}),
        "trial_sizes": (soundergate.compare(TABLES, VARY, nights=20), {}),
        "with_values": (TABLES, {"values": {"title": "x"}}),
        "worlds": (TABLES, {"vary": VARY, "worlds": 20, "nights": 10, "only": FEW[:1]}),
    }


def options() -> list[tuple[str, str]]:
    """Every option of every public function: all that it takes but for what it is about."""
    found = []
    for name in soundergate.__all__:
        function = getattr(soundergate, name)
        if inspect.isfunction(function):
            found += [(name, one) for one in list(inspect.signature(function).parameters)[1:]]
    return found


def refused(call: Callable[[], Any]) -> None:
    with pytest.raises(soundergate.ScenarioError) as caught:
        call()
    told = str(caught.value)
    assert len(told) <= SCREEN_LINES * SCREEN_COLUMNS
    assert told.isprintable()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Any, dict[str, Any]]]:
    return calls(tmp_path_factory.mktemp("options"))


def test_every_public_function_is_asked(made) -> None:
    functions = {n for n in soundergate.__all__ if inspect.isfunction(getattr(soundergate, n))}
    assert set(made) == functions
    assert {option for _, option in options()} == set(DOES)


@pytest.mark.filterwarnings("ignore:a release rule in Python")
@pytest.mark.parametrize(("function", "option"), options())
def test_a_wrong_type_is_refused_by_name(made, function: str, option: str) -> None:
    """None too, where it is not what the option is unless given."""
    about, quick = made[function]
    call = getattr(soundergate, function)
    may_be_none = inspect.signature(call).parameters[option].default is None
    for value in BAD.values():
        if DOES[option](value) or (value is None and may_be_none):
            continue
        refused(lambda value=value: call(about, **{**quick, option: value}))


@pytest.mark.slow
@pytest.mark.parametrize(("function", "option"), options())
def test_whatever_is_given_is_played_or_refused(made, function: str, option: str) -> None:
    """Values of the right type too, which may be too small, too large, or the name of nothing."""
    about, quick = made[function]
    call = getattr(soundergate, function)
    for name, value in BAD.items():
        if name == "none" and option in ("nights", "campaigns", "only", "samples"):
            continue  # plays as many as it would unasked
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            told = ""
            try:
                call(about, **{**quick, option: value})
            except soundergate.ScenarioError as error:
                told = str(error)
            assert told == "" or told.isprintable()


def test_numbers_of_numpy_do(made) -> None:
    few = soundergate.run(
        TABLES,
        nights=np.int64(3),
        seed=np.uint8(7),
        level=np.float64(0.9),
        keep_outcomes=np.bool_(False),
        workers=np.int32(1),
    )
    assert few.outcomes is None
    assert few.to_json() == soundergate.run(TABLES, nights=3, seed=7, level=0.9).to_json()


def test_a_call_with_a_wrong_name_is_pythons_own_error() -> None:
    with pytest.raises(TypeError, match="night_count"):
        soundergate.run(TABLES, night_count=3)
    assert list(inspect.signature(soundergate.run).parameters)[:2] == ["scenario", "nights"]


def test_a_scenario_made_by_model_validate_plays_like_one_loaded() -> None:
    made = soundergate.Scenario.model_validate(TABLES)
    loaded = soundergate.load(TABLES)
    assert (made, made.raw, made.source) == (loaded, loaded.raw, loaded.source)
    asks: list[Callable[[soundergate.Scenario], Any]] = [
        lambda one: soundergate.run(one, nights=3).to_json(),
        lambda one: soundergate.night(one, 2).row,
        lambda one: soundergate.check(one).verdict,
        lambda one: soundergate.compare(one, VARY, nights=2).to_json(),
        lambda one: soundergate.with_values(one, {"entry.clock": "30 s"}).raw,
        lambda one: soundergate.worlds(one, worlds=20, nights=10, only=FEW[:1]).to_json(),
    ]
    for ask in asks:
        assert ask(made) == ask(loaded)
    built = soundergate.Scenario(**TABLES)
    assert built.raw == loaded.raw
    assert tomllib.loads(examples.text("watch")) == TABLES
