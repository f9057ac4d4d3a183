"""Study files: arms and factors, faults told by file and key, failed arms, files written."""

import json

import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.crossed import flat_values, plans
from soundergate.studies.errors import StudyError
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import load, loads

STUDY = """
title = "Wider?"
base = "alder.toml"
nights = 300
seed = 0
against = "narrow"
measures = ["caught", "whole_group"]

[[arm]]
name = "narrow"
set = {"opening.width" = "4 ft"}

[[arm]]
name = "wide"
set = {opening.width = "8 ft"}
"""


@pytest.fixture
def study_file(tmp_path, scenario_file):
    path = tmp_path / "study.toml"
    path.write_text(STUDY)
    return path


def test_arms_as_written(made_up_engine, study_file):
    s = run_study(study_file)
    assert s.failed == {}
    assert [arm.name for arm in s.comparison.arms] == ["narrow", "wide"]
    assert [arm.set for arm in s.comparison.arms] == [
        {"opening.width": "4 ft"},
        {"opening.width": "8 ft"},
    ]
    assert (s.comparison.nights, s.comparison.seed) == (300, 0)
    assert [(d.a, d.measure) for d in s.comparison.differences] == [
        ("wide", "caught"),
        ("wide", "whole_group"),
    ]
    assert s.comparison.differences[0].estimate > 0
    assert s.to_json()["title"] == "Wider?"


def test_arguments_stand_in_place_of_the_file(made_up_engine, study_file):
    s = run_study(study_file, nights=120, seed=9)
    assert (s.comparison.nights, s.comparison.seed) == (120, 9)
    assert run_study(study_file, precision={"caught": 1.0}).comparison.nights == 1000


def test_factors_cross_arms(study_file):
    text = STUDY.replace('against = "narrow"\n', "")
    crossed = (
        text + '\n[factors]\ntrigger.distance = ["12 ft", "22 ft"]\n"corral.diameter" = ["26 ft"]\n'
    )
    found = plans(loads(crossed, study_file))
    assert [p.name for p in found][:2] == [
        "narrow, trigger.distance=12 ft, corral.diameter=26 ft",
        "narrow, trigger.distance=22 ft, corral.diameter=26 ft",
    ]
    assert found[3].set == {
        "opening.width": "8 ft",
        "trigger.distance": "22 ft",
        "corral.diameter": "26 ft",
    }
    assert found[0].file == study_file.parent / "alder.toml"
    alone = loads('base = "a.toml"\n[factors]\n"opening.width" = ["4 ft", "8 ft"]\n', study_file)
    assert [p.name for p in plans(alone)] == ["opening.width=4 ft", "opening.width=8 ft"]


def test_unquoted_dotted_keys_are_paths_and_value_tables_stay_whole():
    nested = {
        "opening": {"width": "4 ft", "gate": {"kind": "drop"}},
        "entry": {"clock": {"fixed": "0 s"}},
        "sounder.mass": {"sow": {"median": "70 kg", "sigma": 0.1}},
        "leaving": {"clock": {"sigma": 0.5}},
        "visit": {"patience": {"median": "9 min"}},
        "trigger": {"any": [{"kind": "line"}]},
    }
    assert flat_values({"trigger": {"any": {"1": {"height": "9 in"}}}}) == {
        "trigger.any.1.height": "9 in"
    }
    assert flat_values(nested) == {
        "opening.width": "4 ft",
        "opening.gate": {"kind": "drop"},
        "entry.clock": {"fixed": "0 s"},
        "sounder.mass.sow": {"median": "70 kg", "sigma": 0.1},
        "leaving.clock.sigma": 0.5,
        "visit.patience.median": "9 min",
        "trigger": {"any": [{"kind": "line"}]},
    }


def test_failed_arms_are_reported_and_the_rest_is_played(made_up_engine, study_file):
    extra = """
[[arm]]
name = "misspelt"
set = {"opening.wdth" = "8 ft"}

[[arm]]
name = "absent"
file = "absent.toml"

[[arm]]
name = "unsolvable"
set = {"opening.width" = "10 ft"}
"""
    study_file.write_text(STUDY + extra)
    s = run_study(study_file)
    assert [arm.name for arm in s.comparison.arms] == ["narrow", "wide"]
    assert list(s.failed) == ["misspelt", "absent", "unsolvable"]
    assert "wdth" in s.failed["misspelt"]
    assert "absent.toml" in s.failed["absent"]
    assert s.failed["unsolvable"] == "ArithmeticError: no such gate can be hung"
    assert [f["name"] for f in s.to_json()["failed"]] == list(s.failed)
    clean = run_study(loads(STUDY, study_file))
    assert clean.comparison.differences == s.comparison.differences


def test_an_arm_that_fails_at_night_is_left_out_too(
    made_up_engine, study_file, nights, monkeypatch
):
    from soundergate.studies import study as module

    good = module.player

    def player(scenario, engine="batch", workers=None, executor=None):
        play = good(scenario, engine, workers)

        def breaks(seed, first, count):
            if first > 0:
                raise RuntimeError("the night broke")
            return play(seed, first, count)

        return breaks if scenario.opening[0].width < 2 else play

    monkeypatch.setattr(module, "player", player)
    s = run_study(study_file)
    assert s.failed == {"narrow": "RuntimeError: the night broke"}
    assert [arm.name for arm in s.comparison.arms] == ["wide"]
    assert s.comparison.differences == []
    assert s.comparison.nights == 300


def test_no_arm_left_is_an_error(made_up_engine, study_file):
    text = STUDY.replace('"4 ft"', '"10 ft"').replace('"8 ft"', '"11 ft"')
    with pytest.raises(StudyError, match=r"no arm could be played .*narrow.*wide"):
        run_study(loads(text, study_file))
    with pytest.raises(StudyError, match="seed"):
        run_study(study_file, seed=-1)


def test_files_written(made_up_engine, study_file, tmp_path):
    s = run_study(study_file)
    written = s.write(tmp_path / "out")
    assert [p.name for p in written] == ["summary.csv", "differences.csv", "run.json"]
    record = json.loads((tmp_path / "out" / "run.json").read_text())
    assert (record["command"], record["study"], record["seed"]) == ("study", "study.toml", 0)
    assert record["scenarios"]["wide"]["as_written"]["opening"][0]["width"] == "8 ft"
    assert record["scenarios"]["wide"]["source"] == "alder.toml"
    assert record["versions"]["numpy"]
    assert str(tmp_path) not in (tmp_path / "out" / "run.json").read_text()
    first = {p.name: p.read_bytes() for p in written}
    again = run_study(study_file).write(tmp_path / "again")
    assert {p.name: p.read_bytes() for p in again} == first

    kept = run_study(loads("save_nights = true\n" + STUDY, study_file))
    names = [p.name for p in kept.write(tmp_path / "kept")]
    assert names[:2] == ["nights_narrow.csv.gz", "nights_wide.csv.gz"]
    back = Outcomes.read_csv(tmp_path / "kept" / "nights_wide.csv.gz")
    assert back == kept.comparison["wide"].outcomes


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("nights = 300", "nigths = 300"), "nigths = 300: unknown key; did you mean nights"),
        (('name = "wide"', 'nam = "wide"'), "arm.1.nam"),
        (("nights = 300", 'nights = "many"'), 'nights = "many"'),
        (("seed = 0", "seed = 0.5"), "seed = 0.5"),
        (("nights = 300", "nights = "), "not valid TOML.*line 4"),
        (('base = "alder.toml"', ""), "no scenario file"),
        (('name = "wide"', 'name = "narrow"'), "same name: narrow"),
        (('against = "narrow"', 'against = "thin"'), "no arm is named 'thin'"),
        (("seed = 0", 'path = "x"'), "path.*unknown key"),
    ],
)
def test_faults_are_named(study_file, change, message):
    study_file.write_text(STUDY.replace(*change))
    with pytest.raises(StudyError, match=message) as caught:
        load(study_file)
    assert str(study_file) in str(caught.value)


def test_other_faults(study_file, tmp_path):
    with pytest.raises(StudyError, match=r"none\.toml: there is no such file"):
        load(tmp_path / "none.toml")
    with pytest.raises(StudyError, match=r"no arms.*study --help"):
        loads('base = "alder.toml"')
    with pytest.raises(StudyError, match=r"factors\.opening\.width = \"4 ft\".*list"):
        loads('base = "a.toml"\n[factors]\nopening.width = "4 ft"')
    with pytest.raises(StudyError, match=r"opening\.width: both arm 'narrow' and factors"):
        loads(STUDY + '[factors]\nopening.width = ["6 ft"]', tmp_path / "study.toml")
    with pytest.raises(StudyError, match="no choices"):
        loads('base = "a.toml"\n[factors]\nopening.width = []')


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("title", STUDY.replace("Wider?", "Wid\\u001ber?")),
        ("arm.0.name", STUDY.replace('name = "narrow"', 'name = "nar\\u001brow"')),
        ("across.0.name", STUDY + '[[across]]\nname = "a\\u001bb"\n'),
    ],
)
def test_a_control_character_is_refused_where_it_stands(study_file, key, text):
    """On a terminal it could move the cursor or recolour the lines of others."""
    with pytest.raises(StudyError, match=r"holds a control character \(U\+001B\)") as caught:
        loads(text, study_file)
    assert caught.value.key == key
    assert "one line of plain text" in str(caught.value)
    assert "\x1b" not in str(caught.value)


def test_a_control_character_in_a_choice_is_refused_before_anything_is_played(study_file):
    text = STUDY + '[factors]\n"corral.diameter" = ["26 ft", "3\\u00010 ft"]\n'
    with pytest.raises(StudyError, match=r"its name holds a control character") as caught:
        loads(text, study_file)
    assert "\x01" not in str(caught.value)


def test_a_title_without_end_is_refused(study_file):
    with pytest.raises(StudyError, match="too long: at most 200"):
        loads(STUDY.replace("Wider?", "w" * 201), study_file)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("seed", "-1"),
        ("seed", "18446744073709551616"),
        ("level", "0"),
        ("level", "1"),
        ("level", "1e-300"),
        ("nights", "0"),
        ("measures", "[]"),
        ("measures", '["pigs"]'),
        ("precision", "0"),
        ("precision", "{pigs = 1}"),
    ],
)
def test_a_wrong_setting_is_told_by_file_and_key_before_anything_is_played(study_file, key, value):
    """Also one that is wrong in size only, which types let pass."""
    lines = [line for line in STUDY.splitlines() if not line.startswith(f"{key} =")]
    with pytest.raises(StudyError) as caught:
        loads("\n".join([f"{key} = {value}", *lines]), study_file)
    assert str(caught.value).startswith(f"{study_file}: {key}"), caught.value


def test_a_factor_given_twice_is_told_by_file_and_key(study_file):
    text = STUDY + '[factors]\n"corral.diameter" = ["26 ft", "26 ft"]\n'
    with pytest.raises(StudyError, match="given twice") as caught:
        loads(text, study_file)
    assert str(caught.value).startswith(f"{study_file}: factors.corral.diameter: ")
