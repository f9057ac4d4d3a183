"""`rule` as its user runs it."""

from __future__ import annotations

import json
import tomllib

import pytest

QUICK = ("--nights", 300, "--worlds", 20)


@pytest.fixture
def watched(trap):
    text = trap.read_text(encoding="utf-8").split("[trigger]")[0]
    text = text.replace(
        'puller = "animal"', 'puller = "solenoid", pull = "25 lbf", engaged = "1/8 in"'
    )
    trap.write_text(text + '[trigger]\nkind = "person"\n', encoding="utf-8")
    return trap


def test_it_prints_a_card_and_a_line_to_paste(invoke, watched):
    said = invoke("rule", watched, "--nights", 100, "--worlds", 0)
    assert said.code == 0
    assert "since the alert" in said.out
    assert "rule = [{after" in said.out
    assert "the file's own" in said.out
    assert "no rule can do better" in said.err
    assert "Local codes and licensed practice come first" in said.err


@pytest.mark.slow
def test_the_line_pasted_gives_what_the_rule_promised(invoke, watched):
    told = invoke("rule", watched, *QUICK, "--json", "--quiet").data
    line = next(
        line
        for line in invoke("rule", watched, *QUICK, "--quiet").out.splitlines()
        if line.startswith("rule = ")
    )
    assert tomllib.loads(line)["rule"] == told["rule"]
    watched.write_text(watched.read_text() + f"{line}\n")
    found = told["comparison"]["arms"][0]["fraction_caught"]["estimate"]
    run = invoke("run", watched, *QUICK, "--json", "--quiet").data
    assert run["fraction_caught"]["estimate"] == pytest.approx(found, rel=1e-12)


@pytest.mark.slow
def test_out_leaves_the_card_and_a_page(invoke, watched, tmp_path):
    out = tmp_path / "rule"
    said = invoke("rule", watched, *QUICK, "--out", out, "--taught-costs", 0.5)
    assert said.code == 0
    assert {"rule.toml", "rule.json", "card.png", "report.html"} <= {p.name for p in out.iterdir()}
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "no person, dog or other animal may be" in page
    assert json.loads((out / "rule.json").read_text())["taught_costs"] == 0.5
    assert "counts as 0.5 pigs lost" in said.err
    assert "NaN" not in (out / "rule.json").read_text() + page


@pytest.mark.slow
@pytest.mark.parametrize(
    ("measure", "words"),
    [
        ("fraction_caught", "Goal: catch the largest share of the group. A pig that gets away"),
        ("whole_group", "Goal: catch the whole group on as many nights as possible. A pig that"),
    ],
)
def test_the_first_sentence_says_what_is_sought(invoke, watched, measure, words):
    said = invoke("rule", watched, *QUICK, "--measure", measure)
    lead = next(line for line in said.err.splitlines() if "nights, " not in line)
    assert lead.startswith(words)
    assert "counts as one pig lost" in lead
    rows = [line.strip() for line in said.out.splitlines()]
    for name in ("the rule found", "the file's own", "all in sight", "the first in sight"):
        # over worlds, against the rule found, by what is sought, and by what is caught
        tables = 3 if name == "the rule found" else 4
        assert sum(row.startswith(name) for row in rows) == tables


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--taught-costs", -1], "taught costs is -1"),
        (["--worlds", 3], "worlds"),
        (["--negligible", 0], "negligible is 0"),
        (["--measure", "caught"], "'caught' is not one of 'fraction_caught', 'whole_group'"),
    ],
)
def test_bad_input_is_one_clear_error(invoke, watched, arguments, words):
    said = invoke("rule", watched, *QUICK, *arguments)
    assert said.code == 2
    assert words in " ".join(said.err.replace("│", " ").split())
    assert "Traceback" not in said.err


def test_a_trap_that_nobody_watches_has_no_rule(invoke, trap):
    said = invoke("rule", trap)
    assert said.code == 2
    text = " ".join(said.err.split())
    assert "trap.toml" in text
    assert "trigger.kind" in text
    assert 'kind = "person"' in text
