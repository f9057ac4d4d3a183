"""`[sensitivity]` of a study file, from the file to its table, and what is wrong with one."""

import numpy as np
import pandas as pd
import pytest

from soundergate.scenario.loading import load as load_scenario
from soundergate.studies.errors import StudyError
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads
from soundergate.studies.worlds.global_sensitivity import morris, sobol
from soundergate.studies.worlds.sensitivity import response
from soundergate.studies.worlds.worlds import unknowns

ONLY = ["entry.shy_share", "startle.delay"]
STUDY = """
base = "alder.toml"
nights = 40
measures = ["fraction_caught", "whole_group"]
arm = [{name = "narrow"}, {name = "wide", set = {"opening.width" = "8 ft"}}]

[sensitivity]
method = "METHOD"
samples = 4
nights = 20
only = ["entry.shy_share", "startle.delay"]
"""


def written(tmp_path, method="morris", more=""):
    path = tmp_path / "study.toml"
    path.write_text(STUDY.replace("METHOD", method) + more)
    return path


@pytest.mark.parametrize("method", ["morris", "sobol"])
def test_a_study_moves_all_unknowns_at_once(tmp_path, scenario_file, method):
    """The file's table is that of the method itself, on the arm's own response."""
    found = run_study(written(tmp_path, method)).sensitivity
    scenario = load_scenario(scenario_file)
    what = unknowns([scenario], ONLY)
    reach = 0.9 if method == "morris" else 1.0  # Morris's grid ends at the register's ends
    of = response(scenario, what, nights=20, reach=reach)
    names = [one.id for one in what]
    plain = morris(of, names, 4) if method == "morris" else sobol(of, names, 4)
    pd.testing.assert_frame_equal(found.table[list(plain.table)], plain.table)
    assert (found.method, found.arm, found.less) == (method, "narrow", "")
    assert found.found.evaluations == 4 * (len(what) + (1 if method == "morris" else 2))


def test_a_difference_is_that_of_both_arms_on_the_same_nights(tmp_path, scenario_file):
    both = run_study(written(tmp_path, more='arm = "wide"\nless = "narrow"')).sensitivity
    each = [
        run_study(written(tmp_path, more=f'arm = "{name}"')).sensitivity
        for name in ("wide", "narrow")
    ]
    assert both.found.effects == pytest.approx(each[0].found.effects - each[1].found.effects)
    assert np.any(both.found.effects != each[0].found.effects)


@pytest.mark.parametrize(
    ("method", "more", "words"),
    [
        ("sobal", "", r"sensitivity.*method is 'sobal'; it must be one of morris, sobol"),
        ("morris", 'arm = "broad"', r"sensitivity\.arm.*no arm is named 'broad'.*narrow, wide"),
        ("morris", 'less = "narrow"', r"sensitivity\.less.*no difference"),
        ("morris", "nigths = 3", r"sensitivity\.nigths.*did you mean nights"),
        ("morris", "worlds = true", r"sensitivity\.worlds.*unknown key"),
    ],
)
def test_errors_name_the_key(tmp_path, scenario_file, method, more, words):
    text = STUDY.replace("METHOD", method) + more
    with pytest.raises(StudyError, match=words):
        loads(text, tmp_path / "study.toml")


@pytest.mark.parametrize(("method", "samples"), [("morris", 1), ("sobol", 3), ("sobol", 0)])
def test_samples_that_make_no_design(tmp_path, scenario_file, method, samples):
    text = STUDY.replace("METHOD", method).replace("samples = 4", f"samples = {samples}")
    with pytest.raises(StudyError, match="sensitivity"):
        loads(text, tmp_path / "study.toml")


def test_nothing_to_move_is_said_before_a_night_is_played(tmp_path, scenario_file):
    text = STUDY.replace("METHOD", "morris").replace('"startle.delay"', '"campaign"')
    with pytest.raises(StudyError, match=r"sensitivity\.only\.campaign"):
        run_study(loads(text, tmp_path / "study.toml"))
