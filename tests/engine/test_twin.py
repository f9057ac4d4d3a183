"""Both engines give the same row for the same night, to the bit.

At ordinary settings a wrong queue order passes unseen, so the nights here are made of congestion,
ties, rare paths and every trigger; `test_mutants` shows that they notice what they are there for.
"""

from __future__ import annotations

import itertools

import pandas as pd
import pytest

from shared.identities import check_identities
from shared.tiers import few_first
from soundergate.engine import play
from soundergate.engine.kernel.batch import play_counted

SEED = 20260103


def differing(one: pd.DataFrame, other: pd.DataFrame) -> str:
    """The first nights that differ and in what, for the message."""
    unlike = ~((one == other) | (one.isna() & other.isna()))
    rows = unlike.any(axis=1)
    told = [
        f"night {one['night'][i]}: "
        + ", ".join(f"{c} {one[c][i]} / {other[c][i]}" for c in unlike.columns[unlike.loc[i]])
        for i in one.index[rows][:5]
    ]
    return f"{rows.sum()} of {len(one)} nights differ (batch / reference)\n" + "\n".join(told)


def check_twins(plan, seed: int, first: int, count: int) -> pd.DataFrame:
    """Play both engines; fail unless every row is the same; the rows."""
    batch = play(plan, seed, first, count, "batch")
    reference = play(plan, seed, first, count, "reference")
    same = batch == reference
    assert same, differing(batch.frame(), reference.frame())
    check_identities(batch)
    return batch.frame().assign(failed=batch.failed_release)


def test_named_night(named_night, plan_named) -> None:
    """A quarter of its nights, and one of each kind that it is there for; the second tier plays
    ten times as many others."""
    plan = plan_named(named_night)
    batch = play(plan, SEED, 0, named_night.nights, "batch")
    rows = batch.frame().assign(failed=batch.failed_release)
    check_twins(plan, SEED, 0, named_night.nights // 4)
    for condition in named_night.hits:
        there = rows.eval(condition)
        assert there.any(), f"no night where {condition}"
        check_twins(plan, SEED, int(there.idxmax()), 1)


def test_named_night_goes_where_it_is_sent(named_night, plan_named, tell) -> None:
    """The rare events and ties that the outcome row does not show."""
    plan = plan_named(named_night)
    missing, departures, ties = set(named_night.events), 0, 0
    for number in range(named_night.nights):
        told = tell(plan, SEED, number)
        missing -= {kind for _, kind, _, _ in told}
        departures = max(departures, sum(kind == "is out" for _, kind, _, _ in told))
        ties = max(ties, sum(a[0] == b[0] and a[2] != b[2] for a, b in itertools.pairwise(told)))
        enough = departures >= named_night.departures and (ties > 10 or not named_night.ties)
        if not missing and enough:
            return
    pytest.fail(f"never happened: {missing}; {departures} departures, {ties} ties in a night")


def test_both_engines_count_the_same_events(named_night, plan_named, events_in_reference) -> None:
    """So that they give up the same nights (`endless`)."""
    plan = plan_named(named_night)
    _, batch = play_counted(plan, SEED, 0, 8)
    assert batch.tolist() == events_in_reference(plan, SEED, 8)


@pytest.mark.slow
def test_named_night_two_thousand_times(named_night, plan_named) -> None:
    check_twins(plan_named(named_night), SEED + 1, 10_000, 10 * named_night.nights)


@pytest.mark.parametrize("size", few_first([1, 3, 2, 5, 8, 13, 21, 34, 64, 55, 200, 96]))
def test_groups_of_any_size(size: int, base_table, plan_of) -> None:
    """From one animal to the most that a scenario may have."""
    sows = size // 4
    plan = plan_of(
        base_table,
        sounder={"sows": sows, "juveniles": size - sows - size // 3, "piglets": size // 3},
        trigger={"kind": "counter", "count": max(1, 2 * size // 3)},
    )
    rows = check_twins(plan, SEED, 0, max(15, 200 // size))
    assert rows["released"].any()


def test_as_many_openings_as_there_may_be(base_table, plan_of) -> None:
    """Twelve gates that close one after another while pigs look for the next way out."""
    ways = [
        {**base_table["opening"][0], "width": f"{12 + 2 * j} in", "latch": {
            "kind": "pin", "puller": "air cylinder", "delay": f"{j % 5} s"}}
        for j in range(12)
    ]  # fmt: skip
    plan = plan_of(
        base_table,
        opening=ways,
        startle={"bolt_share": 0.9},
        leaving={"clock": {"dist": "exponential", "mean": "30 s"}},
    )
    rows = check_twins(plan, SEED, 0, 100)
    assert (rows["escaped_during"] > 0).any()
    assert (rows["caught"] > 0).any()


def test_the_widest_frailty_that_a_scenario_may_have(base_table, plan_of) -> None:
    """At cv 10 some animals are so reluctant that their gamma variate is 0 in floating point."""
    rows = check_twins(plan_of(base_table, entry={"frailty_cv": 10.0}), SEED, 0, 1000)
    assert (rows["never_entered"] > 0).any()


def test_a_body_as_wide_as_the_opening_to_half_a_micrometre(base_table, plan_of) -> None:
    """1.2345665 m is 1,234,567 um in both engines: half up, not half to even."""
    plan = plan_of(
        base_table,
        sounder={"sows": 3, "juveniles": 0, "piglets": 0},
        body={"exponent": 0.0, "width_coefficient": "1.234567 m", "shoulder_scatter": 0.0,
              "height_coefficient": "50 cm"},
        opening=[{**base_table["opening"][0], "width": "1.2345665 m"}],
    )  # fmt: skip
    rows = check_twins(plan, SEED, 0, 50)
    assert (rows["never_entered"] < 3).any()


def test_the_unwilling_try_elsewhere_at_once(base_table, plan_of) -> None:
    """An animal that makes up its mind in no time re-joins its clock at the very same reading."""
    panel = {"width": "3 ft", "height": "3 ft", "gate": {"kind": "push panel", "mass": "16 kg"}}
    plan = plan_of(
        base_table,
        opening=[panel, *base_table["opening"]],
        entry={"clock": "0 s", "shy_share": 0.0},
        training={"nights": 0},
    )
    rows = check_twins(plan, SEED, 0, 100)
    assert (rows["never_entered"] == 0).any()


@pytest.mark.parametrize(
    ("seed", "first"), [(0, 0), (2**63 - 1, 0), (1, 2**32 - 5), (2**40 + 1, 2**62)]
)
def test_far_seeds_and_night_numbers(seed: int, first: int, base_table, plan_of) -> None:
    rows = check_twins(plan_of(base_table), seed, first, 20)
    assert rows["night"].tolist() == list(range(first, first + 20))
    assert rows["night_s"].nunique() > 10
