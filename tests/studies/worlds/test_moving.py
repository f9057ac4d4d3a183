"""Worlds made from a mould are those that a file with the same values would be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soundergate.scenario import examples
from soundergate.scenario.assumptions import value_at
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.toml_table import Table
from soundergate.scenario.units import DIMENSIONS, read_quantity, registry
from soundergate.studies.worlds.inputs import Moving, decisions_of, inputs_of
from soundergate.studies.worlds.worlds import draw


def read_whole(scenario, inputs, shares):
    """The same by reading every value of the changed file."""
    for relative in (False, True):
        given = [
            (path, one, share)
            for one, share in zip(inputs, shares, strict=True)
            if bool(one.entry.of) is relative
            for path in one.paths
        ]
        given.sort(key=lambda item: 0 if relative else item[0].count("."))
        groups = [[item] for item in given] if relative else [given]
        for group in groups:
            values = {p: value_at(scenario, p, one.entry, one.at(u)) for p, one, u in group}
            scenario = with_values(scenario, values) if values else scenario
    return scenario


def told(value):
    """All of a table, also what the file is taken to have said."""
    if isinstance(value, Table):
        fields = {name: told(getattr(value, name)) for name in type(value).model_fields}
        return type(value).__name__, sorted(value.model_fields_set), fields
    if isinstance(value, tuple):
        return tuple(told(item) for item in value)
    return repr(value) if isinstance(value, float) and math.isnan(value) else value


def same(fast, slow):
    assert told(fast) == told(slow)
    assert fast.raw == slow.raw
    assert fast.source == slow.source


def outcome(make):
    try:
        return make()
    except ScenarioError as error:
        return str(error)


def agree(scenario, inputs, shares):
    fast = outcome(lambda: Moving(scenario, inputs).at(shares))
    slow = outcome(lambda: read_whole(scenario, inputs, shares))
    if isinstance(slow, str):
        assert fast == slow
    else:
        same(fast, slow)


@pytest.mark.parametrize("name", examples.names())
def test_all_unknowns_at_once(name):
    scenario = loads(examples.text(name))
    inputs = inputs_of(scenario)
    for shares in draw(inputs, 1, 3):
        agree(scenario, inputs, shares.tolist())


@pytest.mark.slow
@pytest.mark.parametrize("name", examples.names())
def test_each_unknown_and_each_decision_alone(name):
    scenario = loads(examples.text(name))
    for one in [*inputs_of(scenario), *decisions_of(scenario)]:
        for share in (0.001, 0.05, 0.3, 0.95, 0.999):
            agree(scenario, [one], [share])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["line", "either", "swing", "watch"])
def test_all_unknowns_and_decisions_at_once(name):
    scenario = loads(examples.text(name))
    inputs = [*inputs_of(scenario), *decisions_of(scenario)]
    for shares in 0.05 + 0.9 * draw(inputs, 2, 5):
        agree(scenario, inputs, shares.tolist())


def test_what_is_stated_about_and_what_is_fixed(scenario_file):
    text = scenario_file.read_text() + (
        '\n[entry]\nclock = {about = "40 s", sigma = 0.5}\n'
        '[leaving]\nclock = {sigma = 0.7}\n[movement]\ncrossing = {fixed = "2 s"}\n'
    )
    scenario = loads(text)
    inputs = inputs_of(scenario)
    assert {"entry.clock", "leaving.clock"} <= {one.id for one in inputs}
    for shares in draw(inputs, 3, 8):
        agree(scenario, inputs, shares.tolist())


def test_a_world_leaves_the_scenario_that_it_was_made_from_as_it_was():
    scenario = loads(examples.text("either"))
    before, inputs = told(scenario), inputs_of(scenario)
    moving = Moving(scenario, inputs)
    first = moving.at([0.9] * len(inputs))
    once = told(first)
    moving.at([0.1] * len(inputs))
    assert told(scenario) == before
    assert told(first) == once
    assert told(moving.at([0.9] * len(inputs))) == once


def test_units_turn_into_si_as_pint_turns_them():
    numbers = np.random.default_rng(4).lognormal(0.0, 3.0, 40).tolist()
    for kind in DIMENSIONS.values():
        for unit in kind.units:
            for number in numbers:
                by_pint = registry().Quantity(number, unit).m_as(kind.si)
                if not kind.smallest < abs(by_pint) < kind.largest:
                    continue
                wanted = number if unit == kind.si else float(f"{by_pint:.15g}")
                assert read_quantity(f"{number!r} {unit}", kind.name) == wanted, (number, unit)
