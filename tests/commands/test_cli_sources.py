"""`sources` picked out by id and origin, and handed on as CSV."""

from __future__ import annotations

import csv
import io
import json

import pytest

from soundergate.mechanics.clearance import CLASSES
from soundergate.scenario.loading import load
from soundergate.studies.worlds.inputs import inputs_of


def test_by_the_beginning_of_the_id(invoke):
    rows = invoke("sources", "--id", "entry.", "--id", "holding", "--json").data
    assert {row["id"].split(".")[0] for row in rows} == {"entry", "holding"}
    everything = invoke("sources", "--json").data
    wanted = [row for row in everything if row["id"].startswith(("entry.", "holding"))]
    assert rows == wanted


def test_by_origin_and_both_together(invoke):
    published = invoke("sources", "--origin", "published", "--json").data
    assert {row["origin"] for row in published} == {"published"}
    two = invoke("sources", "--origin", "published", "--origin", "handbook", "--json").data
    assert {row["origin"] for row in two} == {"published", "handbook"}
    both = invoke("sources", "--origin", "published", "--id", "body", "--json").data
    assert both == [row for row in published if row["id"].startswith("body")]
    assert both


def test_of_a_file(invoke, trap):
    rows = invoke("sources", trap, "--id", "opening.gate", "--json").data
    assert rows
    assert not [row["id"] for row in rows if "push panel" in row["id"]]


def test_of_a_file_no_mass_of_a_class_that_does_not_come(invoke, trap):
    """The first sounder has no boar, the other nothing but one."""
    trap.write_text(trap.read_text() + "[[other]]\nboars = 1\n", encoding="utf-8")
    scenario = load(trap)
    assert scenario.sounder.boars == 0
    rows = invoke("sources", trap, "--json").data
    masses = {row["id"].split(".")[2] for row in rows if row["id"].startswith("sounder.mass.")}
    assert masses == {
        name for name, key in CLASSES.items()
        if any(getattr(one, key) for one in (scenario.sounder, *scenario.other))
    }  # fmt: skip
    assert "boar" in masses


def test_of_a_file_it_says_what_no_single_night_reads(invoke, trap):
    said = invoke("sources", trap)
    assert "`season` alone" in said.err
    assert "population.growth" in said.out
    assert "season" not in invoke("sources", trap, "--id", "entry").err
    drawn = {one.id for one in inputs_of(load(trap))}
    assert not any(one.startswith(("campaign.", "population.", "costs.")) for one in drawn)


def test_what_is_relative_says_what_it_comes_to_in_this_trap(invoke, trap):
    (row,) = invoke("sources", trap, "--id", "corral.bait_distance", "--json").data
    assert row["write"] == "18.2 ft"
    assert "18.2 ft (0.7 × corral.diameter)" in invoke("sources", trap).out
    assert "0.7 × corral.diameter; write a length, such as 18 ft" in invoke("sources").out


def test_where_places_differ_each_has_its_line_and_its_path(invoke, trap):
    other = '[[opening]]\nwidth = "4 ft"\nheight = "4 ft"\ngate = {kind = "drop"}\n'
    trap.write_text(trap.read_text().replace("[trigger]", other + "[trigger]"))
    rows = invoke("sources", trap, "--id", "opening.gate.drop.channel_length", "--json").data
    assert {row["id"]: row["write"] for row in rows} == {
        "opening.1.gate.channel_length": "6 ft",
        "opening.2.gate.channel_length": "8 ft",
    }
    bearings = invoke("sources", trap, "--id", "opening.bearing", "--json").data
    assert [row["write"] for row in bearings] == ["0 deg", "180 deg"]


def test_csv_says_what_json_says(invoke):
    said = invoke("sources", "--csv")
    rows = list(csv.DictReader(io.StringIO(said.out)))
    told = invoke("sources", "--json").data
    assert [row["id"] for row in rows] == [row["id"] for row in told]
    for row, entry in zip(rows, told, strict=True):
        assert row["note"] == entry["note"]
        for name in ("value", "low", "high"):
            value = entry[name]
            if value is None:
                assert row[name] == ""
            elif isinstance(value, list | bool):
                assert json.loads(row[name]) == value
            elif isinstance(value, str):
                assert row[name] == value
            else:
                assert float(row[name]) == value


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--origin", "guess"), "no such origin"),
        (("--id", "nothing"), "no default is left"),
        (("--origin", "invented"), "no default is left"),
    ],
)
def test_what_is_not_there_is_bad_input(invoke, asked, said):
    found = invoke("sources", *asked)
    assert found.code == 2
    assert said in found.err
    assert found.out == ""
