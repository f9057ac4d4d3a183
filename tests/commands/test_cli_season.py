"""`season` as its user runs it."""

from __future__ import annotations

import json

import pytest


def test_it_tells_campaigns_and_what_they_teach(invoke, trap):
    said = invoke("season", trap, "--campaigns", 60, "--worlds", 0)
    assert said.code == 0
    for words in ("share of the group caught", "campaign.escaped_wary", "stop growth"):
        assert words in said.out
    assert "A campaign catches" in said.err
    assert "Local codes and licensed practice come first" in said.err
    assert "Costs" not in said.out  # no price is given


def test_json_is_whole_and_the_same_for_the_same_seed(invoke, trap):
    command = ("season", trap, "--campaigns", 40, "--worlds", 0, "--seed", 5, "--json", "--quiet")
    said = invoke(*command)
    assert said.err == ""
    assert said.data["campaigns"] == 40
    assert {"low", "high", "estimate", "level"} == set(said.data["setups"][0]["whole_group"])
    assert invoke(*command, "--workers", 1).out == said.out
    assert invoke(*command[:6], "--seed", 6, "--json", "--quiet").out != said.out


def test_both_engines_say_the_same(invoke, trap):
    command = ("season", trap, "--campaigns", 10, "--json", "--quiet", "--engine")
    said = invoke(*command, "reference").data
    assert said["worlds"] is None  # none unless asked for, which would take it long
    assert invoke(*command, "batch", "--worlds", 0).data == said


def test_prices_are_counted_and_compared(invoke, trap):
    trap.write_text(trap.read_text() + '[costs]\ncurrency = "EUR"\ntrip = 30\nbait = 10\n')
    said = invoke("season", trap, "--vary", "trigger.distance=12 ft,20 ft", "--campaigns", 20,
                  "--worlds", 20)  # fmt: skip
    assert said.code == 0
    assert "nine of ten plausible worlds a campaign catches" in said.err
    for words in ("No matter, ahead, or depends", "cost a pig saved", "What a pig must be worth"):
        assert words in said.out
    assert "EUR a pig" in said.out
    assert "Differences, campaign by campaign" in said.out
    assert "Not counted" in said.err


@pytest.mark.slow
def test_out_leaves_a_folder_to_hand_on(invoke, trap, tmp_path):
    out = tmp_path / "season"
    said = invoke("season", trap, "--campaigns", 30, "--worlds", 20, "--out", out)
    assert said.code == 0
    names = {path.name for path in out.iterdir()}
    assert {"campaigns.csv", "summary.csv", "worlds.csv", "season.json", "report.html"} <= names
    assert {"caught_by_night.png", "stop_growth.png"} <= names
    written = json.loads((out / "season.json").read_text())
    assert written["command"] == "season"
    assert written["worlds"]["asked"] == 20
    assert len((out / "worlds.csv").read_text().splitlines()) == 21
    assert "plausible worlds" in (out / "report.html").read_text()
    assert invoke("season", trap, "--campaigns", 30, "--out", out).code == 2
    assert (
        invoke("season", trap, "--campaigns", 30, "--worlds", 0, "--out", out, "--force").code == 0
    )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--campaigns", 1], "campaigns is 1"),
        (["--campaigns-a-year", -2], "campaigns a year is -2"),
        (["--vary", "campaign.set_nights=0"], "set_nights"),
        (["--vary", "campaign.nights=3"], "campaign"),
        (["--level", 2], "level is 2"),
        (["--worlds", 3], "worlds: 3"),
        (["--negligible", 0], "negligible is 0"),
    ],
)
def test_bad_input_is_one_clear_error(invoke, trap, arguments, words):
    said = invoke("season", trap, *arguments)
    assert said.code == 2
    assert said.out == ""
    assert words in " ".join(said.err.split())
    assert "Traceback" not in said.err


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('[campaign]\nchecks = "weekly"\n', "daily"),
        ("[campaign]\nbait_every = 0\n", "bait_every"),
        ("[campaign]\nescaped_wary = 1.5\n", "escaped_wary"),
        ("[costs]\nwage = -1\n", "wage"),
        ("[costs]\nequipment = 100\n", "equipment_campaigns"),
        ("[population]\nsounders = 0\n", "sounders"),
    ],
)
def test_a_bad_table_names_its_key(invoke, trap, line, words):
    trap.write_text(trap.read_text() + line)
    said = invoke("season", trap, "--campaigns", 20, "--worlds", 0)
    assert said.code == 2
    assert words in " ".join(said.err.split())
    assert "Traceback" not in said.err
