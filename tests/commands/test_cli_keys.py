"""`keys`: what every key means, in plain words and within 80 columns."""

from __future__ import annotations

import tomllib

import pytest

from soundergate.scenario.keys import scenario_keys
from soundergate.scenario.register import register


def test_every_key_is_told_in_a_narrow_window(invoke):
    said = invoke("keys")
    assert said.code == 0
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= 80
    told = {line.strip() for line in lines if line.startswith("  ") and line[2] != " "}
    assert {key.id for key in scenario_keys()} < told
    assert {one for one in told if not one.startswith("study.")} == {
        key.id for key in scenario_keys()
    }
    assert "study.robust.worlds" in told
    assert "costs.wage" in told


def test_json_has_the_registers_defaults(invoke):
    listed = {one["key"]: one for one in invoke("keys", "--json").data}
    for key in scenario_keys():
        one = listed[key.id]
        assert one["means"] == key.means
        if key.entry is None:
            assert one["default"] is None
            continue
        known = register()[key.entry.id]
        assert (one["default_times"] if known.of else one["default"]) == known.said()
        assert (one["low"], one["high"], one["range_unit"]) == (known.low, known.high, known.unit)


def test_a_name_narrows_and_a_wrong_one_is_told_what_is_near(invoke):
    said = invoke("keys", "trigger.person")
    assert "trigger.person.patience" in said.out
    assert "trigger.line" not in said.out
    wrong = invoke("keys", "nonsense")
    assert wrong.code == 2
    assert "nonsense" in wrong.err
    assert "opening" in wrong.err, "nothing is near, so the tables are named"
    assert "friction" in invoke("keys", "frictoin").err
    assert invoke("keys", "study.robust").out.count("study.robust") > 3


def test_default_unit_range_and_choices_are_told(invoke):
    said = " ".join(invoke("keys", "corral.diameter").out.split())
    assert "The width of the corral from fence to fence." in said
    assert "ft, in, m, cm" in said
    assert "Default: 26 ft." in said
    assert "16 to 60 ft" in said
    assert "70 kg (154 lb)" in invoke("keys", "sow").out
    assert "One of: drop, top-hinged" in invoke("keys", "opening.gate.kind").out


def test_the_template_can_be_checked(invoke, tmp_path):
    path = tmp_path / "trap.toml"
    path.write_text(invoke("keys", "--template").out, encoding="utf-8")
    assert invoke("check", path, "--quiet").code in (0, 1)
    assert invoke("keys", "--template", "top-hinged", "person").out.count('kind = "top-hinged"')
    assert invoke("keys", "--template", "sideways").code == 2


def test_the_template_of_a_study_is_one(invoke, trap):
    from soundergate.studies.crossed import plans
    from soundergate.studies.study_file import load

    text = invoke("keys", "study", "--template").out
    path = trap.parent / "study.toml"
    path.write_text(text, encoding="utf-8")
    assert plans(load(path))
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if line.startswith("# "):
            said = "\n".join([*lines[:number], line[2:], *lines[number + 1 :]])
            path.write_text(said, encoding="utf-8")
            assert load(path) == load_plain(path, text), line
    whole = "\n".join(line.removeprefix("#? ").removeprefix("# ") for line in lines)
    assert set(tomllib.loads(whole)) >= {"arm", "across", "factors", "robust", "sensitivity"}


def load_plain(path, text):
    from soundergate.studies.study_file import loads

    return loads(text, path)


@pytest.mark.parametrize("asked", [("keys", "costs"), ("keys", "study")])
def test_prices_and_studies_have_all_their_words(invoke, asked):
    out = invoke(*asked).out
    assert "None" not in out
    assert " ." not in out
