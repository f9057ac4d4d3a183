"""Plausible worlds: what is drawn, that it lies in its range, and that draws stay as they were."""

import numpy as np
import pytest
from scipy import stats

from shared.identities import check_identities
from shared.tiers import few_first
from soundergate.scenario import examples
from soundergate.scenario.loading import load, loads, with_values
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.worlds import draw, in_world, unknowns


@pytest.fixture
def scenario(scenario_file):
    return load(scenario_file)


def test_what_pigs_do_is_drawn_and_what_people_choose_is_not(scenario):
    names = [one.id for one in unknowns([scenario])]
    assert len(names) == len(set(names)) > 40
    assert {"entry.clock", "entry.clock.sigma", "entry.openness_slope", "body.duck"} <= set(names)
    assert "sounder.mass.piglet" in names
    assert "sounder.mass.boar" not in names  # this sounder has none
    assert {"opening.latch.friction", "opening.gate.drop.drag_share.sigma"} <= set(names)  # rust
    assert "trigger.line.friction" in names
    for chosen in ("visit.check", "training.nights", "bait.mass", "corral.panel_height"):
        assert chosen not in names
    assert not any(name.startswith(("campaign", "population", "costs")) for name in names)


def test_what_is_stated_is_known(scenario):
    stated = with_values(scenario, {"entry.clock": "30 s"})
    assert "entry.clock" not in [one.id for one in unknowns([stated])]
    assert "entry.clock.sigma" not in [one.id for one in unknowns([stated])]  # nor its scatter
    partly = with_values(scenario, {"entry.clock": {"median": "30 s"}})
    assert "entry.clock.sigma" in [one.id for one in unknowns([partly])]
    about = with_values(scenario, {"entry.clock": {"about": "90 s"}})
    (clock, sigma) = unknowns([about], ["entry.clock"])
    assert (clock.entry.low, clock.entry.high) == pytest.approx((20, 600))
    assert sigma.entry.low == 0.4
    fixed = with_values(scenario, {"entry.clock": {"fixed": "30 s"}})
    assert "entry.clock.sigma" not in [one.id for one in unknowns([fixed])]
    assert "entry.clock" in [one.id for one in unknowns([stated, scenario])]  # of one of the two
    names = [one.id for one in unknowns([scenario], ["leaving", "opening.gate.drop.drag_share"])]
    assert names[0] == "opening.gate.drop.drag_share"
    assert set(names[2:]) == {n for n in names if n.startswith("leaving.")}
    with pytest.raises(StudyError, match=r"entry\.clok: nothing unknown .*sources"):
        unknowns([scenario], ["entry.clok"])


def test_draws_are_uniform_and_stay_as_they_were(scenario):
    what = unknowns([scenario])
    u = draw(what, 500, 3)
    assert np.array_equal(draw(what, 20, 3), u[:20])
    assert np.array_equal(draw(what[5:7], 500, 3), u[:, 5:7])
    assert not np.array_equal(draw(what, 500, 4), u)
    # independent uniforms: no column further off, no two columns more alike, than one run of these
    # tests in a million would see by chance
    off = [stats.kstest(column, "uniform").pvalue for column in u.T]
    assert min(off) > 1e-6 / len(what)
    alike = np.corrcoef(u.T) - np.eye(len(what))
    pairs = len(what) * (len(what) - 1) / 2
    assert np.abs(alike).max() < stats.norm.isf(1e-6 / pairs / 2) / np.sqrt(500)


def test_a_world_has_the_values_that_the_register_allows(scenario):
    what = unknowns([scenario])
    low, middle, high = (in_world(scenario, what, [u] * len(what)) for u in (0.05, 0.5, 0.95))
    assert low.entry.clock.median() == pytest.approx(10.0)
    assert middle.entry.clock.median() == pytest.approx(45.0)
    assert high.entry.clock.median() == pytest.approx(300.0)
    assert (low.entry.clock.b, high.entry.clock.b) == pytest.approx((0.4, 1.2))
    assert middle.entry.openness_slope == pytest.approx(0.0)
    assert high.opening[0].width == scenario.opening[0].width
    assert high.opening[0].latch.friction.median == pytest.approx(0.8)


@pytest.mark.parametrize("name", few_first(examples.names()))
def test_every_example_can_be_in_any_world(name):
    """Also where all unknowns lie at one end, or each at an end of its own."""
    from soundergate.studies.players import player

    scenario = loads(examples.text(name), name)
    what = unknowns([scenario])
    ends = np.random.default_rng(1).choice([0.01, 0.99], (4, len(what)))
    for u in (np.full(len(what), 0.01), np.full(len(what), 0.99), *ends):
        outcomes = player(in_world(scenario, what, u.tolist()))(1, 0, 20)
        check_identities(outcomes)
