"""Comparisons: differences night by night, simultaneous intervals, words, JSON, stops."""

import json
import math

import numpy as np
import pytest
from scipy import stats

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.arms import Arm
from soundergate.studies.compare import compare, compare_players
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import bonferroni, mean_t, paired_proportions
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.sentences import sentence


def players(nights, *means, group=10):
    return [(Arm(f"m{mean}", None, {"mean": mean}), nights(mean, 0.5, group)) for mean in means]


def test_differences_are_those_of_the_nights(nights, cells):
    c = compare_players(players(nights, 0.6, 0.5, 0.55), nights=800, seed=4, keep_outcomes=True)
    assert [(d.a, d.b) for d in c.differences[:3]] == [
        ("m0.6", "m0.5"),
        ("m0.6", "m0.55"),
        ("m0.5", "m0.55"),
    ]
    each = bonferroni(0.95, 3)
    for d in c.differences:
        a, b = c[d.a].outcomes, c[d.b].outcomes
        x, y = (
            (o[d.measure] if d.measure != "escaped" else o["escaped_during"] for o in (a, b))
            if (d.measure != "fraction_caught")
            else (a["caught"] / 10, b["caught"] / 10)
        )
        assert d.estimate == pytest.approx(x.mean() - y.mean())
        if d.measure == "whole_group":
            interval = paired_proportions(*cells(x, y), each)
        else:
            interval = mean_t(np.subtract(x, y, dtype=float), each)
        assert (d.low, d.high) == pytest.approx(interval[:2])
        assert (d.level, d.each_level, d.nights) == (0.95, each, 800)
        x, y = x.astype(float), y.astype(float)
        gain = (x.var() + y.var()) / (x - y).var()
        assert d.gain == pytest.approx(gain)
        assert d.gain > 1.5  # these made-up nights share their luck


def test_two_arms_at_their_own_level_match_scipy(nights):
    c = compare_players(players(nights, 0.6, 0.5), nights=500, keep_outcomes=True)
    x, y = (arm.result.outcomes["caught"] for arm in c.arms)
    theirs = stats.ttest_rel(x, y).confidence_interval(0.95)
    d = c.difference("m0.6", "m0.5", "caught")
    assert (d.low, d.high) == pytest.approx((theirs.low, theirs.high))
    turned = c.difference("m0.5", "m0.6", "caught")
    assert (turned.estimate, turned.low, turned.high) == (-d.estimate, -d.high, -d.low)
    with pytest.raises(KeyError, match="no difference of struck"):
        c.difference("m0.5", "m0.6", "struck")


def test_against_one_arm(nights):
    c = compare_players(
        players(nights, 0.5, 0.6, 0.7), nights=300, against="m0.5", measures=["caught"]
    )
    assert [(d.a, d.b) for d in c.differences] == [("m0.6", "m0.5"), ("m0.7", "m0.5")]
    assert c.differences[0].each_level == bonferroni(0.95, 2)
    assert c.differences[1].estimate > 0
    with pytest.raises(StudyError, match="no arm is named 'x'"):
        compare_players(players(nights, 0.5, 0.6), nights=10, against="x")


@pytest.mark.slow
def test_simultaneous_intervals_hold_together(nights):
    """Four arms, six pairs: all six truths are covered together about 95 % of the time. With true
    joint coverage 0.93 this fails by chance once in a million. The negative control, intervals
    at 95 % each, holds together far less often and fails the same check."""
    means = (0.45, 0.5, 0.55, 0.6)
    together, apart, runs = 0, 0, 200
    for seed in range(runs):
        arms = players(nights, *means, group=6)
        c = compare_players(arms, nights=150, seed=seed, measures=["fraction_caught"])
        truths = {name.name: mean for (name, _), mean in zip(arms, means, strict=True)}
        errors = [(d, d.estimate - (truths[d.a] - truths[d.b])) for d in c.differences]
        together += all(abs(e) <= d.half_width for d, e in errors)
        ratio = stats.t.ppf(0.975, 149) / stats.t.ppf(1 - 0.025 / 6, 149)
        apart += all(abs(e) <= ratio * d.half_width for d, e in errors)
    allowed = stats.binom.ppf(1e-6, runs, 0.93)
    assert together >= allowed
    assert apart < allowed


def test_arms_that_never_differ(nights):
    same = [(Arm(n, None), nights(0.6, 0.5, 10)) for n in ("a", "b")]
    c = compare_players(same, nights=400)
    d = c.difference("a", "b", "caught")
    assert d.estimate == 0
    assert -0.2 < d.low < 0 < d.high < 0.2  # not a point: the next night might differ
    assert d.gain == math.inf
    assert not d.settled
    assert json.loads(json.dumps(d.to_json(), allow_nan=False))["gain"] is None


def test_groups_of_different_size(nights):
    arms = [(Arm("four", None), nights(0.6, 0.5, 4)), (Arm("nine", None), nights(0.6, 0.5, 9))]
    c = compare_players(arms, nights=300, keep_outcomes=True)
    x, y = (arm.result.outcomes["caught"] / n for arm, n in zip(c.arms, (4, 9), strict=True))
    d = c.difference("four", "nine")
    assert d.estimate == pytest.approx((x - y).mean(), abs=1e-15)
    assert (d.low, d.high) == pytest.approx(mean_t(x - y)[:2])


def test_pairs_do_not_depend_on_pieces_and_must_be_the_same_nights(nights):
    a, b = nights(0.6)(1, 0, 700), nights(0.4)(1, 0, 700)
    whole = PairTally.of(a, b)
    parts = PairTally()
    for start in range(0, 700, 90):
        parts = parts + PairTally.of(a.rows(start, start + 90), b.rows(start, start + 90))
    assert parts == whole
    with pytest.raises(ValueError, match="same nights"):
        PairTally.of(a.rows(0, 10), b.rows(1, 11))


def test_mutant_pairing_with_other_nights_is_seen(nights):
    """Pair night k with night k + 1 on purpose: the gain of common nights must vanish."""
    a, b = nights(0.6)(1, 0, 2000), nights(0.5)(1, 0, 2000)
    shifted = Outcomes({**a, "night": b["night"], "caught": np.roll(a["caught"], 1)})
    tallies = Tally.of(a), Tally.of(b)
    good = PairTally.of(a, b).difference("caught", ("a", "b"), tallies, 0.95, 1)
    bad = PairTally.of(shifted, b).difference("caught", ("a", "b"), tallies, 0.95, 1)
    assert good.gain > 2
    assert bad.gain == pytest.approx(1, abs=0.1)


def test_precision_of_a_difference(nights):
    c = compare_players(players(nights, 0.6, 0.5, 0.4), precision={"caught": 0.1})
    assert c.precision_reached
    assert all(d.half_width <= 0.1 for d in c.differences if d.measure == "caught")
    assert c.nights > 1000
    loose = compare_players(players(nights, 0.6, 0.5), precision=0.5)
    assert loose.nights == 1000
    with pytest.raises(StudyError, match="precision names struck, which is not compared"):
        compare_players(players(nights, 0.6, 0.5), precision={"struck": 0.1})


def test_sentences(nights):
    c = compare_players(players(nights, 0.5, 0.6), nights=3000)
    d = c.difference("m0.6", "m0.5", "caught")
    assert sentence(d) == (
        f"m0.6 catches {d.estimate:.3g} pigs a night more than m0.5 "
        f"({d.low:.3g} to {d.high:.3g}, 95 % confidence, 3,000 common nights)."
    )
    assert "m0.5 catches a share of its group" in c.sentences[0]
    assert "points lower than m0.6" in c.sentences[0]
    assert any("m0.5 lets" in s and "pigs a night more escape than m0.6" in s for s in c.sentences)
    close = compare_players(players(nights, 0.5, 0.501), nights=50)
    unsettled = sentence(close.difference("m0.5", "m0.501", "caught"))
    assert unsettled.startswith("m0.5 and m0.501: no difference in caught shown by 50 common")
    assert "−" in unsettled
    assert "too few nights" in compare_players(players(nights, 0.5, 0.6), nights=1).sentences[0]


def test_json_tables_and_csv(nights, tmp_path):
    c = compare_players(players(nights, 0.6, 0.5), nights=200)
    data = json.loads(json.dumps(c.to_json(), allow_nan=False))
    assert [list(arm)[:2] for arm in data["arms"]] == [["name", "set"]] * 2
    assert data["arms"][0]["set"] == {"mean": 0.6}
    assert data["arms"][0]["caught"] == c["m0.6"]["caught"].to_json()
    wanted = ["a", "b", "measure", "estimate", "low", "high", "level"]
    assert all(list(d)[:7] == wanted for d in data["differences"])
    assert list(c.table["measure"]) == ["fraction_caught", "caught", "escaped", "whole_group"]
    assert c.arm_table.loc[("m0.6", "caught"), "estimate"] == c["m0.6"]["caught"].estimate
    rows = c.to_differences_csv(tmp_path / "d.csv").splitlines()
    assert (tmp_path / "d.csv").read_text().splitlines() == rows
    assert float(rows[1].split(",")[3]) == c.differences[0].estimate
    summary = c.to_summary_csv().splitlines()
    assert summary[0].startswith("arm,measure,estimate")
    assert summary[-1].startswith("m0.5,operator_min,")
    with pytest.raises(KeyError, match=r"m0\.6"):
        c["other"]


def test_ctrl_c_leaves_arms_with_the_same_nights(nights):
    calls = []

    def stops(seed, first, count):
        calls.append(first)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return nights(0.5)(seed, first, count)

    c = compare_players([(Arm("a", None), nights(0.6)), (Arm("b", None), stops)], nights=10_000)
    assert c.interrupted
    assert {arm.result.nights for arm in c.arms} == {c.nights}
    assert 0 < c.nights < 10_000
    assert c.differences[0].nights == c.nights


def test_compare_of_files(made_up_engine, scenario_file):
    c = compare(scenario_file, ["opening.width=4 ft,8 ft"], nights=300)
    assert [arm.set for arm in c.arms] == [{"opening.width": "4 ft"}, {"opening.width": "8 ft"}]
    assert c.differences[0].estimate < 0
    assert c.arms[0].result.scenario.opening[0].width == pytest.approx(1.2192)
    for files, vary, message in (
        (scenario_file, None, "two arms or more"),
        (scenario_file, ["opening.width=4 ft"], "two arms or more"),
        ([scenario_file, scenario_file], None, None),
    ):
        if message:
            with pytest.raises(StudyError, match=message):
                compare(files, vary, nights=10)
        else:
            assert len(compare(files, vary, nights=10).arms) == 2


def test_wrong_measures(nights):
    for measures, message in (
        (["weight"], "weight"),
        (["release_s"], "release_s"),
        ([], "no meas"),
    ):
        with pytest.raises(StudyError, match=message):
            compare_players(players(nights, 0.5, 0.6), nights=10, measures=measures)
    with pytest.raises(StudyError, match=r"same name: m0\.5"):
        compare_players(players(nights, 0.5, 0.5), nights=10)
