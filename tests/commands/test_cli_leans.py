"""`run --out` names the defaults that the answer leans on, and says how many nights that took."""

from __future__ import annotations

import json

from soundergate.scenario.register import register


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
    assert "where it would stand if one default were at the low or the high end" in page
    first = page.index(f">{named.split(', ')[0]}<")
    assert first < page.index(f">{swings[-1]}<"), "in the list of sources the ones that matter lead"


def test_ctrl_c_while_it_looks_leaves_the_rest(invoke, trap, tmp_path, monkeypatch):
    from soundergate.study import sensitivity

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(sensitivity, "tornado", stop)
    said = invoke("run", trap, "--nights", 40, "--out", tmp_path / "out")
    assert said.code == 0
    assert json.loads((tmp_path / "out" / "run.json").read_text())["leans_on"] is None
    assert not (tmp_path / "out" / "leans_on.png").exists()
    assert (tmp_path / "out" / "report.html").exists()
