"""`run`, `compare` and `study` with `--out` name the defaults that the answer leans on."""

from __future__ import annotations

import json

import pytest

from soundergate.scenario.register import register
from soundergate.studies.store.store import NAME
from soundergate.studies.worlds.phrases import named


@pytest.mark.slow
def test_what_the_answer_leans_on(invoke, trap, tmp_path):
    out = tmp_path / "out"
    said = invoke("run", trap, "--nights", 150, "--out", out)
    leans = json.loads((out / "run.json").read_text())["leans_on"]
    assert (leans["screened"], leans["nights"]) == (150, 150), "no more nights than the run"
    assert leans["considered"] > 70
    swings = [row["id"] for row in leans["swings"]]
    assert len(swings) == 10
    assert set(swings) <= set(register())
    assert (out / "leans_on.png").stat().st_size > 10_000
    told = said.err.split("Defaults that move the answer most: ")[1].split(". Each of")[0]
    ids = [one.rpartition("(")[2].rstrip(")") for one in told.split("; ")]
    assert set(ids) <= set(swings)
    assert told == "; ".join(named(one) for one in ids)
    page = (out / "report.html").read_text()
    assert "Where the answer would stand if one default were at the low or the high end" in page
    first = page.index(f">{ids[0]}<")
    assert first < page.index(f">{swings[-1]}<"), "in the list of sources the ones that matter lead"


@pytest.mark.slow
def test_ctrl_c_while_it_looks_ends_the_run(invoke, trap, tmp_path, monkeypatch):
    from soundergate.studies.worlds import one_at_a_time

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    out = tmp_path / "out"
    with monkeypatch.context() as patched:
        patched.setattr(one_at_a_time, "tornado", stop)
        assert_only_nights_are_left(invoke("run", trap, "--nights", 40, "--out", out), out)
    assert invoke("run", trap, "--nights", 40, "--out", out, "--resume").code == 0
    assert json.loads((out / "run.json").read_text())["leans_on"] is not None
    assert (out / "report.html").exists()


def assert_only_nights_are_left(said, out):
    assert said.code == 130
    again = f"The same command with --resume goes on from here; {out} holds what is done."
    assert said.err.splitlines()[-1] == f"Stopped by hand. {again}"
    assert [path.name for path in out.iterdir()] == [NAME]


@pytest.mark.slow
def test_what_a_difference_leans_on(invoke, trap, tmp_path):
    out = tmp_path / "out"
    vary = ("--vary", "trigger.distance=15 ft,20 ft")
    said = invoke("compare", trap, *vary, "--nights", 150, "--out", out)
    leans = json.loads((out / "run.json").read_text())["leans_on"]
    assert (leans["a"], leans["b"]) == ("trigger.distance=15 ft", "trigger.distance=20 ft")
    assert (leans["screened"], leans["nights"]) == (150, 150), "no more nights than were compared"
    assert len(leans["swings"]) == 10
    assert {"leans_on.png", "leans_on.svg"} <= {path.name for path in out.iterdir()}
    lead = "Defaults that move the difference between trigger.distance=15 ft and "
    told = next(line for line in said.err.splitlines() if line.startswith(lead))
    assert "on 150 nights" in told
    page = (out / "report.html").read_text()
    answer, leaning = page.index('id="answer-head"'), page.index('id="leans-head"')
    assert answer < page.index("Every setup") < leaning < page.index('id="cautions"')
    assert leaning < page.index("default were at the low or the high end"), "under its own heading"
    listed = page[leaning:]
    ranked = [row["id"] for row in leans["swings"] if row["id"] in told]
    if ranked:
        assert listed.index(f">{ranked[0]}<") < listed.index(">entry.habituation_nights<")


@pytest.mark.slow
def test_a_comparison_stopped_while_it_looks_ends(invoke, trap, tmp_path, monkeypatch):
    from soundergate.studies.worlds import one_at_a_time

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(one_at_a_time, "difference_tornado", stop)
    out = tmp_path / "out"
    said = invoke("compare", trap, "--vary", "sounder.sows=1,2", "--nights", 40, "--out", out)
    assert_only_nights_are_left(said, out)
