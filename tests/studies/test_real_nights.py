"""The study room on nights of the real engines: common nights, workers, coverage."""

import pytest
from scipy import stats

from shared.identities import check_identities
from soundergate.scenario.loading import load
from soundergate.studies.compare import compare
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import run
from soundergate.studies.estimates.intervals import mean_t, wilson
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads


@pytest.fixture
def scenario(scenario_file):
    return load(scenario_file)


def test_workers_and_engines_change_nothing(scenario, scenario_file):
    one = run(scenario_file, nights=700, seed=0, workers=1)
    check_identities(one.outcomes)
    assert run(scenario, nights=700, seed=0, workers=2).outcomes == one.outcomes
    assert run(scenario, nights=700, seed=0, keep_outcomes=False).tally == one.tally
    plain = run(scenario, nights=40, seed=0, engine="reference")
    assert plain.outcomes == one.outcomes.rows(0, 40)
    assert run(scenario, nights=700, seed=1).outcomes != one.outcomes


def test_arms_meet_the_same_nights(scenario):
    c = compare(scenario, ["trigger.distance=20 ft,22 ft"], nights=1500, keep_outcomes=True)
    a, b = (arm.result.outcomes for arm in c.arms)
    fewer = a["arrived"] < b["arrived"], a["arrived"] > b["arrived"]
    ended = a["night_s"] < b["night_s"], a["night_s"] > b["night_s"]
    for less, sooner in zip(fewer, ended, strict=True):  # some may miss a night that ends early
        assert (sooner | ~less).all()
        assert less.sum() <= 3
    assert c.difference(*(arm.name for arm in c.arms), "caught").gain > 1
    alone = run(c.arms[0].result.scenario, nights=1500)
    assert alone.outcomes == a


def test_nights_not_animals_are_the_unit(scenario):
    """400 runs of 100 nights against the mean of all 40,000: t over nights covers, a share of
    animals does not. With true coverage 0.93 the first fails by chance once in a million times."""
    o = run(scenario, nights=40_000, seed=7).outcomes
    share = o["caught"] / o["group_size"]
    truth = share.mean()
    runs = share.reshape(400, 100)
    by_nights = [mean_t(x, bounds=(0, 1)) for x in runs]
    size = int(o["group_size"][0])
    by_animals = [wilson(round(x.sum() * size), size * 100) for x in runs]
    allowed = stats.binom.ppf(1e-6, 400, 0.93)
    assert sum(low <= truth <= high for low, high, _ in by_nights) >= allowed
    assert sum(low <= truth <= high for low, high, _ in by_animals) < allowed


def test_wrong_engines_and_workers(scenario):
    with pytest.raises(StudyError, match="'fast'; it must be one of batch, reference"):
        run(scenario, nights=10, engine="fast")
    for workers in (0, -1, 1.5, True, "2"):
        with pytest.raises(StudyError, match="workers is"):
            run(scenario, nights=10, workers=workers)


def test_study_of_real_nights(scenario_file):
    text = 'base = "alder.toml"\nnights = 200\n[factors]\ntrigger.distance = ["12 ft", "22 ft"]\n'
    s = run_study(loads(text, scenario_file.parent / "study.toml"))
    assert s.failed == {}
    assert s.comparison.nights == 200
    assert len(s.comparison.differences) == 4
