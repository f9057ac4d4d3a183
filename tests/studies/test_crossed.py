"""Arms crossed with arms: every combination, and who is compared with whom."""

import pytest

from soundergate.studies.crossed import pairs_of, plans
from soundergate.studies.errors import StudyError
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads

CROSSED = """
base = "alder.toml"
nights = 40
measures = ["caught"]

[[arm]]
name = "narrow"
set = {opening.width = "4 ft"}

[[arm]]
name = "wide"
set = {opening.width = "6 ft"}

[[across]]
name = "near line"
set = {trigger.distance = "12 ft"}

[[across]]
name = "far line"
set = {trigger.distance = "22 ft"}

[[across]]
name = "as it is"
"""
BOTH = CROSSED.replace("nights = 40", 'nights = 40\nagainst = ["narrow", "as it is"]')


@pytest.fixture
def planned(scenario_file):
    return plans(loads(CROSSED, scenario_file.parent / "study.toml"))


def test_every_arm_under_every_across(planned):
    assert [(p.name, p.set) for p in planned[1:4]] == [
        ("narrow, far line", {"opening.width": "4 ft", "trigger.distance": "22 ft"}),
        ("narrow, as it is", {"opening.width": "4 ft"}),
        ("wide, near line", {"opening.width": "6 ft", "trigger.distance": "12 ft"}),
    ]
    assert len(planned) == 6


def test_across_alone_crosses_the_base(scenario_file):
    text = 'base = "alder.toml"\n[[across]]\nname = "a"\n[[across]]\nname = "b"\n'
    found = plans(loads(text + '[factors]\n"corral.diameter" = ["26 ft", "30 ft"]\n'))
    assert [p.name for p in found][:2] == ["a, corral.diameter=26 ft", "a, corral.diameter=30 ft"]


def test_what_is_set_for_all_gives_way_to_an_arm(scenario_file):
    text = CROSSED.replace("nights = 40", 'set = {opening.width = "3 ft", training.nights = 9}')
    text += '[[arm]]\nname = "plain"\n'
    found = plans(loads(text, scenario_file.parent / "study.toml"))
    assert found[0].set == {
        "opening.width": "4 ft",
        "training.nights": 9,
        "trigger.distance": "12 ft",
    }
    assert found[-1].set == {"opening.width": "3 ft", "training.nights": 9}


def test_each_is_compared_with_what_differs_in_nothing_else(planned):
    assert pairs_of(planned, None) is None
    assert pairs_of(planned, "narrow") == [
        ("wide, near line", "narrow, near line"),
        ("wide, far line", "narrow, far line"),
        ("wide, as it is", "narrow, as it is"),
    ]
    assert pairs_of(planned, "wide, as it is") == [
        (p.name, "wide, as it is") for p in planned if p.name != "wide, as it is"
    ]
    both = pairs_of(planned, ["narrow", "as it is"])
    assert len(both) == 3 + 4
    assert ("wide, near line", "wide, as it is") in both
    with pytest.raises(StudyError, match="no arm is named 'thin'"):
        pairs_of(planned, ["narrow", "thin"])


def test_those_pairs_are_played_and_no_others(made_up_engine, scenario_file):
    s = run_study(loads(BOTH, scenario_file.parent / "study.toml"))
    assert s.failed == {}
    assert len(s.comparison.differences) == 7
    d = s.comparison.difference("wide, far line", "narrow, far line", "caught")
    # made-up nights: 0.2 of the ten more a metre of width, 2 ft = 0.6096 m; seven hold together
    assert d.each_level == pytest.approx(1 - 0.05 / 7)
    assert d.low < 10 * 0.2 * 0.6096 < d.high


def test_a_failed_arm_takes_its_pairs_with_it(made_up_engine, scenario_file):
    text = BOTH.replace('"6 ft"', '"10 ft"')  # which the made-up engine cannot hang
    s = run_study(loads(text, scenario_file.parent / "study.toml"))
    assert len(s.failed) == 3
    assert {(d.a, d.b) for d in s.comparison.differences} == {
        ("narrow, near line", "narrow, as it is"),
        ("narrow, far line", "narrow, as it is"),
    }


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('name = "as it is"', 'name = "as it is"\nfile = "other.toml"'), "no file of its own"),
        (('"as it is"', '"as it is"\nsett = {}'), r"across\.2\.sett.*did you mean set"),
        (('"12 ft"}', '"12 ft", opening.width = "3 ft"}'), "both arm 'narrow' and across 'near"),
        (('"as it is"', '"as it is"\nset = {}\n[factors]\ntrigger.distance = ["1 ft"]'), "factors"),
    ],
)
def test_faults_are_named(scenario_file, change, message):
    assert change[0] in CROSSED
    with pytest.raises(StudyError, match=message):
        loads(CROSSED.replace(*change), scenario_file.parent / "study.toml")
