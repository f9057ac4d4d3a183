"""The result of a run: numbers, JSON, CSV, seeds, stopping, and a stop by hand."""

import json
import math

import numpy as np
import pytest

from shared.results import from_outcomes
from soundergate.engine.outcomes import Outcomes
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import run_player
from soundergate.studies.estimates.intervals import clopper_pearson, mean_t, mean_within, wilson
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.estimates.moments import Moments
from soundergate.studies.estimates.stopping import MINIMUM_NIGHTS, check_nights, next_total
from soundergate.studies.estimates.tally import Tally

FIELDS = ["fraction_caught", "caught", "escaped", "whole_group", "released", "failed_release"]


@pytest.fixture
def result(nights):
    return run_player(nights(), nights=700, seed=5)


def test_numbers_are_those_of_the_nights(result):
    o = result.outcomes
    share = o["caught"] / o["group_size"]
    assert (result.nights, result.seed, result.group_size) == (700, 5, 10)
    assert o["night"].tolist() == list(range(700))
    fraction = result["fraction_caught"]
    assert fraction.estimate == pytest.approx(share.mean())
    assert (fraction.low, fraction.high) == mean_within(
        700, fraction.estimate, Moments.of(o["caught"], 10).variance, 0.95, (0.0, 1.0)
    )[:2]
    plain = result.interval("fraction_caught", method="t")
    assert (plain.low, plain.high) == pytest.approx(mean_t(share, bounds=(0, 1))[:2])
    assert result["escaped"].estimate == pytest.approx((10 - o["caught"]).mean())
    k = int(o["whole_group"].sum())
    assert result.interval("whole_group", 0.9) == wilson(k, 700, 0.9)
    assert result.interval("whole_group", 0.9, "clopper-pearson") == clopper_pearson(k, 700, 0.9)
    booted = result.interval("fraction_caught", 0.95, "bootstrap")
    assert booted.low == pytest.approx(fraction.low, abs=0.003)
    assert booted == result.interval("fraction_caught", 0.95, "bootstrap")
    released = o["released"]
    assert result["release_s"].nights == released.sum() < 700
    assert result["release_s"].estimate == pytest.approx(o["release_s"][released].mean())


def test_share_of_arrived_leaves_out_nights_when_none_came(nights):
    o = nights()(1, 0, 6)
    o["arrived"][:] = [10, 0, 5, 10, 10, 10]
    o["caught"][:] = [5, 0, 5, 0, 10, 2]
    e = from_outcomes(o)["fraction_of_arrived"]
    assert e.nights == 5
    assert e.estimate == pytest.approx((0.5 + 1 + 0 + 1 + 0.2) / 5)


def test_json_keys_and_values(result):
    data = json.loads(json.dumps(result.to_json(), allow_nan=False))
    assert list(data)[:9] == ["nights", "seed", "group_size", *FIELDS]
    for name in MEASURES:
        assert list(data[name]) == ["estimate", "low", "high", "level"]
    for name in FIELDS:
        assert data[name]["low"] <= data[name]["estimate"] <= data[name]["high"]
    assert data["interrupted"] is False


def test_unknown_intervals_are_null_in_json_and_empty_in_csv(nights):
    one = run_player(nights(), nights=1)
    data = json.loads(json.dumps(one.to_json(), allow_nan=False))
    assert data["caught"]["low"] is None
    assert data["whole_group"]["high"] < 1
    row = next(line for line in one.to_summary_csv().splitlines() if line.startswith("caught"))
    assert row.split(",")[2:4] == ["", ""]


def test_summary_csv_reads_back_exactly(result, tmp_path):
    path = tmp_path / "summary.csv"
    text = result.to_summary_csv(path)
    assert path.read_bytes() == text.encode()
    head, *rows = [line.split(",") for line in text.splitlines()]
    assert head == ["measure", "estimate", "low", "high", "level", "unit", "nights"]
    assert [row[0] for row in rows] == list(MEASURES)
    assert [float(row[1]) for row in rows] == [e.estimate for e in result]


def test_table_has_a_row_a_measure(result):
    table = result.table
    assert list(table.index) == list(MEASURES)
    assert table.loc["caught", "estimate"] == result["caught"].estimate
    assert "caught" in result._repr_html_()


def test_chunking_does_not_change_a_bit(nights):
    player = nights()
    whole = player(3, 0, 1000)
    for cuts in ([1000], [1, 999], [333, 333, 334], [7] * 142 + [6]):
        tally, first = Tally(), 0
        for count in cuts:
            tally, first = tally + Tally.of(player(3, first, count)), first + count
        assert tally == Tally.of(whole)
    assert Tally.of(player(3, 0, 999)) != Tally.of(whole)


def test_rounds_of_any_length_give_the_same_result(nights, monkeypatch):
    reference = run_player(nights(), precision=0.02, seed=8)
    monkeypatch.setattr("soundergate.studies.estimates.stopping._LARGEST_ROUND", 100)
    monkeypatch.setattr("soundergate.studies.estimates.stopping._FIRST_ROUND", 1)
    other = run_player(nights(), precision=0.02, seed=8)
    assert other.tally == reference.tally
    assert other.outcomes == reference.outcomes


def test_nights_need_not_be_kept(nights):
    kept, thrown = (
        run_player(nights(), nights=600, seed=2, keep_outcomes=keep) for keep in (True, False)
    )
    assert thrown.outcomes is None
    assert thrown.tally == kept.tally
    with pytest.raises(ValueError, match="keep_outcomes"):
        thrown.interval("caught", method="bootstrap")


def test_seeds(nights):
    zero = run_player(nights(), nights=50, seed=0)
    assert zero.seed == 0
    assert zero.tally != run_player(nights(), nights=50, seed=1).tally
    assert run_player(nights(), nights=50, seed=np.int64(7)).seed == 7
    fresh = run_player(nights(), nights=50, seed=None)
    assert fresh.tally == run_player(nights(), nights=50, seed=fresh.seed).tally
    assert fresh.seed != run_player(nights(), nights=50, seed=None).seed


@pytest.mark.parametrize("seed", [True, 1.0, "1", -1, 2**63, [1], np.float64(2)])
def test_other_seeds_are_refused(nights, seed):
    with pytest.raises(StudyError, match="seed is"):
        run_player(nights(), nights=5, seed=seed)


@pytest.mark.parametrize("count", [0, -3, 1.5, True, "10"])
def test_wrong_numbers_of_nights_are_refused(nights, count):
    with pytest.raises(StudyError, match="nights is"):
        run_player(nights(), nights=count)


@pytest.mark.parametrize(
    ("precision", "message"),
    [
        (0, "above 0"),
        (-0.1, "above 0"),
        (math.nan, "above 0"),
        ({"weight": 1}, "must be one of"),
        ({"caught": True}, "above 0"),
        ("tight", "such as 0.01"),
        ("caught=x", "such as 0.01"),
        ({}, "names no measure"),
    ],
)
def test_wrong_precisions_are_refused(nights, precision, message):
    with pytest.raises(StudyError, match=message):
        run_player(nights(), precision=precision)


@pytest.mark.parametrize("level", [0, 1, 95, True, "0.95", math.nan])
def test_wrong_levels_are_refused(nights, level):
    with pytest.raises(StudyError, match="level is"):
        run_player(nights(), nights=5, level=level)


def test_precision_in_words_and_for_several_measures(nights):
    r = run_player(nights(), precision="caught=0.2, whole_group=0.02", seed=1)
    assert r["caught"].half_width <= 0.2
    assert r["whole_group"].half_width <= 0.02
    assert r.precision == {"caught": 0.2, "whole_group": 0.02}
    assert r.precision_reached
    assert run_player(nights(), precision="0.5").nights == MINIMUM_NIGHTS


def test_nights_limit_a_precision_that_is_out_of_reach(nights):
    r = run_player(nights(), nights=1500, precision=1e-4)
    assert (r.nights, r.precision_reached) == (1500, False)
    assert run_player(nights(), nights=300, precision=0.5).nights == 300
    assert run_player(nights(), nights=300).precision_reached is None


def test_next_look_follows_the_spread_within_limits():
    assert next_total(1000, {"caught": 0.12}, {"caught": 0.1}) == math.ceil(1.05 * 1440)
    assert next_total(1000, {"caught": 10.0}, {"caught": 0.1}) == 2000
    assert next_total(1000, {"caught": 0.1001}, {"caught": 0.1}) == 1100
    assert next_total(1000, {"caught": math.nan}, {"caught": 0.1}) == 2000


class StopsByHand:
    """Plays until Ctrl-C comes in the middle of the given call."""

    def __init__(self, player, call):
        self.player, self.call, self.calls = player, call, 0

    def __call__(self, seed, first, count):
        self.calls += 1
        if self.calls == self.call:
            raise KeyboardInterrupt
        return self.player(seed, first, count)


def test_ctrl_c_reports_the_complete_nights(nights):
    seen = []
    r = run_player(
        StopsByHand(nights(), 2), nights=100_000, progress=lambda done, of: seen.append((done, of))
    )
    assert r.interrupted
    assert 0 < r.nights < 100_000
    assert seen == [(r.nights, 100_000)]
    assert r.outcomes == nights()(1, 0, r.nights)
    assert r.tally == Tally.of(r.outcomes)
    assert r.to_json()["interrupted"] is True
    with pytest.raises(KeyboardInterrupt):
        run_player(StopsByHand(nights(), 1), nights=100)


def test_ctrl_c_while_counting_leaves_no_half_counted_nights(nights, monkeypatch):
    whole, calls = Tally.of, []

    def interrupted(outcomes):
        calls.append(1)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return whole(outcomes)

    monkeypatch.setattr(Tally, "of", interrupted)
    r = run_player(nights(), nights=100_000)
    monkeypatch.undo()
    assert r.interrupted
    assert r.tally == Tally.of(r.outcomes)
    assert r.nights == len(r.outcomes)


def test_a_player_that_loses_nights_is_caught(nights):
    def short(seed, first, count):
        return nights()(seed, first, count).rows(0, count - 1)

    with pytest.raises(RuntimeError, match="asked for 256 nights"):
        run_player(short, nights=1000)


def test_unknown_measures_and_methods_are_named(result):
    with pytest.raises(ValueError, match="fraction_caught"):
        result["weight"]
    with pytest.raises(ValueError, match="clopper-pearson"):
        result.interval("caught", method="magic")
    with pytest.raises(ValueError, match="use t"):
        result.interval("caught", method="wilson")


def test_a_group_that_changes_from_night_to_night(nights):
    both = Outcomes.concatenate([nights(group=4)(1, 0, 50), nights(group=8)(1, 50, 50)])
    r = from_outcomes(both)
    assert r.group_size == 8
    assert r["fraction_caught"].estimate == pytest.approx(
        (both["caught"] / both["group_size"]).mean()
    )


def test_fates_and_catches_are_counted(nights):
    o = nights()(4, 0, 500)
    tally = Tally.of(o.rows(0, 200)) + Tally.of(o.rows(200, 500))
    assert tally == Tally.of(o)
    assert sum(sums.mean for sums in tally.fates.values()) == pytest.approx(1.0)
    assert tally.fates["escaped_during"].mean == pytest.approx(np.mean(o["escaped_during"]) / 10)
    assert list(tally.catches) == np.bincount(o["caught"]).tolist()
    assert sum(tally.wholes) == tally.wholes[10] == np.count_nonzero(o["whole_group"]) > 0


def test_a_run_is_of_one_night_or_more():
    assert check_nights(1) == 1
    assert check_nights(None) is None
    for wrong in (0, -1, 1.0, True):
        with pytest.raises(StudyError, match="1 or more"):
            check_nights(wrong)


@pytest.mark.parametrize("level", [1e-300, 1e-9, 1 - 1e-15])
def test_a_level_that_many_pairs_would_round_away_is_refused(nights, level):
    """Shared among pairs of arms, it would be 0 or 1 to the last bit."""
    with pytest.raises(StudyError, match="no range of use"):
        run_player(nights(), nights=5, level=level)
