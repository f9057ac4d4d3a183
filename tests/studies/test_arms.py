"""Arms: choices read as the shell gives them, crossed, and named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import load
from soundergate.studies.arms import cross, make_arms, name_of, parse_vary
from soundergate.studies.errors import StudyError


def test_two_choices_of_two_give_four_the_last_fastest():
    arms = parse_vary(["opening.width=4 ft,8 ft", "trigger.distance=12 ft, 22 ft"])
    assert arms == [
        {"opening.width": "4 ft", "trigger.distance": "12 ft"},
        {"opening.width": "4 ft", "trigger.distance": "22 ft"},
        {"opening.width": "8 ft", "trigger.distance": "12 ft"},
        {"opening.width": "8 ft", "trigger.distance": "22 ft"},
    ]
    assert name_of(arms[1]) == "opening.width=4 ft, trigger.distance=22 ft"


def test_values_are_what_they_look_like():
    text = 'a.b=3,2.5,true,8 ft,"9 ft",{dist = "uniform", low = "1 s", high = "2 s"},[1, 2],never'
    assert [arm["a.b"] for arm in parse_vary([text])] == [
        3,
        2.5,
        True,
        "8 ft",
        "9 ft",
        {"dist": "uniform", "low": "1 s", "high": "2 s"},
        [1, 2],
        "never",
    ]


@given(st.lists(st.integers(1, 4), min_size=1, max_size=3))
def test_cross_has_every_combination_once(sizes):
    factors = {f"k{i}": list(range(n)) for i, n in enumerate(sizes)}
    arms = cross(factors)
    total = 1
    for n in sizes:
        total *= n
    assert len({tuple(arm.values()) for arm in arms}) == len(arms) == total


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (["opening.width"], "wanted key=choice,choice"),
        (["=4 ft"], "wanted key=choice,choice"),
        (["opening.width=4 ft,"], "opening.width: an empty choice"),
        (["opening.width="], "empty choice"),
        (["opening.width=4 ft,4 ft"], "given twice: 4 ft, 4 ft"),
        (["a=1,2", "a=3"], "a is varied twice"),
        ([f"{k}=" + ",".join(map(str, range(10))) for k in "abc"], "1000 combinations"),
    ],
)
def test_wrong_choices_are_named(texts, message):
    with pytest.raises(StudyError, match=message):
        parse_vary(texts)


def test_arms_of_one_file_are_named_by_their_choices(scenario_file):
    arms = make_arms(scenario_file, ["opening.width=4 ft,8 ft"])
    assert [arm.name for arm in arms] == ["opening.width=4 ft", "opening.width=8 ft"]
    assert [arm.scenario.opening[0].width for arm in arms] == pytest.approx([1.2192, 2.4384])
    assert arms[0].set == {"opening.width": "4 ft"}


def test_arms_of_several_files_are_named_by_stem_title_or_number(scenario_file, tmp_path):
    other = tmp_path / "birch.toml"
    other.write_text(scenario_file.read_text().replace("made-up", "second"))
    assert [a.name for a in make_arms([scenario_file, str(other)])] == ["alder", "birch"]
    one, two = load(scenario_file), load(other)
    assert [a.name for a in make_arms([one, two])] == [one.title, two.title]
    assert [a.name for a in make_arms([one, one])] == [f"{one.title} (1)", f"{one.title} (2)"]
    crossed = make_arms([scenario_file, other], ["opening.width=4 ft,8 ft"])
    assert [a.name for a in crossed][::3] == [
        "alder, opening.width=4 ft",
        "birch, opening.width=8 ft",
    ]
    assert [a.name for a in make_arms([one, two], names=["x", "y"])] == ["x", "y"]
    with pytest.raises(StudyError, match="1 names for 2 arms"):
        make_arms([one, two], names=["x"])


def test_an_unknown_key_is_the_scenarios_error(scenario_file):
    with pytest.raises(ScenarioError, match="wdth"):
        make_arms(scenario_file, ["opening.wdth=4 ft,8 ft"])
