"""Who came is a matter of the animals and of the check, not of what the trap did: of the nights of
two setups the same animals came, and what happens after a closure changes nothing before it, unless
those outside come back while another gate is still to fall."""

from __future__ import annotations

import numpy as np
import pytest

from soundergate.engine import play

SEED = 20260112
OF_THE_RELEASE = ("released", "release_s", "inside_at_release", "struck", "strike_energy_j")
SHUN = {"open_entry": 0}
HOLDINGS = {
    "nobody ever": {"try_clock": "never", "climb_clock": "never", "root_clock": "never", **SHUN},
    "at once": {"try_clock": "1 s", "climb_clock": "1 s", "climb_reach": 5, "root_clock": "2 min",
                "late_clock": "20 s", "follow_clock": "1 s", "hole_clock": "never", **SHUN},
    "slipping out past one that pushes in, at any time": {"slip_share": 0.9, **SHUN},
}  # fmt: skip


def test_what_happens_after_the_closure_changes_nothing_before_it(
    sampled_night, base_table, plan_of
) -> None:
    plans = [
        plan_of(base_table, **{**sampled_night.change, "holding": holding})
        for holding in HOLDINGS.values()
    ]
    held, free, slipping = (play(plan, SEED, 0, sampled_night.nights) for plan in plans)
    assert np.array_equal(held["arrived"], free["arrived"])
    assert np.array_equal(held["arrived"], slipping["arrived"])
    if (plans[0].openings["one_way"] != 0).all():
        return  # such a trap holds those inside from the first entry on, not from a release
    for name in OF_THE_RELEASE:
        assert np.array_equal(held[name], free[name], equal_nan=True), name


def test_a_holding_that_matters_was_compared(night_named, base_table, plan_of) -> None:
    change = night_named("captives climb low panels or root under them").change
    held, free, _ = (
        play(plan_of(base_table, **{**change, "holding": holding}), SEED, 0, 100)
        for holding in HOLDINGS.values()
    )
    assert held["escaped_after"].sum() == 0 < free["escaped_after"].sum()
    assert (held["night_s"] != free["night_s"]).any()


@pytest.mark.parametrize("engine", ["batch", "reference"])
def test_the_same_animals_came_whatever_releases_the_gate(engine, base_table, plan_of) -> None:
    triggers = ({"kind": "none"}, {"kind": "counter", "count": 1}, {"kind": "person"})
    arrival = {"first": "20 min", "spread": {"dist": "exponential", "mean": "15 min"}}
    change = {"arrival": arrival, "visit": {"check": "40 min"}}
    came = [
        play(plan_of(base_table, trigger=t, **change), SEED, 0, 100, engine)["arrived"]
        for t in triggers
    ]
    assert len(np.unique(came[0])) > 3
    assert all(np.array_equal(came[0], other) for other in came[1:])
