"""Factors that nobody decides: one chooses, regrets and learns within each circumstance.

What it is worth to know an unknown is recomputed here from worlds.csv alone, by code of its own:
least squares on powers of the place, and nothing of the package but the file's text.
"""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.report.words.answers import study_answer
from soundergate.scenario.register import Entry
from soundergate.studies.crossed import pairs_of, plans
from soundergate.studies.errors import StudyError
from soundergate.studies.study import study
from soundergate.studies.study_file import load, loads
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.robust import robust_players
from soundergate.studies.worlds.robust_result import RobustComparison

ARMS = ["line, few", "person, few", "line, many", "person, many"]
MET = {name: name.split(", ")[1] for name in ARMS}
WHAT = [
    Input(
        name,
        (name,),
        Entry(name, 1.0, "s", 0.25, 4.0, "log-normal", "invented", "", ""),
    )
    for name in ("entry.pluck", "entry.whim", "leaving.haste")
]


def catches(arm, u):
    """Of a thousand: with few pigs the person is better where whim is high; with many always."""
    share = [0.4, 0.4 + 0.3 * (u[1] - 0.5), 0.2, 0.5 + 0.1 * (u[0] - 0.5)][arm]

    def play(seed, first, count):
        o = Outcomes.empty(count)
        o["night"][:] = np.arange(first, first + count)
        o["group_size"][:] = 1000
        luck = np.random.default_rng([seed, first]).normal(0, 20, count)  # common to all arms
        o["caught"][:] = np.clip(np.round(1000 * share + luck), 0, 1000)
        return o

    return play


@pytest.fixture(scope="module")
def found() -> RobustComparison:
    from dataclasses import replace

    over = robust_players(ARMS, WHAT, catches, 200, 20, 3)
    return replace(over, circumstances=MET)


def test_the_best_is_the_best_of_what_one_can_decide(found):
    assert found.choices == {"few": ARMS[:2], "many": ARMS[2:]}
    assert found.best("", ARMS[2:]) == "person, many"
    for asked in (found.best, found.worth_of_all, found.regret):
        with pytest.raises(StudyError, match=r"same circumstance.*few; many"):
            asked()
    with pytest.raises(StudyError, match="same circumstance"):
        found.worth("", ["line, few", "line, many"])


def test_nothing_is_worth_knowing_where_the_choice_is_clear(found):
    """Over all four arms whim would be worth something; of many pigs it is worth nothing."""
    many = {w.unknown: w for w in found.worth("", ARMS[2:])}
    few = {w.unknown: w for w in found.worth("", ARMS[:2])}
    assert {w.circumstance for w in many.values()} == {"many"}
    assert all(w.evppi == pytest.approx(0.0, abs=1e-12) for w in many.values())
    # person less line is 0.3 (u - 0.5): E max(0, .) = 0.3 / 8
    assert few["entry.whim"].evppi == pytest.approx(0.3 / 8, rel=0.1)
    assert few["entry.whim"].shown
    assert not few["entry.pluck"].shown
    assert [w.circumstance for w in found.worth()] == ["few"] * 3 + ["many"] * 3


def test_regret_is_what_one_gives_up_beside_knowing_all(found):
    few = found.regret("", ARMS[:2])
    means = found.means["fraction_caught"][:, :2]
    by_hand = means.max(axis=1).mean() - means.mean(axis=0)
    assert [few[name] for name in ARMS[:2]] == pytest.approx(by_hand, abs=2e-3)
    best = found.best("", ARMS[:2])
    assert few[best] == pytest.approx(found.worth_of_all("", ARMS[:2]))
    rows = list(csv.DictReader(io.StringIO(found.to_choices_csv())))
    assert [(row["circumstance"], row["arm"]) for row in rows] == [(MET[a], a) for a in ARMS]
    assert [row["arm"] for row in rows if row["best"] == "True"] == [best, "person, many"]
    assert float(rows[0]["regret"]) == few["line, few"]


def test_it_is_said_within_each_circumstance(found):
    few, many = found.choice_sentences
    assert few.startswith("Where one meets “few”, “")
    assert "entry.whim" in few
    assert many.startswith("Where one meets “many”, “person, many” does best")
    assert "no other choice would be noticeably better" in many
    told = json.loads(json.dumps(found.to_json(), allow_nan=False))
    assert [one["circumstance"] for one in told["choices"]] == ["few", "many"]
    assert told["worth"]["best"] is None


def worth_from(text: str, arms: list[str], place: str) -> float:
    """E[max of the curves] less the best mean: a cubic in the place, fitted by normal equations."""
    rows = list(csv.DictReader(io.StringIO(text)))
    gains = np.array([[float(row[f"{arm}: fraction_caught"]) for arm in arms] for row in rows])
    u = np.array([float(row[place]) for row in rows])
    powers = np.array([u**k for k in range(4)])
    weights = np.linalg.solve(powers @ powers.T, powers @ gains)
    return float((powers.T @ weights).max(axis=1).mean() - gains.mean(axis=0).max())


def test_worth_can_be_recomputed_from_the_file_alone(found):
    text = found.to_worlds_csv()
    head = next(csv.reader(io.StringIO(text)))
    for arms in (ARMS[:2], ARMS[2:]):
        for w in found.worth("", arms):
            place = f"{w.unknown} place (s; log-normal; 0.25 to 4)"
            assert place in head
            assert worth_from(text, arms, place) == pytest.approx(w.evppi, abs=1e-6)
    # the place is that of the value on its scale: log-normal about 1, nine in ten 0.25 to 4
    from statistics import NormalDist

    for row in csv.DictReader(io.StringIO(text)):
        z = NormalDist().inv_cdf(0.95) * np.log(float(row["entry.whim"])) / np.log(4.0)
        place = float(row["entry.whim place (s; log-normal; 0.25 to 4)"])
        assert NormalDist().cdf(z) == pytest.approx(place, abs=2e-5)


CROSSED = """
base = "alder.toml"
nights = 40
measures = ["fraction_caught", "caught"]
circumstances = ["sounder.juveniles"]
[factors]
"opening.width" = ["4 ft", "6 ft"]
"sounder.juveniles" = [2, 5]
[robust]
worlds = 20
nights = 20
only = ["entry.clock"]
"""


def test_arms_are_compared_with_those_of_their_circumstance(scenario_file):
    planned = plans(loads(CROSSED, scenario_file.parent / "study.toml"))
    assert {plan.circumstance for plan in planned} == {
        "sounder.juveniles=2",
        "sounder.juveniles=5",
    }
    a, b, c, d = (plan.name for plan in planned)
    assert pairs_of(planned, None) == [(a, c), (b, d)]
    assert pairs_of(planned, a) == [(c, a)]


def test_arms_and_across_may_be_circumstances(scenario_file):
    text = """
base = "alder.toml"
circumstances = ["across"]
[[arm]]
name = "narrow"
[[arm]]
name = "wide"
set = {opening.width = "6 ft"}
[[across]]
name = "few"
[[across]]
name = "many"
set = {sounder.juveniles = 12}
"""
    planned = plans(loads(text, scenario_file.parent / "study.toml"))
    assert [plan.circumstance for plan in planned] == ["few", "many", "few", "many"]
    assert pairs_of(planned, "narrow") == [
        ("wide, few", "narrow, few"),
        ("wide, many", "narrow, many"),
    ]
    turned = plans(loads(text.replace('["across"]', '["arm"]'), scenario_file.parent / "s.toml"))
    assert [plan.circumstance for plan in turned] == ["narrow", "narrow", "wide", "wide"]


def test_a_study_of_both(scenario_file, tmp_path):
    done = study(load_from(scenario_file, CROSSED))
    pairs = {(d.a, d.b) for d in (*done.comparison.differences, *done.robust.differences)}
    assert len(pairs) == 2
    assert all(a.split(", ")[1] == b.split(", ")[1] for a, b in pairs)
    told = " ".join(study_answer(done))
    for pigs in (2, 5):
        assert told.count(f"here one meets “sounder.juveniles={pigs}”") == 2  # worlds, and assumed
    written = {path.name: path for path in done.write(tmp_path)}
    choices = list(csv.DictReader(io.StringIO(written["choices.csv"].read_text())))
    assert [row["best"] for row in choices].count("True") == 2
    text = written["worlds.csv"].read_text()
    head = next(csv.reader(io.StringIO(text)))
    assert "entry.clock place (s; log-normal; 10 to 300)" in head
    for w in done.robust.worth():
        arms = done.robust.choices[w.circumstance]
        (place,) = [name for name in head if name.startswith(f"{w.unknown} place (")]
        assert worth_from(text, arms, place) == pytest.approx(w.evppi, abs=1e-6)
    assert "What to choose in each circumstance" in done._repr_html_()


def load_from(scenario_file, text):
    path = scenario_file.parent / "study.toml"
    path.write_text(text, encoding="utf-8")
    return load(path)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            '["sounder.sows"]',
            r"circumstances = \"sounder.sows\".*no factor.*opening.width, s",
        ),
        ('["across"]', "no factor"),
        ('["opening.width", "sounder.juveniles"]', "nothing is left to decide"),
        ("3", "circumstances"),
        ('"sounder.juveniles"', "circumstances"),
        ("[3]", "circumstances"),
    ],
)
def test_what_is_no_factor_is_refused(scenario_file, given, words):
    text = CROSSED.replace('["sounder.juveniles"]', given)
    with pytest.raises(StudyError, match=words):
        loads(text, scenario_file.parent / "study.toml")
