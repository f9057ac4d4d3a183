"""`run`: words first, a table, JSON with fixed keys, files that repeat, and an end by hand."""

from __future__ import annotations

import contextlib
import gzip
import json
import os
import signal
import subprocess
import sys

import pytest

from soundergate.commands import progress

ESTIMATES = ("fraction_caught", "caught", "escaped", "whole_group", "released", "failed_release")
NIGHTS = ("--nights", 300)


def test_the_first_line_is_the_answer_in_words(invoke, trap):
    said = invoke("run", trap, *NIGHTS)
    data = invoke("run", trap, *NIGHTS, "--json").data
    first = said.err.splitlines()[0]
    assert first.startswith("About ")
    assert "of 5 pigs caught on an average night (95 % sure: " in first
    low, high = (f"{data['caught'][end]:.1f}" for end in ("low", "high"))
    assert f"{low} to {high}" in first


def test_table_on_standard_output_words_on_standard_error(invoke, trap):
    said = invoke("run", trap, *NIGHTS)
    assert said.code == 0
    assert "share of the group caught" in said.out
    assert "average night" not in said.out
    assert "share of the group caught" not in said.err
    assert "no promise" in said.err
    assert "licensed practice" in said.err


def test_quiet_leaves_the_table_alone(invoke, trap):
    said = invoke("run", trap, *NIGHTS, "--quiet")
    assert said.err == ""
    assert "share of the group caught" in said.out


def test_json_has_its_keys_and_nothing_else_on_standard_output(invoke, trap):
    data = invoke("run", trap, *NIGHTS, "--seed", 5, "--json").data
    assert (data["nights"], data["seed"], data["group_size"]) == (300, 5, 5)
    for name in ESTIMATES:
        assert set(data[name]) == {"estimate", "low", "high", "level"}
        assert data[name]["low"] <= data[name]["estimate"] <= data[name]["high"]
        assert data[name]["level"] == 0.95
    assert data["caught"]["estimate"] == pytest.approx(5 * data["fraction_caught"]["estimate"])


def test_level_widens_the_range(invoke, trap):
    wide = invoke("run", trap, *NIGHTS, "--json", "--level", 0.99).data["caught"]
    narrow = invoke("run", trap, *NIGHTS, "--json").data["caught"]
    assert wide["low"] < narrow["low"] <= narrow["high"] < wide["high"]


def test_precision_is_reached_and_said(invoke, trap):
    data = invoke("run", trap, "--precision", "whole_group=0.04", "--json").data
    assert data["precision_reached"] is True
    assert data["whole_group"]["high"] - data["whole_group"]["low"] <= 0.08


def test_precision_out_of_reach_is_said_in_words(invoke, trap):
    said = invoke("run", trap, "--precision", "0.0001", *NIGHTS)
    assert said.code == 0
    assert "was not reached" in said.err


def test_both_engines_and_any_number_of_workers_answer_alike(invoke, trap):
    asked = ("run", trap, "--nights", 120, "--json")
    batch = invoke(*asked, "--workers", 2).data
    assert invoke(*asked, "--workers", 1).data == batch
    assert invoke(*asked, "--engine", "reference").data == batch


def test_out_holds_what_is_promised(invoke, trap, tmp_path, few_defaults):
    out = tmp_path / "deep" / "out"
    said = invoke("run", trap, *NIGHTS, "--out", out, "--json")
    names = {path.name for path in out.iterdir()}
    wanted = {
        "nights.csv.gz",
        "summary.csv",
        "run.json",
        "report.html",
        "caught.png",
        "night.svg",
    }
    assert wanted <= names
    assert not [path.name for path in out.iterdir() if path.stat().st_size == 0]
    record = json.loads((out / "run.json").read_text())
    assert record["caught"] == said.data["caught"]
    assert record["scenario"]["as_written"]["sounder"] == {"sows": 1, "juveniles": 4}
    assert "soundergate" in record["versions"]
    rows = gzip.decompress((out / "nights.csv.gz").read_bytes()).decode().splitlines()
    assert len(rows) == 1 + NIGHTS[1]
    page = (out / "report.html").read_text()
    assert "Local codes and licensed practice come first" in page
    assert f"Written to {out}" in said.err


@pytest.mark.slow
def test_the_same_run_writes_the_same_bytes_wherever_it_stands(
    invoke, trap, tmp_path, few_defaults
):
    elsewhere = tmp_path / "elsewhere" / "trap.toml"
    elsewhere.parent.mkdir()
    elsewhere.write_text(trap.read_text())
    first, second = tmp_path / "first", tmp_path / "second"
    invoke("run", trap, "--nights", 60, "--out", first, "--workers", 1)
    invoke("run", elsewhere, "--nights", 60, "--out", second, "--workers", 2)
    names = sorted(path.name for path in first.iterdir())
    assert names == sorted(path.name for path in second.iterdir())
    for name in names:
        content = (first / name).read_bytes()
        assert content == (second / name).read_bytes(), name
        assert str(tmp_path).encode() not in content, name


@pytest.mark.slow
def test_a_title_cannot_paint_the_terminal_or_the_page(invoke, trap, tmp_path, few_defaults):
    text = trap.read_text()
    title = 'title = "[bold]x[/bold] [link=file:///]y[/link] <script>alert(1)</script>"'
    trap.write_text(text.replace('title = "Invented: a test trap"', title))
    said = invoke("run", trap, "--nights", 20, "--out", tmp_path / "out")
    assert said.code == 0
    assert "<script>alert(1)" not in (tmp_path / "out" / "report.html").read_text()


def test_a_control_code_in_a_title_is_refused_and_not_repeated(invoke, trap):
    trap.write_text(trap.read_text().replace("Invented: a test trap", r"\u001b[31m red"))
    said = invoke("check", trap)
    assert said.code == 2
    assert "control character (U+001B)" in said.err
    assert "\x1b" not in said.out + said.err


@pytest.mark.slow
def test_the_first_run_says_that_it_compiles_and_how_far_it_is(trap, tmp_path):
    command = [sys.executable, "-m", "soundergate", "run", str(trap), "--nights", "5"]
    environment = os.environ | {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    said = [
        subprocess.run([*command, *more], env=environment, capture_output=True, text=True).stderr
        for more in (["--engine", "reference"], [], [])
    ]
    for words in ("Compiling the batch engine for this computer, once", "25 %", "50 %", "75 %"):
        assert [words in text for text in said] == [False, True, False]


def test_compiling_is_told_by_quarters_and_only_once_it_begins(capsys):
    for shares, lines in (((0.1, 0.5, 1.0), 0), ((0.0, 0.0, 0.1, 0.3, 0.31, 0.6, 1.0), 3)):
        told = progress.Quarters("for this run")
        for share in shares:
            told(share)
        assert len(capsys.readouterr().err.splitlines()) == lines


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGINT and a pseudo-terminal")
def test_ctrl_c_reports_the_nights_that_were_done(trap, invoke):
    """A real SIGINT, sent once the bar on the terminal says that nights are being played."""
    import pty

    terminal, end = pty.openpty()
    command = [sys.executable, "-m", "soundergate", "run", str(trap), "--json"]
    run = subprocess.Popen(
        [*command, "--nights", "50000000"], stdout=subprocess.PIPE, stderr=end, text=True
    )
    os.close(end)
    told = ""
    while "of 50,000,000" not in told:
        told += os.read(terminal, 4096).decode()
    run.send_signal(signal.SIGINT)
    with contextlib.suppress(OSError):  # how a pseudo-terminal says that the other end is closed
        while more := os.read(terminal, 4096).decode():
            told += more
    out, _ = run.communicate()
    assert run.returncode == 0
    data = json.loads(out)
    assert data["interrupted"] is True
    assert 0 < data["nights"] < 50_000_000
    assert f"Stopped after {data['nights']:,} nights" in told
    # what is reported is the very run of so many nights
    whole = invoke("run", trap, "--nights", data["nights"], "--json").data
    assert whole["caught"] == data["caught"]
    assert whole["interrupted"] is False
