"""`study` with `[sensitivity]`: what it says, writes and repeats."""

from __future__ import annotations

import pandas as pd
import pytest

STUDY = """
base = "trap.toml"
nights = 40
arm = [{name = "narrow"}, {name = "wide", set = {"opening.width" = "8 ft"}}]

[sensitivity]
samples = 4
nights = 20
only = ["entry.shy_share", "startle.delay"]
"""


def test_what_moves_the_answer_most_is_said(invoke, trap):
    study = trap.with_name("study.toml")
    study.write_text(STUDY)
    said = invoke("study", study)
    assert "What moves share of the group caught of “narrow” most" in " ".join(said.err.split())
    told = invoke("study", study, "--json").data["sensitivity"]
    assert told["unknowns"][0]["input"] == "entry.shy_share"
    assert told["worlds"] == 4 * (len(told["unknowns"]) + 1)


@pytest.mark.slow
def test_the_table_is_written_and_repeated(invoke, trap, tmp_path):
    study, out, again = trap.with_name("study.toml"), tmp_path / "out", tmp_path / "again"
    study.write_text(STUDY)
    assert invoke("study", study, "--out", out).code == 0
    rows = pd.read_csv(out / "sensitivity.csv", index_col="input")
    assert rows.index[0] == "entry.shy_share"
    assert list(rows) == ["low_end", "high_end", "unit", "mu", "mu_star", "sigma"]
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "What the answer leans on, all unknowns moving at once" in page
    assert invoke("study", out / "run.json", "--out", again).code == 0
    assert (again / "sensitivity.csv").read_bytes() == (out / "sensitivity.csv").read_bytes()
