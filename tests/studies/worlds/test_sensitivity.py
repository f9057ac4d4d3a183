"""The tornado: what moves, what does not, fresh nights for what was picked, and its words."""

from __future__ import annotations

import json

import numpy as np
import pytest

from shared.traps import LINE_TRAP
from soundergate.engine import play
from soundergate.scenario.loading import load, with_values
from soundergate.studies.compare import compare
from soundergate.studies.errors import StudyError
from soundergate.studies.players import plan_of
from soundergate.studies.worlds.inputs import decisions_of, inputs_of, moved
from soundergate.studies.worlds.one_at_a_time import same_plan, tornado
from soundergate.studies.worlds.sensitivity import response

_LATCH = ("friction", "pin.guide")


@pytest.fixture
def scenario(scenario_file):
    return load(scenario_file)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    path = tmp_path_factory.mktemp("tornado") / "alder.toml"
    path.write_text(LINE_TRAP)
    return tornado(load(path), nights=400, screen=100, top=6, workers=1)


def test_swings_are_those_of_a_plain_comparison(scenario):
    """The difference and its interval against `compare` of three arms on the same nights."""
    found = tornado(scenario, nights=300, screen=0, only=["entry.shy_share"], workers=1)
    (one,) = found.swings
    arms = [with_values(scenario, {"entry.shy_share": x}) for x in (0.005, 0.05, 0.35)]
    plain = compare(arms, nights=300, names=["low", "as it is", "high"], level=0.95)
    for name, pair in {"low": ("low", "as it is"), "high": ("high", "as it is")}.items():
        mine, theirs = getattr(one, name), plain.difference(*pair)
        assert mine.estimate == pytest.approx(theirs.estimate, rel=1e-12)
        assert mine.estimate != 0.0
        assert mine.nights == 300
        assert mine.half_width < theirs.half_width, "one swing, three pairs: Bonferroni"
    assert one.swing.estimate == pytest.approx(one.high.estimate - one.low.estimate)
    assert found.base.estimate == pytest.approx(plain["as it is"]["fraction_caught"].estimate)


def test_largest_first_on_nights_that_the_screening_did_not_see(scenario, result):
    assert len(result.swings) == 6
    reaches = [one.reach for one in result.swings]
    assert reaches == sorted(reaches, reverse=True)
    assert (result.screened, result.nights) == (100, 400)
    outcomes = play(plan_of(scenario), 1, 100, 400)
    assert result.base.estimate == pytest.approx(np.mean(outcomes["caught"] / 10))
    assert result.swings[0].low.each_level == pytest.approx(1 - 0.05 / 6)


@pytest.mark.slow
def test_workers_change_nothing(scenario, result):
    again = tornado(scenario, nights=400, screen=100, top=6, workers=2)
    assert again.to_json() == result.to_json()


def test_what_no_night_reads_is_left_out(scenario, result):
    assert 0 < result.inert < result.considered
    base = plan_of(scenario)
    found = {one.id: one for one in (*inputs_of(scenario), *decisions_of(scenario))}
    rubs, guide = (found[f"opening.latch.{name}"] for name in _LATCH)
    assert not same_plan(plan_of(moved(scenario, {rubs: 0.95})), base)
    assert same_plan(plan_of(moved(scenario, {guide: 0.95})), base), "of an overhung pin only"


def test_matters_names_only_what_is_shown_to_move(scenario, result):
    names = result.matters(5)
    assert 0 < len(names) <= 5
    settled = [one.id for one in result.swings if one.settled]
    assert names == settled[:5]
    dull = tornado(scenario, nights=30, screen=0, only=["startle.delay.sigma"], workers=1)
    assert dull.matters() == []


def test_an_end_that_cannot_be_built_is_told(scenario):
    far = with_values(scenario, {"corral.bait_distance": "18 ft"})
    found = tornado(far, nights=50, screen=0, only=["corral.diameter"], decisions=True, workers=1)
    (one,) = found.swings
    assert one.low is None
    assert one.swing is None
    assert one.high is not None
    assert one.why.startswith("not built at 16 ft: the bait lies outside the fence")
    assert found.unbuilt == {"corral.diameter": one.why}
    assert json.loads(json.dumps(found.to_json(), allow_nan=False))["swings"][0]["at_low"] is None


def test_table_words_and_json(result):
    table = result.table
    assert list(table.index) == [one.id for one in result.swings]
    assert {"value", "low", "high", "origin", "at_low", "at_high_low", "swing_high"} <= set(table)
    sentence = result.sentence()
    assert f"Each of {result.considered} unknowns" in sentence
    assert "on 100 nights" in sentence
    assert "400 other nights" in sentence
    told = result.to_json()
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert result.swings[0].id in result._repr_html_()


def test_picture(result):
    ax = result.plot()
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert [name.split("\n")[0] for name in names] == [one.id for one in result.swings]
    assert ax.get_xlabel() == "share of the group caught (% of the group)"
    given = result.plot(ax=ax)
    assert given is ax


def test_wrong_arguments(scenario):
    for wrong in (
        {"nights": 0},
        {"screen": -1},
        {"top": 0},
        {"measure": "release_s"},
        {"only": ["nothing"]},
        {"seed": -1},
        {"level": 2},
        {"workers": 0},
    ):
        with pytest.raises(StudyError):
            tornado(scenario, **wrong)


def test_response_is_the_mean_of_the_moved_setup(scenario):
    inputs = inputs_of(scenario, ["entry.shy_share", "leaving.clock"])
    names = [one.id for one in inputs]
    assert names == ["entry.shy_share", "leaving.clock", "leaving.clock.sigma"]
    of = response(scenario, inputs, nights=60)
    shares = np.array([[0.5, 0.5, 0.5], [0.95, 0.05, 0.95]])
    got = of(shares)
    for row, answer in zip(shares, got, strict=True):
        night = moved(scenario, dict(zip(inputs, row, strict=True)))
        outcomes = play(plan_of(night), 1, 0, 60)
        assert answer == pytest.approx(np.mean(outcomes["caught"] / 10))
    assert (of(shares) == got).all(), "common nights: the same at every call"
    assert got[0] > got[1]
