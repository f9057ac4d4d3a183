"""Further nights: only where they can change a verdict, within their bound, and never for free."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy import stats

from soundergate.engine.outcomes import Outcomes
from soundergate.engine.work.executors import InOrder
from soundergate.scenario.register import Entry
from soundergate.studies.worlds import robust_result, verdicts
from soundergate.studies.worlds.further import AGAIN, Further, Longer
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.playing import play_worlds
from soundergate.studies.worlds.robust import robust_players
from soundergate.studies.worlds.sentences import NOT_SOUGHT, further_sentence
from soundergate.studies.worlds.verdicts import AHEAD, DEPENDS, NO_MATTER, in_doubt, verdict

NIGHTS, WORLDS, NEAR = 100, 200, 0.02
WHAT = [Input("entry.whim", ("entry.whim",),
              Entry("entry.whim", 5.0, "s", 0.0, 10.0, "uniform", "invented", "", ""))]  # fmt: skip
SLOW = pytest.mark.slow


class MadeUp:
    """Worlds in which the gain of a night has a mean ``true`` float[W] and a spread ``sd``."""

    def __init__(self, true: np.ndarray, sd: float = 0.1, at_once: int = 1000) -> None:
        self.true, self.sd, self.at_once, self.executor = true, sd, at_once, InOrder()
        self.asked: list[tuple[int, int, int]] = []
        self.gain, self.noise = np.zeros(len(true)), np.zeros(len(true))

    def __call__(self, seed, worlds, first, count):
        """Mean over so many nights, and its variance as these nights show it."""
        self.asked += [(world, at, count) for world, at in zip(worlds, first, strict=True)]
        rng = np.random.default_rng([seed, first[0], count])
        means = rng.normal(self.true[worlds], self.sd / np.sqrt(count))
        spreads = self.sd**2 * rng.chisquare(count - 1, len(worlds)) / (count - 1) / count
        return list(zip(means.tolist(), spreads.tolist(), strict=True))

    def take(self, row, played, share):
        mean, spread = played
        self.gain[row] = share * mean + (1 - share) * self.gain[row]
        self.noise[row] = share**2 * spread + (1 - share) ** 2 * self.noise[row]


def study(true, seed, times=1, most=10**9, **more):
    """What is said of a pair: of worlds of ``times`` as many nights at first, and then longer."""
    made, nights = MadeUp(np.asarray(true, float), **more), times * NIGHTS
    rows = range(len(made.true))
    for row, played in play_worlds(made, seed, rows, [nights * row for row in rows], nights):
        made.take(row, played, 1.0)
    longer = Longer(len(rows), nights, 2, most)
    if times == 1:
        longer.play(made, seed, rows, lambda: doubt(made), made.take)
    return verdict("a", "b", "fraction_caught", made.gain, made.noise, NEAR), made, longer


def doubt(made):
    return in_doubt(made.gain[:, None], made.noise[:, None], NEAR)


SPREAD = np.linspace(-1, 1, WORLDS)
EITHER = np.where(np.arange(WORLDS) % 2 == 0, 0.035, -0.035)
CASES = {
    "alike in every world": (0 * SPREAD, NO_MATTER),
    "alike in every world, some near the limit": (0.007 * SPREAD, NO_MATTER),
    "apart in every other world": (0.06 * np.sign(SPREAD), DEPENDS),
    "apart in a fifth": (np.where(SPREAD > 0.6, EITHER, 0.0), DEPENDS),
    "ahead in every world": (0.1 + 0.02 * SPREAD, AHEAD),
    "ahead, a little worse in many": (0.03 + 0.04 * SPREAD, AHEAD),
    "ahead, much worse in a fifth": (np.where(SPREAD > 0.6, -0.05, 0.1), DEPENDS),
    "spread over all": (0.3 * SPREAD, DEPENDS),
}


@pytest.mark.parametrize("case", CASES)
def test_verdicts_are_those_of_playing_every_world_so_long(case):
    """On cases clear of what decides between verdicts, ten studies each."""
    true, wanted = CASES[case]
    for seed in range(10):
        found, _, longer = study(true, seed)
        assert found.verdict == wanted == study(true, seed, AGAIN)[0].verdict
        assert longer.played < 2 * (AGAIN - 1) * NIGHTS * WORLDS


@pytest.mark.parametrize("case", [name for name, (_, said) in CASES.items() if said == DEPENDS])
def test_nothing_is_played_where_nothing_can_change(case):
    """A verdict that half the worlds deny asks for no nights, whatever else is in doubt."""
    true, _ = CASES[case]
    sure, made, longer = study(true, 1, sd=0.02)
    assert (sure.verdict, longer.played) == (DEPENDS, 0)
    assert not doubt(made).any()


@pytest.mark.parametrize("studies", [300, pytest.param(3000, marks=SLOW)])
@pytest.mark.parametrize("said", [NO_MATTER, AHEAD])
def test_false_alarms_stay_below_five_in_a_hundred(studies, said):
    """A tenth of worlds lies just beyond the limit, the worst that is not to be called: looking
    four times may not call it more often than 5 in 100 (by chance once in a thousand at most)."""
    rng, called = np.random.default_rng(8), 0
    for seed in range(studies):
        beyond = rng.random(WORLDS) < 0.1
        if said == NO_MATTER:
            true = np.where(beyond, NEAR, 0.0)
        else:
            true = np.where(beyond, -NEAR, 0.2)
        called += study(true, seed)[0].verdict == said
    assert called <= stats.binom.isf(1e-3, studies, 0.05)


def test_a_smaller_margin_gives_too_many(monkeypatch):
    """Negative control: with a margin that is right for one look in ten there are too many."""
    monkeypatch.setattr(verdicts, "NEAR", 1.3)
    with pytest.raises(AssertionError):
        test_false_alarms_stay_below_five_in_a_hundred(300, NO_MATTER)


def test_the_bound_is_kept_and_said():
    """Worlds of alike setups on nights that tell little: all want more than there is."""
    true, most = np.full(WORLDS, 0.012), 40_000
    _, made, longer = study(true, 2, most=most)
    assert longer.further == Further(most, longer.played, 1)
    assert most - 2 * NIGHTS * AGAIN < longer.played <= most
    assert longer.played == 2 * sum(count for _, _, count in made.asked[WORLDS:])
    assert longer.had.sum() == WORLDS * NIGHTS + longer.played // 2
    told = further_sentence(int((longer.had > NIGHTS).sum()), longer.further, "nights")
    assert f"{longer.played:,} further nights of all setups together, of at most 40,000." in told
    assert told.endswith("More than these could still change what is said of 1 pair.")
    none = study(true, 2, most=0)[2]
    assert none.further == Further(0, 0, 1)
    assert "More than these" in further_sentence(0, none.further, "nights")
    assert further_sentence(0, Further(most), "nights") == ""


def test_further_nights_are_as_many_again_and_no_other_worlds():
    _, made, longer = study(0.012 * SPREAD, 3)
    taken: set[int] = set()
    had = dict.fromkeys(range(WORLDS), 0)
    for world, first, count in made.asked:
        assert count == (had[world] or NIGHTS)
        had[world] += count
        numbers = set(range(first, first + count))
        assert not taken & numbers
        taken |= numbers
    assert list(had.values()) == longer.had.tolist()
    assert max(had.values()) == AGAIN * NIGHTS


def test_a_pair_whose_verdict_stands_asks_for_nothing():
    """However much of what it needs not is in doubt: here a tenth is, and none is needed."""
    gains = np.where(np.arange(WORLDS) % 20 == 0, NEAR, 0.0)[:, None]
    noise = np.full_like(gains, 0.001**2)
    assert verdict("a", "b", "", gains[:, 0], noise[:, 0], NEAR).verdict == NO_MATTER
    assert not in_doubt(gains, noise, NEAR).any()
    # one world fewer than enough are alike: then all in doubt are worth it, and only those
    gains[np.arange(13) + 1] = NEAR
    wanted = (gains == NEAR) & (np.cumsum(gains == NEAR) > 0)[:, None]
    assert (in_doubt(gains, noise, NEAR) == wanted).all()
    # too few worlds for so many pairs: nothing can be shown
    assert not in_doubt(gains, noise, NEAR, pairs=10**9).any()


def test_each_pair_asks_for_itself():
    rng = np.random.default_rng(4)
    gains = rng.normal([0.0, 0.015, 0.02, 0.3], 0.004, (WORLDS, 4))
    noise = np.full_like(gains, 0.004**2)
    whole = in_doubt(gains, noise, NEAR, pairs=4)
    for pair in range(4):
        alone = in_doubt(gains[:, [pair]], noise[:, [pair]], NEAR, pairs=4)
        assert (whole[:, [pair]] == alone).all()
    assert whole.any(axis=0).tolist() == [False, True, True, False]


def every_case():
    for case in CASES:
        test_verdicts_are_those_of_playing_every_world_so_long(case)


@pytest.mark.parametrize("mutant", ["never", "always"])
def test_a_stop_that_is_wrong_is_seen(monkeypatch, mutant):
    """A stop that never lets a world go on loses verdicts; one that always does wastes nights."""
    wrong = np.zeros if mutant == "never" else np.ones
    monkeypatch.setitem(globals(), "doubt", lambda made: wrong((WORLDS, 1), bool))
    with pytest.raises(AssertionError):
        every_case()


def test_worlds_that_are_all_alike_need_no_further_nights(nights):
    """Each by itself could hide a rare night; all together they tell how rare such nights are."""
    r = robust_players(["a", "b"], WHAT, lambda arm, u: nights(), WORLDS, 10,
                       measures=["fraction_caught"])  # fmt: skip
    assert r.further.played == 0
    assert r.verdict("a", "b").verdict == NO_MATTER


def test_on_what_so_many_pairs_depend_is_sought_for_those_with_the_best_alone(monkeypatch):
    """Said in words and in what is written; of any other pair it can be asked."""

    def catches(arm, u):
        share = 0.5 + 0.02 * arm + 0.3 * (u[0] - 0.5) * (-1) ** arm

        def play(seed, first, count):
            o = Outcomes.empty(count)
            o["group_size"][:] = 1000
            o["caught"][:] = round(1000 * share)
            return o

        return play

    r = robust_players(list("abcd"), WHAT, catches, 200, 200, 5, measures=["fraction_caught"])
    depends = [(v.a, v.b) for v in r.verdicts if v.verdict == DEPENDS]
    assert r.sought == depends
    assert len(depends) == 4
    assert not any(NOT_SOUGHT in line for line in r.sentences)
    monkeypatch.setattr(robust_result, "MOST_SOUGHT", 3)
    few = dataclasses.replace(r)
    assert few.best() == "d"
    assert few.sought == [("a", "d"), ("c", "d")]
    assert [NOT_SOUGHT in line for line in few.verdict_sentences] == [
        pair in depends and pair not in few.sought for pair in few.pairs
    ]
    told = {(v["a"], v["b"]): v for v in few.to_json()["verdicts"]}
    assert [pair for pair, v in told.items() if v["rule_sought"]] == few.sought
    assert told["a", "b"]["depends_on"] is None
    assert few.depends_on("a", "b") == r.depends_on("a", "b")
    assert r.depends_on("a", "b") is not None
