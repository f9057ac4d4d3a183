"""`run`, `compare` and `study` with `--out` name the defaults that the answer leans on."""

from __future__ import annotations

import json

import pytest

from soundergate.scenario.register import register


@pytest.mark.slow
def test_what_the_answer_leans_on(invoke, trap, tmp_path):
    out = tmp_path / "out"
    said = invoke("run", trap, "--nights", 150, "--out", out)
    leans = json.loads((out / "run.json").read_text())["leans_on"]
    assert (leans["screened"], leans["nights"]) == (150, 150), "no more nights than the run"
    assert leans["considered"] > 80
    swings = [row["id"] for row in leans["swings"]]
    assert len(swings) == 10
    assert set(swings) <= set(register())
    assert (out / "leans_on.png").stat().st_size > 10_000
    named = said.err.split("Defaults that move the answer most: ")[1].split(". Each of")[0]
    assert set(named.split(", ")) <= set(swings)
    page = (out / "report.html").read_text()
    assert "Where the answer would stand if one default were at the low or the high end" in page
    first = page.index(f">{named.split(', ')[0]}<")
    assert first < page.index(f">{swings[-1]}<"), "in the list of sources the ones that matter lead"


@pytest.mark.slow
def test_ctrl_c_while_it_looks_leaves_the_rest(invoke, trap, tmp_path, monkeypatch):
    from soundergate.studies.worlds import sensitivity

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(sensitivity, "tornado", stop)
    said = invoke("run", trap, "--nights", 40, "--out", tmp_path / "out")
    assert said.code == 0
    assert json.loads((tmp_path / "out" / "run.json").read_text())["leans_on"] is None
    assert not (tmp_path / "out" / "leans_on.png").exists()
    assert (tmp_path / "out" / "report.html").exists()


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
def test_a_comparison_stopped_while_it_looks_leaves_the_rest(invoke, trap, tmp_path, monkeypatch):
    from soundergate.studies.worlds import difference_tornado

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(difference_tornado, "difference_tornado", stop)
    out = tmp_path / "out"
    said = invoke("compare", trap, "--vary", "sounder.sows=1,2", "--nights", 40, "--out", out)
    assert said.code == 0
    assert json.loads((out / "run.json").read_text())["leans_on"] is None
    assert not (out / "leans_on.png").exists()
    assert (out / "report.html").exists()
