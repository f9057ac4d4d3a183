"""`check` over plausible worlds: what it says first, its table, JSON and page."""

from __future__ import annotations

import re

import pytest

from soundergate.scenario.loading import load
from soundergate.studies.sentences import about_percent
from soundergate.studies.worlds.steel import steel_over_worlds


@pytest.fixture
def line(trap):
    """A line hung low and stiff in the eye: whether it lets go depends on what nobody knows."""
    trap.write_text(trap.read_text() + "bends = 2\n", encoding="utf-8")
    return trap


def test_it_leads_with_worlds_and_the_table_has_them(invoke, line):
    said = invoke("check", line, "--worlds", 20)
    over = steel_over_worlds(load(line), 20)
    low, middle, high = (about_percent(q.estimate) for q in over.quantiles(0))
    first, second, *rest = said.err.splitlines()
    assert first.startswith(
        f"In nine of ten plausible worlds the latch lets go on {low.removesuffix(' %')} to {high} "
        f"of tries, in the middle one on {middle}."
    )
    assert f"In {about_percent(over.passing(0))} of worlds it can be relied on" in first
    assert "which nobody knows: at " in second or second.startswith("With every unknown")
    assert "With every unknown at its middle value:" in rest or second.endswith("value:")
    row = next(row for row in said.out.splitlines() if "releases, nine worlds of ten" in row)
    assert f"{low.removesuffix(' %')} to {high}, middle {middle}" in row
    assert re.search(r"relied on, share of worlds +\d+ %", said.out)


def test_worlds_change_no_exit_code(invoke, line):
    """It is that of the middle value: this one can be relied on there and not in every world."""
    assert steel_over_worlds(load(line), 20).passing(0) < 1
    assert invoke("check", line, "--worlds", 20, "--quiet").code == 0
    weak = line.read_text().replace('puller = "animal"', 'puller = "solenoid", pull = "3 lbf"')
    line.write_text(weak)
    assert invoke("check", line, "--worlds", 20, "--quiet").code == 1


def test_json_has_where_it_lies_and_what_moves_it(invoke, line):
    told = invoke("check", line, "--worlds", 20, "--json").data["over_worlds"]
    assert told == steel_over_worlds(load(line), 20).to_json()
    (opening,) = told["openings"]
    assert (told["worlds"], told["seed"]) == (20, 1)
    for what in ("release_probability", "shut_probability"):
        ends = [opening[what][name]["estimate"] for name in ("low", "middle", "high")]
        assert ends == sorted(ends)
        assert 0 <= ends[0] <= ends[2] <= 1
    assert 0 <= opening["passes"] <= 1
    assert all("unit" in one for one in opening["unknowns"])
    assert invoke("check", line, "--worlds", 0, "--json").data["over_worlds"] is None


@pytest.mark.slow
def test_the_page_has_it_too(invoke, line, tmp_path):
    out = tmp_path / "out"
    said = invoke("check", line, "--worlds", 20, "--out", out)
    page = (out / "report.html").read_text(encoding="utf-8")
    assert said.err.splitlines()[0] in page
    assert "relied on, share of worlds" in page
    assert "What nobody knows and a release hangs on" in page
    assert "local codes and licensed practice come first" in page.lower()
    assert "ever a clearance" in page


def test_exit_codes_are_said_alike_in_help_and_readme(invoke):
    """In the words of both: with every unknown at its middle value, and by what it fails."""
    from pathlib import Path

    readme = Path(__file__).parents[2] / "README.md"
    for text in (invoke("check", "--help").out, readme.read_text(encoding="utf-8")):
        plain = " ".join(text.replace("│", " ").split())
        assert (
            "with every unknown at its middle value, an opening of FILE stays set, releases and "
            "shuts in fewer than 9 of 10 tries, its latch does not hold or its gate does not shut"
        ) in plain


def test_bad_numbers_are_refused(invoke, line):
    said = invoke("check", line, "--worlds", 3)
    assert said.code == 2
    assert "worlds: 3" in said.err
