"""`compare` and `study`: common nights, arms with names, differences, and what they leave."""

from __future__ import annotations

import json
import re

import pytest

VARY = ("--vary", "trigger.distance=15 ft,20 ft")
NIGHTS = ("--nights", 200)
STUDY = """
title = "Invented: where to hang the line"
base = "files/trap.toml"
nights = 150
seed = 3

[[arm]]
name = "near"
set = {"trigger.distance" = "15 ft"}

[[arm]]
name = "far"

[[arm]]
name = "absurd"
set = {"trigger.distance" = "15 lb"}
"""


def test_arms_and_differences_as_json(invoke, trap):
    data = invoke("compare", trap, *VARY, *NIGHTS, "--json").data
    near, far = data["arms"]
    assert near["name"] == "trigger.distance=15 ft"
    assert near["set"] == {"trigger.distance": "15 ft"}
    assert far["fraction_caught"]["level"] == 0.95
    found = {d["measure"]: d for d in data["differences"]}
    caught = found["caught"]
    assert {"a", "b", "measure", "estimate", "low", "high", "level"} <= set(caught)
    assert (caught["a"], caught["b"]) == (near["name"], far["name"])
    apart = near["caught"]["estimate"] - far["caught"]["estimate"]
    assert caught["estimate"] == pytest.approx(apart)


def test_an_arm_is_the_run_of_that_setup(invoke, trap):
    data = invoke("compare", trap, *VARY, *NIGHTS, "--seed", 8, "--json").data
    alone = invoke("run", trap, *NIGHTS, "--seed", 8, "--json").data  # the file says 20 ft
    assert data["arms"][1]["caught"] == alone["caught"]


def test_two_texts_give_every_combination(invoke, trap):
    data = invoke("compare", trap, *VARY, "--vary", "sounder.sows=1,2", "--nights", 40, "--json")
    assert [arm["set"] for arm in data.data["arms"]] == [
        {"trigger.distance": distance, "sounder.sows": sows}
        for distance in ("15 ft", "20 ft")
        for sows in (1, 2)
    ]


def test_tables_and_verdict(invoke, trap):
    said = invoke("compare", trap, *VARY, *NIGHTS)
    assert said.code == 0
    assert "trigger.distance=15 ft − trigger.distance=20 ft" in said.out
    assert "settled" in said.out
    assert "largest share of its group" in said.err.splitlines()[0]
    assert "licensed practice" in said.err
    assert invoke("compare", trap, *VARY, "--nights", 20, "--quiet").err == ""


def test_files_are_arms_by_their_names(invoke, trap):
    other = trap.with_name("other.toml")
    other.write_text(trap.read_text().replace("juveniles = 4", "juveniles = 6"))
    data = invoke("compare", trap, other, "--nights", 30, "--json").data
    assert [(arm["name"], arm["group_size"]) for arm in data["arms"]] == [("trap", 5), ("other", 7)]


@pytest.mark.slow
def test_out_of_a_comparison(invoke, trap, tmp_path, few_defaults):
    out = tmp_path / "out"
    data = invoke("compare", trap, *VARY, "--nights", 60, "--json", "--out", out).data
    names = {path.name for path in out.iterdir()}
    wanted = {"summary.csv", "differences.csv", "run.json", "report.html", "fates.png"}
    assert wanted <= names
    assert "nights_trigger.distance-15-ft.csv.gz" in names
    record = json.loads((out / "run.json").read_text())
    assert record["differences"] == data["differences"]
    drawn = {path.stem for path in out.glob("*.png")}
    assert {"fates", "difference_caught", "leans_on"} <= drawn
    assert {path.stem for path in out.glob("*.svg")} == drawn


@pytest.mark.slow
def test_nights_of_the_best_setup_are_played_again(invoke, trap, tmp_path, few_defaults):
    out = tmp_path / "out"
    data = invoke("compare", trap, *VARY, "--nights", 60, "--json", "--out", out).data
    page = (out / "report.html").read_text()
    best = max(data["arms"], key=lambda arm: arm["fraction_caught"]["estimate"])["name"]
    assert f"Nights of “{best}” played again" in page
    heads = re.findall(r"<h3>([\w, ]+): night (\d+)</h3>", page)
    named = {what for text, _ in heads for what in text.lower().split(", ")}
    assert named == {"typical", "worst", "best"}
    assert len({night for _, night in heads}) == len(heads) == page.count('class="replay-data"')


@pytest.fixture
def question(trap, tmp_path):
    file = tmp_path / "question.toml"
    file.write_text(STUDY, encoding="utf-8")
    return file


@pytest.mark.slow
def test_a_study_is_played_and_says_what_could_not_be(invoke, question, tmp_path, few_defaults):
    out = tmp_path / "out"
    said = invoke("study", question, "--out", out, "--json")
    assert said.code == 0
    assert [arm["name"] for arm in said.data["arms"]] == ["near", "far"]
    assert (said.data["nights"], said.data["seed"]) == (150, 3)
    assert [arm["name"] for arm in said.data["failed"]] == ["absurd"]
    assert "Not played: absurd:" in said.err
    assert "length" in said.err
    assert "absurd" in (out / "report.html").read_text()
    assert (out / "differences.csv").read_text().startswith("a,b,measure")


def test_options_stand_in_place_of_the_file(invoke, question):
    data = invoke("study", question, "--nights", 40, "--seed", 0, "--json").data
    assert (data["nights"], data["seed"]) == (40, 0)


def test_what_could_not_be_played_is_said_even_when_quiet(invoke, question):
    assert "Not played: absurd:" in invoke("study", question, "--nights", 20, "--quiet").err


WORLDS = """
[robust]
worlds = 20
nights = 20
only = ["entry.clock"]
"""


@pytest.mark.slow
def test_a_study_tells_the_worlds_and_keeps_its_pictures_small(invoke, question, tmp_path):
    question.write_text(question.read_text() + WORLDS, encoding="utf-8")
    out = tmp_path / "out"
    said = invoke("study", question, "--out", out)
    assert "That is over 20 plausible worlds. In each, everything that nobody knows" in said.err
    assert "Over all worlds" in said.err
    assert {p.stem for p in out.glob("*.png")} >= {"fates", "caught", "filling", "worlds", "worth"}
    assert list(out.glob("*.svg")) == []
    assert "plausible worlds" not in invoke("study", question, "--quiet").err


@pytest.mark.slow
def test_a_study_without_worlds_says_what_its_first_difference_leans_on(invoke, question, tmp_path):
    out = tmp_path / "out"
    said = invoke("study", question, "--out", out)
    assert "Defaults that move the difference between near and far most: " in said.err
    assert (out / "leans_on.png").exists()


@pytest.mark.slow
def test_it_says_how_large_a_field_trial_would_be(invoke, trap, tmp_path, few_defaults):
    command = ("compare", trap, "--vary", "trigger.distance=10 ft,20 ft", "--nights", 300)
    said = invoke(*command, "--trial-power", 0.8, "--out", tmp_path / "trial")
    assert said.code == 0
    assert "sounders in each arm" in " ".join(said.out.split())
    assert "the least that a trial would need" in said.err
    assert "the least that a trial would need" in (tmp_path / "trial/report.html").read_text()
    told = invoke(*command, "--trial-power", 0.8, "--json", "--quiet").data["trial"]
    assert {one["measure"] for one in told} == {"fraction_caught", "whole_group"}
    assert "trial" not in invoke(*command, "--json", "--quiet").data
    refused = invoke(*command, "--trial-power", 80)
    assert refused.code == 2
    assert "power is 80" in refused.err
