"""Random files and random changes never give anything but a scenario or a ScenarioError."""

from __future__ import annotations

import contextlib
import datetime
import tomllib
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from soundergate.scenario import Scenario, ScenarioError, loads, with_values
from soundergate.scenario.assumptions import tables, unknowns_of, value_at
from soundergate.scenario.json_schema import json_schema
from soundergate.scenario.loading import from_table

from_the_schema = json_schema()["$defs"]
KEYS = sorted({key for part in from_the_schema.values() for key in part.get("properties", {})})
WORDS = ["drop", "pin", "line", "person", "none", "top-hinged", "solenoid", "animal", "lognormal",
         "never", "14 gauge", "4 ft", "20 in", "3 lbf", "90 psi", "20 s", "45 deg", "70 kg",
         "-1 ft", "nan s", "1e300 m", ""]  # fmt: skip

scalars = st.one_of(
    st.sampled_from(WORDS),
    st.text(max_size=12),
    st.integers(-(10**25), 10**25),
    st.floats(),
    st.booleans(),
    st.dates(datetime.date(1, 1, 1)),
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["kind", "dist", "puller", *KEYS]), inner, max_size=4),
    ),
    max_leaves=12,
)
sections = ["sounder", "corral", "bait", "opening", "trigger", "entry", "movement", "costs"]


@given(st.text(max_size=200))
def test_random_text(text):
    with contextlib.suppress(ScenarioError):
        assert isinstance(loads(text), Scenario)


@given(
    st.lists(
        st.sampled_from(
            [
                "[",
                "]",
                "=",
                "{",
                "}",
                '"',
                "sounder",
                "opening",
                "kind",
                ".",
                "\n",
                " ",
                "1",
                ",",
                "trigger",
                "'",
                "#",
                '"4 ft"',
            ]
        ),
        max_size=40,
    )
)
def test_random_toml_like_text(pieces):  # fmt: skip
    with contextlib.suppress(ScenarioError):
        assert isinstance(loads("".join(pieces)), Scenario)


@given(st.dictionaries(st.sampled_from(sections), values, max_size=6))
def test_random_tables(table):
    with contextlib.suppress(ScenarioError):
        assert isinstance(from_table(table), Scenario)


def paths_of(night: Scenario) -> list[str]:
    """Every dotted path of the test night, given or defaulted."""
    return [
        f"{path}.{name}".lstrip(".")
        for path, part in tables(night)
        for name in type(part).model_fields
    ]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=80)
@given(st.data())
def test_any_value_at_any_path(night_text, data):
    night = loads(night_text)
    path = data.draw(st.sampled_from(paths_of(night)))
    value: Any = data.draw(values)
    outcome = scenario_or_error(night, path, value)
    if isinstance(outcome, ScenarioError):
        assert "\n" not in str(outcome)
        assert len(str(outcome)) < 700
    else:
        # What is taken is kept: the resolved scenario gives the same night again.
        assert from_table(outcome.resolved()) == outcome


def scenario_or_error(night: Scenario, path: str, value: Any) -> Scenario | ScenarioError:
    try:
        return with_values(night, {path: value})
    except ScenarioError as error:
        return error


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_one_character_changed(night_text, data):
    at = data.draw(st.integers(0, len(night_text) - 1))
    new = night_text[:at] + data.draw(st.characters(codec="utf-8")) + night_text[at + 1 :]
    assume(new != night_text)
    with contextlib.suppress(ScenarioError):
        night = loads(new)
        assert night.raw == tomllib.loads(new)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(width=st.floats(0.05, 12.0), sows=st.integers(0, 30), share=st.floats(0, 1))
def test_good_values_arrive_unchanged(night_text, width, sows, share):
    changed = with_values(
        loads(night_text),
        {"opening.width": f"{width!r} m", "sounder.sows": sows, "startle.bolt_share": share},
    )
    assert changed.opening[0].width == width
    assert changed.sounder.sows == sows
    assert changed.startle.bolt_share == share


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_plausible_world_is_a_scenario_that_can_be_written_down(night_text, data):
    """Several uncertain defaults moved within their ranges at once, as a robust study does."""
    night = loads(night_text)
    moved = data.draw(
        st.lists(st.sampled_from([(p, e) for p, e in unknowns_of(night) if e.numeric]), max_size=12)
    )
    drawn = {}
    for path, known in moved:
        x = data.draw(st.floats(known.low, known.high))
        x = 0.0 if abs(x) < 1e-9 else x  # a length of 1e-261 m is refused, and no range asks for it
        drawn[path] = value_at(night, path, known, x)
    world = with_values(night, drawn)
    assert from_table(world.resolved()) == world
