"""The examples load, say they are invented, and are short."""

from __future__ import annotations

import tomllib

import pytest

from soundergate.scenario import ScenarioError, examples, loads


def test_the_catalogue_lists_every_example():
    listed = examples.catalogue()
    assert [line["name"] for line in listed] == examples.names()
    assert len(listed) >= 10
    assert all(set(line) == {"name", "title", "shows"} for line in listed)
    assert len({line["title"] for line in listed}) == len(listed)


@pytest.mark.parametrize("name", examples.names())
def test_example(name):
    text = examples.text(name)
    assert name.isalpha()
    assert text.startswith("# Invented")
    assert tomllib.loads(text)["title"].startswith("Invented")
    night = loads(text, name)
    assert night.sounder.size >= 1
    said = [line for line in text.splitlines() if line and not line.startswith(("#", "["))]
    assert len(said) <= (28 if "[costs]" in text else 22)


def test_the_three_ways_to_release_are_shown():
    kinds = {
        part.kind for name in examples.names() for part in loads(examples.text(name)).trigger.parts
    }
    assert {"line", "bait", "person"} <= kinds


def test_one_shows_all_that_a_season_reads():
    priced = loads(examples.text("weeks"))
    assert priced.costs is not None
    unneeded = {"watch_wage", "alarm", "alarm_plan"}  # the wage, and a link that tells by itself
    assert all(value is not None for name, value in priced.costs if name not in unneeded)


def test_an_unknown_example_lists_the_known():
    with pytest.raises(ScenarioError, match=r"there is no example called 'lime'; choose one of: "):
        examples.text("lime")
