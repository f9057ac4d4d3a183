"""What a batch night draws beforehand is what would be drawn by name, to the bit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared import plans
from shared.traps import SOLENOID_DROP
from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import compiled
from soundergate.engine.kernel import early_table as t
from soundergate.engine.kernel.early import draw_early
from soundergate.engine.kernel.scratch import Scratch, scratch_for
from soundergate.engine.luck.draws import (
    LEAST_FRAILTY,
    body_scale,
    frailty,
    inline_quick_gamma,
    ln_body_mass,
    sample,
)
from soundergate.engine.luck.elementary import exp
from soundergate.engine.luck.normal import WHOLE, normal_quantile, normal_quantiles
from soundergate.engine.luck.philox import uniform, uniform_pairs, uniforms
from soundergate.engine.plan import NightPlan

SEED, NIGHT = 20260129, 31

SCENARIO = {
    "title": "Invented",
    "sounder": {"sows": 2, "juveniles": 5, "piglets": 6},
    "opening": [SOLENOID_DROP],
}
TRIGGERS = [
    {"kind": "line", "height": "20 in", "distance": "22 ft"},
    {"kind": "counter", "count": 6},
    {"kind": "person"},
]

KINDS = {
    k.FIXED: (3.0, 0.0), k.EXPONENTIAL: (40.0, 0.0), k.LOGNORMAL: (3.0, 0.9), k.GAMMA: (2.5, 8.0),
    k.WEIBULL: (1.4, 30.0), k.UNIFORM: (5.0, 9.0),
}  # fmt: skip


@compiled
def draw(luck, table):
    draw_early(luck, table)


@compiled
def quantiles(stretches, p, z, which, tails):
    normal_quantiles(stretches, p, z, which, tails)


@compiled
def first_blocks(seed, night, names, u):
    uniform_pairs(seed, night, names, u)


@compiled
def numbers_from(seed, night, purpose, who, first, u):
    uniforms(seed, night, purpose, who, first, u)


def plan_of(trigger: dict, kind: int | None = None, frailty_kind: int | None = None) -> NightPlan:
    """With every time that is drawn at random of one kind, if one is given."""
    plan = plans.plan_of(SCENARIO, trigger=trigger)
    kinds, values = plan.duration_kind.copy(), plan.duration.copy()
    if kind is not None:
        rows = [row for row in range(k.DURATION_ROWS) if kinds[row] >= 0 and row != k.T_FRAILTY]
        kinds[rows] = kind
        values[rows] = KINDS[kind]
    if frailty_kind is not None:
        kinds[k.T_FRAILTY], values[k.T_FRAILTY] = frailty_kind, KINDS[frailty_kind]
    return plan._replace(duration_kind=kinds, duration=values)


def drawn(plan: NightPlan) -> Scratch:
    """The memory of a night whose numbers have been drawn."""
    scratch = scratch_for(plan)
    luck = scratch.night.luck
    luck.state.seed, luck.state.number, luck.state.traits = SEED, NIGHT, NIGHT
    draw(luck, scratch.table)
    return scratch


TIMED = {
    (t.E_SPREAD, 0): (k.T_SPREAD, k.D_SPREAD), (t.E_ENTRY, 0): (k.T_ENTRY, k.D_ENTRY),
    (t.E_STAY, 0): (k.T_LEAVE, k.D_STAY), (t.E_STAY, 1): (k.T_DWELL, k.D_STAY),
    (t.E_BOLT, 1): (k.T_BOLT, k.D_BOLT), (t.E_ROOT, 0): (k.T_ROOT, k.D_ROOT),
    (t.E_ROAM, 0): (k.T_ROAM, k.D_ROAM), (t.E_ROAM, 1): (k.T_ROAM, k.D_ROAM),
    (t.E_FIRST, 0): (k.T_FIRST, k.D_FIRST), (t.E_PATIENCE, 0): (k.T_PATIENCE, k.D_PATIENCE),
    (t.E_FALSE, 0): (k.T_FALSE, k.D_FALSE),
}  # fmt: skip
"""Row and number -> the distribution and the purpose that it is drawn for."""

CHANCES = {
    (t.E_SPREAD, 1): k.D_SPREAD, (t.E_BOLT, 0): k.D_BOLT, (t.E_LATE, 0): k.D_LATE,
    (t.E_RETURN, 0): k.D_RETURN, (t.E_RETURN, 1): k.D_RETURN, (t.E_COUNT, 0): k.D_COUNT_IN,
    (t.E_COUNT, 1): k.D_COUNT_IN, (t.E_SIZE, 0): k.D_SIZE, (t.E_HANG, 0): k.D_HANG,
}  # fmt: skip


def of_animals(e: int) -> bool:
    return e < t.E_FIRST


@pytest.mark.parametrize("trigger", TRIGGERS, ids=lambda trigger: trigger["kind"])
@pytest.mark.parametrize("kind", [None, *KINDS])
def test_times(trigger: dict, kind: int | None) -> None:
    plan = plan_of(trigger, kind)
    luck = drawn(plan).night.luck
    seen = 0
    for (e, count), (row, purpose) in TIMED.items():
        place = luck.constants.place[e, count]
        if place < 0:
            continue
        for who in range(plan.group_size if of_animals(e) else 1):
            args = int(plan.duration_kind[row]), *plan.duration[row].tolist()
            wanted = sample(*args, SEED, NIGHT, purpose, who, count)
            assert luck.drawn[place + who] == wanted, (e, count, who)
            seen += 1
    early = kind in (None, k.FIXED, k.EXPONENTIAL, k.LOGNORMAL)
    assert seen > 60 if early else seen == 0


@pytest.mark.parametrize("trigger", TRIGGERS, ids=lambda trigger: trigger["kind"])
def test_chances(trigger: dict) -> None:
    plan = plan_of(trigger)
    luck = drawn(plan).night.luck
    for (e, count), purpose in CHANCES.items():
        place = luck.constants.place[e, count]
        if e == t.E_COUNT and trigger["kind"] != "counter":
            assert place < 0
            continue
        for who in range(plan.group_size if of_animals(e) else 1):
            wanted = uniform(SEED, NIGHT, purpose, who, count)
            assert luck.drawn[place + who] == wanted, (e, count, who)


def test_bodies_latches_and_reach() -> None:
    plan = plan_of(TRIGGERS[0])
    luck, b = drawn(plan).night.luck, plan.behaviour[0]
    for i in range(plan.group_size):
        mu, sigma = plan.mass[plan.class_of[i]]
        ln_mass = ln_body_mass(mu, sigma, uniform(SEED, NIGHT, k.D_BODY, i, 0))
        u = uniform(SEED, NIGHT, k.D_BODY, i, 1)
        scale = body_scale(ln_mass, b.exponent, b.scatter, u)
        assert luck.drawn[luck.constants.place[t.E_BODY, 0] + i] == exp(ln_mass)
        assert luck.drawn[luck.constants.place[t.E_BODY, 1] + i] == scale
        reach = b.reach_mu, b.reach_sigma
        wanted = sample(k.LOGNORMAL, *reach, SEED, NIGHT, k.D_CLIMB, i, 0)
        assert luck.drawn[luck.constants.place[t.E_CLIMB, 0] + i] == wanted
    for e, purpose in ((t.E_NEED, k.D_NEED), (t.E_PULL, k.D_PULL)):
        wanted = normal_quantile(uniform(SEED, NIGHT, purpose, 0, 0))
        assert luck.drawn[luck.constants.place[e, 0]] == wanted


@pytest.mark.parametrize("kind", [k.GAMMA, k.LOGNORMAL, k.FIXED])
def test_frailty(kind: int) -> None:
    """Of a gamma variate, only the first attempt: most are taken, those that are not say so."""
    plan = plan_of(TRIGGERS[0], frailty_kind=kind)
    scratch = scratch_for(plan)
    luck = scratch.night.luck
    a, b = plan.duration[k.T_FRAILTY].tolist()
    refused = 0
    for night in range(200):
        luck.state.seed, luck.state.number, luck.state.traits = SEED, night, night
        draw(luck, scratch.table)
        for i in range(plan.group_size):
            z = luck.drawn[luck.constants.place[t.E_FRAILTY, 0] + i]
            refused += z < 0.0
            wanted = frailty(kind, a, b, SEED, night, i)
            assert z < 0.0 or max(z, LEAST_FRAILTY) == wanted
    share = refused / (200 * plan.group_size)
    assert 0.0 < share < 0.15 if kind == k.GAMMA else share == 0.0, share


def test_a_gamma_variate_of_small_shape_is_never_taken_at_once() -> None:
    assert inline_quick_gamma(0.7, 1.0, 0.0, 0.5) == -1.0
    assert inline_quick_gamma(1.0, 1.0, 0.0, 0.5) > 0.0


def test_no_number_stands_in_two_places() -> None:
    """All places of a table lie apart, so that none overwrites another."""
    for trigger in TRIGGERS:
        plan = plan_of(trigger)
        scratch = scratch_for(plan)
        place, taken = scratch.night.constants.place, []
        for e in range(t.EARLY_ROWS):
            who = plan.group_size if of_animals(e) else 1
            taken += [int(p) + i for p in place[e] if p >= 0 for i in range(who)]
        assert len(taken) == len(set(taken)) > 200
        assert max(taken) < len(scratch.night.luck.drawn)


@given(
    st.lists(st.floats(1e-300, 1.0, exclude_max=True), min_size=1, max_size=60),
    st.integers(0, 59),
    st.integers(0, 59),
)
@settings(max_examples=80)
def test_normal_quantiles_of_stretches(p: list[float], one: int, other: int) -> None:
    """Central, tail and far tail, in two stretches with a gap between them."""
    cut, end = sorted((one % (len(p) + 1), other % (len(p) + 1)))
    stretches = np.array([[0, cut], [min(cut + 1, end), end]])
    room = np.concatenate([p, np.full(WHOLE, 0.5)])
    z = np.full(len(room), math.nan)
    which, tails = np.zeros(len(room), np.int64), np.zeros(len(room))
    quantiles(stretches, room, z, which, tails)
    for begin, stop in stretches.tolist():
        assert z[begin:stop].tolist() == [normal_quantile(x) for x in p[begin:stop]]


@given(st.integers(0, 2**63 - 1), st.integers(0, 2**63 - 1), st.integers(0, 40), st.data())
def test_many_uniforms_at_once(seed: int, night: int, blocks: int, data: st.DataObject) -> None:
    names = data.draw(st.lists(st.integers(0, 2**32 - 1), min_size=blocks, max_size=blocks))
    u = np.zeros(2 * blocks)
    first_blocks(np.int64(seed), np.int64(night), np.array(names, np.uint64), u)
    for j, name in enumerate(names):
        purpose, who = name >> 16, name & 0xFFFF
        assert u[j] == uniform(seed, night, purpose, who, 0)
        assert u[blocks + j] == uniform(seed, night, purpose, who, 1)
    first = 2 * data.draw(st.integers(0, 2**30))
    numbers_from(np.int64(seed), np.int64(night), 7, 9, np.int64(first), u)
    assert u.tolist() == [uniform(seed, night, 7, 9, first + j) for j in range(2 * blocks)]
