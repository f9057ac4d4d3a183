"""`run` and `compare` over plausible worlds: what is said first, printed, written and repeated."""

from __future__ import annotations

import csv
import gzip
import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from soundergate.commands import outputs

WORLDS = ("--worlds", 20, "--nights", 200)


@pytest.fixture(autouse=True)
def no_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages have tests of their own, and take long."""
    monkeypatch.setattr(outputs, "write_page", lambda *_: [])
    monkeypatch.setattr(outputs, "_traces", lambda *_: [])
    monkeypatch.setattr(outputs, "_examples", lambda *_: {})
    for page in ("run", "comparison"):
        empty = SimpleNamespace(tables=[], pictures=[], answer=[])
        monkeypatch.setattr(
            f"soundergate.report.pages.{page}.{page}_page", lambda *_, empty=empty, **__: empty
        )


def rows(path: Path) -> list[dict[str, str]]:
    text = gzip.decompress(path.read_bytes()).decode() if path.suffix == ".gz" else path.read_text()
    return list(csv.DictReader(text.splitlines()))


def test_a_run_leads_with_worlds_and_says_its_own_error_for_what_it_is(trap, invoke):
    said = invoke("run", trap, *WORLDS)
    lead, *rest = said.err.splitlines()
    assert lead.startswith("In nine of ten plausible worlds this trap catches between")
    assert any(line.startswith("With every unknown at its middle value") for line in rest)
    assert "what you decide" in said.err or "things that you decide" in said.err
    assert said.out.index("Over 20 plausible worlds") < said.out.index("Monte Carlo range")


def test_numbers_of_a_run_are_those_of_its_worlds_file(trap, invoke, tmp_path):
    """Quantiles and nights, recomputed from what was written."""
    out = tmp_path / "out"
    data = invoke("run", trap, *WORLDS, "--out", out, "--json").data["worlds"]
    worlds = rows(out / "worlds.csv")
    assert [int(row["world"]) for row in worlds] == list(range(1, 21))
    caught = np.array([float(row["fraction_caught"]) for row in worlds])
    told = data["measures"]["fraction_caught"]
    for name, share in (("low", 0.05), ("middle", 0.5), ("high", 0.95)):
        assert told[name]["estimate"] == pytest.approx(np.quantile(caught, share))
    nights = rows(out / "nights.csv.gz")
    assert [row["world"] for row in nights] == ["0"] * 200 + [
        str(world) for world in range(1, 21) for _ in range(200)
    ]
    third = [row for row in nights if row["world"] == "3"]
    assert [int(row["night"]) for row in third] == list(range(400, 600))
    share = np.mean([int(row["caught"]) / int(row["group_size"]) for row in third])
    assert share == pytest.approx(caught[2])
    # every unknown with its value and its place
    assert 0 < float(worlds[0]["entry.clock place (s; log-normal; 10 to 300)"]) < 1
    assert float(worlds[0]["entry.clock"]) > 0
    assert float(worlds[0]["struck"]) >= 0  # a measure that is only written down


def test_a_world_is_the_trap_with_those_values_written_down(trap, invoke, tmp_path):
    """Each value of a world set by hand, in the register's unit, plays that world's nights."""
    from soundergate.engine import play
    from soundergate.scenario.loading import load
    from soundergate.studies.players import plan_of
    from soundergate.studies.worlds.worlds import draw, in_world, unknowns

    out = tmp_path / "out"
    invoke("run", trap, *WORLDS, "--out", out, "--seed", 7)
    scenario = load(trap)
    what = unknowns([scenario])
    second = in_world(scenario, what, draw(what, 20, 7)[1].tolist())
    played = play(plan_of(second), 7, 200, 200)
    written = [row for row in rows(out / "nights.csv.gz") if row["world"] == "2"]
    assert [int(row["caught"]) for row in written] == played["caught"].tolist()


def test_run_json_keeps_the_file_as_written_and_repeats_the_worlds(trap, invoke, tmp_path):
    trap.write_text(trap.read_text() + '[entry]\nclock = {about = "90 s"}\n')
    first, again = tmp_path / "first", tmp_path / "again"
    a = invoke("run", trap, *WORLDS, "--out", first, "--json")
    record = json.loads((first / "run.json").read_text())
    assert record["scenario"]["as_written"]["entry"]["clock"] == {"about": "90 s"}
    assert record["asked"]["worlds"] == 20
    b = invoke("run", first / "run.json", "--out", again, "--json")
    assert a.out == b.out
    for name in ("run.json", "worlds.csv", "nights.csv.gz"):
        assert (first / name).read_bytes() == (again / name).read_bytes()
    fewer = invoke("run", first / "run.json", "--worlds", 0, "--json")
    assert "worlds 0 in place of 20" in fewer.err
    assert fewer.data["worlds"] is None
    assert fewer.data["caught"] == a.data["caught"]


def test_a_file_that_states_all_has_one_world(trap, invoke):
    from soundergate.scenario.assumptions import unknowns_of
    from soundergate.scenario.loading import load, read_value, with_values

    night = load(trap)
    while left := unknowns_of(night):
        plain = {
            path: read_value(entry.write)
            for path, entry in left
            if not path.endswith((".sigma", ".cv"))
        }
        night = with_values(night, plain)
    import soundergate.commands.run as command

    said = command.worlds_answer(command_over(night), night, 5)
    assert said == ["Everything that matters is stated in the file, so there is one world to play."]


def command_over(night):
    from soundergate.studies.worlds.one_setup import over_worlds

    return over_worlds(night, 20, 10)


def test_a_comparison_leads_with_a_verdict_and_writes_its_worlds(trap, invoke, tmp_path):
    out = tmp_path / "out"
    said = invoke("compare", trap, "--vary", "opening.width=4 ft,4.01 ft", *WORLDS, "--out", out)
    first = said.err.splitlines()[0]
    assert "20 worlds leave it open" in first  # twenty worlds are too few to show nine in ten
    assert said.out.startswith("No matter, ahead, or depends")
    worlds = rows(out / "worlds.csv")
    assert len(worlds) == 20
    record = json.loads((out / "run.json").read_text())
    (first, *_) = record["worlds"]["verdicts"]
    gains = [
        float(row["opening.width=4 ft: fraction_caught"])
        - float(row["opening.width=4.01 ft: fraction_caught"])
        for row in worlds
    ]
    assert first["mean"] == pytest.approx(np.mean(gains))
    assert first["alike"] == np.mean(np.abs(gains) < 0.02)
    again = invoke("compare", out / "run.json", "--json")
    assert again.data["worlds"] == record["worlds"]


@pytest.mark.slow
def test_alike_setups_do_not_matter_and_a_bad_one_is_behind(trap, invoke):
    vary = ("--vary", "trigger.height=16 in,16.01 in,48 in")
    said = invoke("compare", trap, *vary, "--worlds", 60, "--nights", 50)
    assert "it does not matter which" in said.err
    assert said.err.count("is ahead of “trigger.height=48 in”") == 2


@pytest.mark.parametrize(
    ("option", "why"),
    [
        (("--worlds", 3), "worlds: 3; wanted a whole number, 20 or more"),
        (("--negligible", 0), "negligible is 0"),
        (("--negligible", 1.5), "negligible is 1.5"),
    ],
)
def test_wrong_numbers_are_refused(trap, invoke, option, why):
    said = invoke("compare", trap, "--vary", "opening.width=4 ft,5 ft", *option)
    assert said.code == 2
    assert why in said.err


def test_the_slow_engine_plays_worlds_only_if_asked(trap, tmp_path):
    from soundergate.commands.options import RunOptions
    from soundergate.commands.workplace import how_many

    options = RunOptions(file=trap)
    assert how_many(None, options) == 200
    assert how_many(None, RunOptions(file=trap, engine="reference")) == 0
    assert how_many(40, RunOptions(file=trap, engine="reference")) == 40
