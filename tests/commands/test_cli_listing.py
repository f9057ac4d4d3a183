"""`example`, `sources` and `schema`: what the package knows, for people and for programs."""

from __future__ import annotations

import subprocess
import sys

import pytest

from soundergate.scenario.register import ORIGINS


def test_examples_are_listed_with_what_they_show(invoke):
    said = invoke("example")
    names = [item["name"] for item in invoke("example", "--json").data]
    assert said.code == 0
    assert len(names) >= 3
    assert all(name in said.out for name in names)


def test_examples_as_json(invoke):
    for item in invoke("example", "--json").data:
        assert set(item) == {"name", "title", "shows"}
        assert item["name"].isidentifier()
        assert item["title"].startswith("Invented")


def test_every_example_is_a_file_that_checks_and_runs(invoke, tmp_path):
    for item in invoke("example", "--json").data:
        said = invoke("example", item["name"])
        assert said.err == ""
        file = tmp_path / f"{item['name']}.toml"
        file.write_text(said.out, encoding="utf-8")
        assert invoke("check", file, "--quiet").code == 0
        assert invoke("run", file, "--nights", 30, "--json").data["nights"] == 30


def test_sources_as_json_say_value_range_origin_and_citation(invoke):
    rows = invoke("sources", "--json").data
    assert len(rows) > 100
    for row in rows:
        assert list(row) == [
            "id",
            "value",
            "unit",
            "low",
            "high",
            "distribution",
            "origin",
            "citation",
            "note",
            "role",
            "none",
            "write",
        ]
        assert row["origin"] in ORIGINS
        if row["origin"] in ("standard", "published", "handbook"):
            assert row["citation"], row["id"]


def test_sources_as_a_table_name_every_id(invoke):
    said = invoke("sources")
    assert said.code == 0
    assert all(row["id"] in said.out for row in invoke("sources", "--json").data)


def test_sources_of_a_file_are_those_it_leaves_open(invoke, trap):
    everything = {row["id"] for row in invoke("sources", "--json").data}
    used = {row["id"] for row in invoke("sources", trap, "--json").data}
    assert used < everything
    assert "entry.clock" in used
    trap.write_text(trap.read_text() + '[entry]\nclock = "30 s"\n')
    assert "entry.clock" not in {row["id"] for row in invoke("sources", trap, "--json").data}


def test_schema_is_a_json_schema_of_a_scenario(invoke):
    schema = invoke("schema").data
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert {"sounder", "opening", "trigger"} <= set(schema["required"])


@pytest.mark.parametrize("command", [["sources"], ["schema"]])
def test_output_is_cut_off_quietly(command):
    """Whoever reads may stop reading: `soundergate sources | head -1` is no failure."""
    program = [sys.executable, "-m", "soundergate", *command]
    with subprocess.Popen(program, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()  # before anything can have been written
        told = run.stderr.read().decode()
    assert "Traceback" not in told
    assert run.returncode == 0
