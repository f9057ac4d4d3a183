"""A run.json is what its run is repeated by: the same nights to the bit, the same bytes."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from shared.tiers import few_first
from soundergate.commands import outputs
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.examples import names, text
from soundergate.studies import record, repeat

NIGHTS = ("--nights", 40)
STUDY = """
title = "Invented: two heights"
base = "trap.toml"
seed = 5
nights = 60
level = 0.9
against = "high"
measures = ["caught", "whole_group"]
save_nights = true

[[arm]]
name = "high"

[[arm]]
name = "low"
set = {"trigger.height" = "10 in"}

[[arm]]
name = "made of nothing"
file = "nowhere.toml"

[robust]
worlds = 20
nights = 20
only = ["entry"]
"""


@pytest.fixture
def numbers_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """No pictures and no tornado: they follow from what is compared here, and take long."""
    monkeypatch.setattr(outputs, "leans_on", lambda *_: None)
    monkeypatch.setattr(outputs, "difference_leans_on", lambda *_: None)
    monkeypatch.setattr(outputs, "write_page", lambda *_: [])
    monkeypatch.setattr(outputs, "_traces", lambda *_: [])
    monkeypatch.setattr(outputs, "_examples", lambda *_: {})
    for page in ("run", "comparison", "study"):
        empty = SimpleNamespace(tables=[])
        monkeypatch.setattr(
            f"soundergate.report.pages.{page}.{page}_page", lambda *_, empty=empty, **__: empty
        )


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but the store of chunks, which is cut by the clock."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix != ".sqlite"}


def same(one: Path, other: Path) -> None:
    ours, theirs = contents(one), contents(other)
    assert ours.keys() == theirs.keys()
    assert [name for name in ours if ours[name] != theirs[name]] == []


@pytest.mark.parametrize("name", few_first(names()))
def test_every_example_is_repeated_to_the_byte(invoke, numbers_only, tmp_path, name):
    file, first, again = tmp_path / f"{name}.toml", tmp_path / "first", tmp_path / "again"
    file.write_text(text(name), encoding="utf-8")
    assert invoke("run", file, *NIGHTS, "--seed", 7, "--level", 0.9, "--out", first).code == 0
    file.unlink()  # run.json alone is enough
    said = invoke("run", first / "run.json", "--out", again)
    assert said.code == 0, said.err
    assert "Repeats" in said.err
    assert {"nights.csv.gz", "summary.csv", "run.json"} <= contents(again).keys()
    same(first, again)


@pytest.mark.slow
@pytest.mark.parametrize("name", names())
def test_so_are_its_pictures_and_its_page(invoke, tmp_path, name):
    file, first, again = tmp_path / f"{name}.toml", tmp_path / "first", tmp_path / "again"
    file.write_text(text(name), encoding="utf-8")
    assert invoke("run", file, *NIGHTS, "--out", first).code == 0
    assert invoke("run", first / "run.json", "--out", again).code == 0
    assert "report.html" in contents(first)
    same(first, again)


@pytest.mark.parametrize(
    "options",
    [
        ("--precision", 0.2, "--seed", 3),
        ("--precision", "caught=0.5,whole_group=0.2", "--nights", 2000),
        ("--nights", 30, "--engine", "reference"),
        ("--nights", 50, "--sums-only"),
    ],
)
def test_whatever_was_asked_is_asked_again(invoke, numbers_only, trap, tmp_path, options):
    assert invoke("run", trap, *options, "--out", tmp_path / "a", "--quiet").code == 0
    assert invoke("run", tmp_path / "a" / "run.json", "--out", tmp_path / "b", "--quiet").code == 0
    same(tmp_path / "a", tmp_path / "b")


def test_the_setup_stands_as_it_was_written(invoke, numbers_only, trap, tmp_path):
    invoke("run", trap, *NIGHTS, "--out", tmp_path / "a", "--quiet")
    told = json.loads((tmp_path / "a" / "run.json").read_text(encoding="utf-8"))
    assert told["scenario"]["as_written"]["opening"][0]["width"] == "4 ft"
    assert told["scenario"]["resolved"]["opening"][0]["width"].endswith(" m")
    assert "folder" not in json.dumps(told)
    assert str(tmp_path) not in json.dumps(told)


def test_what_is_typed_stands_in_its_place_and_is_said(invoke, numbers_only, trap, tmp_path):
    a, b, c = (tmp_path / name for name in "abc")
    invoke("run", trap, *NIGHTS, "--out", a, "--quiet")
    said = invoke("run", a / "run.json", "--seed", 9, "--nights", 50, "--out", b)
    assert "seed 9 in place of 1" in said.err
    assert "nights 50 in place of 40" in said.err
    invoke("run", trap, "--seed", 9, "--nights", 50, "--out", c, "--quiet")
    same(b, c)


def test_without_a_folder_it_is_only_told(invoke, trap, tmp_path, numbers_only):
    invoke("run", trap, *NIGHTS, "--out", tmp_path / "a", "--quiet")
    first = invoke("run", trap, *NIGHTS, "--json", "--quiet")
    again = invoke("run", tmp_path / "a" / "run.json", "--json", "--quiet")
    assert again.code == 0
    assert again.out == first.out
    assert again.err == ""


def test_a_comparison_is_repeated(invoke, numbers_only, trap, tmp_path):
    other = trap.with_name("other.toml")
    other.write_text(trap.read_text().replace("juveniles = 4", "juveniles = 6"))
    options = (*NIGHTS, "--seed", 4, "--against", "other, trigger.height=16 in")
    vary = ("--vary", "trigger.height=10 in,16 in", "--trial-power", 0.8)
    said = invoke("compare", trap, other, *vary, *options, "--out", tmp_path / "a")
    assert said.code == 0, said.err
    other.unlink()
    again = invoke("compare", tmp_path / "a" / "run.json", "--out", tmp_path / "b")
    assert again.code == 0, again.err
    same(tmp_path / "a", tmp_path / "b")
    assert again.out == said.out
    told = invoke("compare", tmp_path / "a" / "run.json", "--trial-power", 0.9)
    assert "trial power 0.9 in place of 0.8" in told.err


def test_a_study_is_repeated_and_so_is_what_could_not_be_played(
    invoke, numbers_only, trap, tmp_path
):
    file = trap.with_name("study.toml")
    file.write_text(STUDY, encoding="utf-8")
    said = invoke("study", file, "--out", tmp_path / "a", "--seed", 6)
    assert said.code == 0, said.err
    shutil.rmtree(trap.parent)
    again = invoke("study", tmp_path / "a" / "run.json", "--out", tmp_path / "b")
    assert again.code == 0, again.err
    assert "Not played: made of nothing" in again.err
    assert {"robust.csv", "worlds.csv", "nights_low.csv.gz"} <= contents(tmp_path / "b").keys()
    same(tmp_path / "a", tmp_path / "b")
    other = invoke("study", tmp_path / "a" / "run.json", "--nights", 80, "--quiet", "--json")
    assert other.data["nights"] == 80


def test_of_a_run_that_was_stopped_the_nights_that_were_done_are_played(
    invoke, numbers_only, trap, tmp_path
):
    a, b = tmp_path / "a", tmp_path / "b"
    invoke("run", trap, "--precision", 0.2, "--nights", 3000, "--out", a, "--quiet")
    told = json.loads((a / "run.json").read_text(encoding="utf-8"))
    told |= {"interrupted": True, "nights": 25}
    as_if_left(a / "run.json", told)
    said = invoke("run", a / "run.json", "--out", b)
    assert "stopped after 25 nights" in said.err
    assert json.loads((b / "run.json").read_text(encoding="utf-8"))["nights"] == 25
    more = invoke("run", a / "run.json", "--nights", 30, "--json")
    assert more.data["nights"] == 30
    assert "was stopped" not in more.err


def as_if_left(path: Path, told: dict) -> None:
    """A record with other contents, as another machine or version would have written it."""
    record.write_record(path, told)


def leaves(told: object, lead: tuple = ()) -> Iterator[tuple]:
    """The way to every number and text in a record."""
    if isinstance(told, dict):
        for key, value in told.items():
            yield from leaves(value, (*lead, key))
    elif isinstance(told, list):
        for place, value in enumerate(told):
            yield from leaves(value, (*lead, place))
    elif told is not None:
        yield lead


@pytest.fixture
def left(invoke, numbers_only, trap, tmp_path) -> Path:
    invoke("run", trap, *NIGHTS, "--out", tmp_path / "left", "--quiet")
    return tmp_path / "left" / "run.json"


@pytest.mark.parametrize("command", ["compare", "study"])
def test_the_command_that_repeats_it_is_named(invoke, left, command):
    said = invoke(command, left)
    assert said.code == 2
    assert f"soundergate run {left}" in " ".join(said.err.split())


def test_a_record_is_repeated_alone(invoke, left, trap):
    for said in (
        invoke("compare", left, trap),
        invoke("compare", left, "--vary", "trigger.height=10 in,16 in"),
    ):
        assert said.code == 2
        assert "Error: " in said.err
        assert "Traceback" not in said.err


def test_other_versions_and_other_defaults_are_said(invoke, left):
    told = json.loads(left.read_text(encoding="utf-8"))
    assert "versions may" not in invoke("run", left).err
    told["versions"]["numpy"] = "1.0"
    told["register"] = "another"
    told["scenario"]["resolved"]["corral"]["diameter"] = "1.0 m"
    as_if_left(left, told)
    said = invoke("run", left, "--quiet")
    assert said.code == 0
    assert "numpy 1.0, now" in said.err
    assert "register of defaults" in said.err
    assert "corral.diameter was 1.0 m, is now" in said.err


@pytest.mark.slow
def test_whatever_is_edited_is_never_called_a_repetition(left):
    """Each number and each text in turn: what it asks for may be played, and that is said."""
    whole = json.loads(left.read_text(encoding="utf-8"))
    assert not repeat.read(left, "run").edited
    tried = 0
    for *way, last in leaves(whole):
        told = json.loads(json.dumps(whole))
        place = told
        for key in way:
            place = place[key]
        was = place[last]
        place[last] = was + "9" if isinstance(was, str) else (1 - was if was in (0, 1) else was + 1)
        left.write_text(json.dumps(told), encoding="utf-8")
        try:
            assert repeat.read(left, "run").edited, (*way, last)
        except ScenarioError:
            continue
        tried += 1
    assert tried > 100


def test_of_a_record_without_a_digest_it_is_said(invoke, left):
    told = json.loads(left.read_text(encoding="utf-8"))
    del told["digest"]
    left.write_text(json.dumps(told), encoding="utf-8")
    said = invoke("run", left)
    assert "Repeats" in said.err
    assert "whether it was edited cannot be said" in said.err


def test_of_an_edited_record_it_is_said_that_it_is_another_run(invoke, left):
    told = json.loads(left.read_text(encoding="utf-8"))
    told["asked"]["seed"] = 9
    left.write_text(json.dumps(told), encoding="utf-8")
    said = invoke("run", left, "--quiet", "--json")
    assert said.data["seed"] == 9
    assert "was edited after it was written" in said.err
    assert "Repeats" not in said.err
    assert "Defaults have changed" not in said.err


def test_every_part_of_a_record_is_missed(invoke, left):
    """Whatever is taken out of it or turned into something else, it is one sentence."""
    whole = json.loads(left.read_text(encoding="utf-8"))
    used = ["command", "asked", "scenario"]
    used += [f"asked.{key}" for key in whole["asked"]]
    used += [f"scenario.{key}" for key in ("as_written", "source")]
    for path in used:
        for change in ("gone", {"x": []}, [3], -1.5, True):
            told = json.loads(json.dumps(whole))
            *lead, key = path.split(".")
            place = told[lead[0]] if lead else told
            if change == "gone":
                del place[key]
            else:
                place[key] = change
            if key in ("against", "trial_power") and change == "gone":
                continue  # of `compare` alone
            if place.get(key) == whole.get(path) or (key == "keep_nights" and change is True):
                continue
            left.write_text(json.dumps(told), encoding="utf-8")
            said = invoke("run", left)
            assert said.code == 2, (path, change)
            assert said.err.startswith("Error: "), (path, change)
            assert len(said.err.strip().splitlines()) == 1, (path, change)
            assert "Traceback" not in said.err


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not valid JSON"),
        (b"{", "line 1, column 2"),
        (b"[1, 2]", "no record of a run"),
        (b'{"a": 1}', "no record of a run"),
        (b'{"command": "run", "nights": NaN}', "NaN is no number"),
        (b'{"command": "season"}', "from its scenario files"),
        (b'{"command": "fly"}', "no record that `run` left"),
        (b'{"command": "run"}', "older version"),
        (b"\xff\xfe", "not UTF-8"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"command": "run", "nights": ' + b"9" * 5000 + b"}", "not valid JSON"),
    ],
)
def test_foreign_json_is_one_clear_error(invoke, tmp_path, data, words):
    file = tmp_path / "some.json"
    file.write_bytes(data)
    said = invoke("run", file)
    assert said.code == 2
    assert words in said.err
    assert "some.json" in said.err
    assert len(said.err.strip().splitlines()) == 1


def test_a_file_that_is_not_there_or_too_large(invoke, tmp_path, monkeypatch):
    assert "there is no such file" in invoke("run", tmp_path / "none.json").err
    assert "there is no such file" in invoke("run", tmp_path / "none.json").err
    file = tmp_path / "some.json"
    file.write_bytes(b"{}")
    monkeypatch.setattr(repeat, "LARGEST_FILE", 1)
    assert "larger than 1 bytes" in invoke("run", file).err
