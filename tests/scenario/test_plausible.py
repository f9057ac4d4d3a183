"""What is plausible: medians, ends and supports of the register, and ranges moved elsewhere."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from soundergate.scenario.assumptions import unknowns_of
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.register import UNKNOWN, register

UNKNOWNS = {name: entry for name, entry in register().items() if entry.role == UNKNOWN}
PLAIN = {name: entry for name, entry in UNKNOWNS.items() if not entry.none}


@cache
def many(name: str, count: int = 2001) -> np.ndarray:
    """float[count] or float[count, parts]: quantiles at levels spread evenly."""
    entry = UNKNOWNS[name]
    return np.array([entry.quantile((k + 0.5) / count) for k in range(count)], dtype=float)


@pytest.mark.parametrize("name", UNKNOWNS)
def test_the_default_is_the_median(name):
    """For whole numbers the lower one: the least with half of the worlds at it or below."""
    entry = UNKNOWNS[name]
    assert np.median(many(name), axis=0) == pytest.approx(np.array(entry.value, dtype=float))
    if entry.whole:
        values = many(name)
        assert np.mean(values <= entry.value) >= 0.5 > np.mean(values < entry.value)


@pytest.mark.parametrize("name", PLAIN)
def test_nine_tenths_lie_between_the_ends(name):
    entry = PLAIN[name]
    values = many(name).reshape(2001, -1)
    for column, low, high in zip(
        values.T, np.atleast_1d(entry.low), np.atleast_1d(entry.high), strict=True
    ):
        if not entry.whole:
            below = np.mean(column < low - 1e-9)
            assert below == pytest.approx(0.05, abs=0.001) or low == column.min()
        if not entry.whole:
            assert np.mean(column > high + 1e-9) == pytest.approx(0.05, abs=0.001) or low == high


@pytest.mark.parametrize("name", UNKNOWNS)
def test_every_value_is_one_that_can_be(name):
    entry = UNKNOWNS[name]
    values = np.array([entry.quantile(u) for u in (1e-12, 1e-6, 0.3, 0.7, 1 - 1e-6, 1 - 1e-12)])
    assert np.isfinite(values).all()
    assert (np.diff(values, axis=0) >= 0).all()
    if entry.distribution == "log-normal":
        assert (values[entry.none < np.array([1e-12, 1e-6, 0.3, 0.7, 1, 1])] > 0).all()
    if entry.distribution == "logit-normal":
        least, most = entry.support or (0, 1)
        assert (values >= (0.0 if entry.none else least)).all()
        assert (values <= most).all()


def test_half_of_a_log_normal_is_that_of_scipy():
    """Each half is a log-normal's: scipy.stats.lognorm 1.10 with the sigma of its own side."""
    clock = register()["entry.clock"]
    for levels, end, tail in (((0.6, 0.8, 0.99), clock.high, 0.95), ((0.3, 0.1), clock.low, 0.05)):
        sigma = math.log(end / clock.value) / stats.norm.ppf(tail)
        for level in levels:
            wanted = stats.lognorm.ppf(level, sigma, scale=clock.value)
            assert clock.quantile(level) == pytest.approx(wanted, rel=1e-12)


def test_a_share_of_worlds_has_exactly_none():
    pull, wind = register()["entry.social_pull"], register()["trigger.false_release"]
    assert np.mean(many(pull.id) == 0.0) == pytest.approx(0.1, abs=0.001)
    assert np.mean(many(wind.id) == 0.0) == pytest.approx(0.5, abs=0.001)
    some = many(wind.id)[many(wind.id) > 0]
    assert np.quantile(some, [0.05, 0.95]) == pytest.approx([wind.low, wind.high], rel=0.01)


def test_outside_nought_to_one_there_is_no_level():
    for wrong in (0.0, 1.0, -0.1, math.nan):
        with pytest.raises(ValueError, match="between 0 and 1"):
            register()["entry.clock"].quantile(wrong)


@given(st.sampled_from(sorted(PLAIN)), st.floats(0.02, 0.98))
def test_a_range_about_the_default_is_its_own(name, level):
    entry = PLAIN[name]
    again = entry.about(entry.value)
    assert np.allclose(again.quantile(level), entry.quantile(level), rtol=1e-9, atol=1e-12)


def test_a_range_about_another_value_is_as_wide():
    clock = register()["entry.clock"].about(90)
    assert (clock.low, clock.high) == pytest.approx((20, 600))
    shy = register()["entry.shy_share"].about(0.5)
    odds = [e.high / (1 - e.high) / (e.value / (1 - e.value)) for e in (shy, UNKNOWNS[shy.id])]
    assert odds[0] == pytest.approx(odds[1])
    assert register()["entry.openness_slope"].about(0.2).low == pytest.approx(-0.3)
    rare = register()["trigger.false_release"].about(0.05)
    assert rare.none == 0.0
    assert rare.quantile(0.5) == pytest.approx(0.05)


@pytest.mark.parametrize("said", [0.0, 1.0, -1.0])
def test_there_is_no_range_about_an_end(said):
    with pytest.raises((ValueError, ZeroDivisionError)):
        register()["entry.shy_share"].about(said)


TEXT = """
[sounder]
sows = 2
juveniles = 3
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop"}
[trigger]
kind = "line"
"""


@pytest.mark.parametrize(
    ("key", "said", "wrong"),
    [
        ("entry.clock", {"about": "45"}, r'entry\.clock\.about = "45": no unit'),
        ("entry.clock", {"about": "0 s"}, r'entry\.clock\.about = "0 s": there is no plausible'),
        ("entry.clock", {"about": "never"}, r"entry\.clock\.about"),
        ("entry.clock", {"about": {"fixed": "4 s"}}, r"entry\.clock\.about: takes a plain value"),
        ("entry.clock", {"about": "4 s", "dist": "gamma"}, r"entry\.clock\.dist"),
        ("entry.clock", {"about": "4 s", "median": "4 s"}, r"entry\.clock\.median"),
        ("entry.shy_share", {"about": 1.5}, r"entry\.shy_share\.about = 1\.5: out of range"),
        ("entry.shy_share", {"about": 0}, r"entry\.shy_share\.about = 0: there is no plausible"),
        ("entry.shy_share", {"about": 0.1, "low": 0.0}, r"entry\.shy_share\.low = 0\.0: does not"),
        ("corral.diameter", {"about": "26 ft"}, r'corral\.diameter = "26 ft": about is for'),
        ("sounder.sows", {"about": 2}, r"sounder\.sows = 2: about is for what nobody knows"),
        ("opening.width", {"about": "4 ft"}, r"opening\.1\.width = \"4 ft\": about is for"),
        ("trigger.kind", {"about": "line"}, r"trigger\.kind"),
        ("bait", {"about": 3}, r"bait"),
    ],
)
def test_what_cannot_be_stated_about_is_refused(key, said, wrong):
    with pytest.raises(ScenarioError, match=wrong):
        with_values(loads(TEXT), {key: said})


@pytest.fixture(scope="module")
def places(traps):
    """The first trap that has it, and where, by the id of an unknown."""
    found = {}
    for trap in traps.values():
        for path, entry in unknowns_of(trap):
            found.setdefault(entry.id, (trap, path))
    return found


@pytest.mark.parametrize("name", sorted(UNKNOWNS))
def test_every_unknown_can_be_stated_about(name, places):
    """The night is that of the plain value."""
    entry = UNKNOWNS[name]
    if name.endswith((".sigma", ".cv", ".shape")) or entry.value in (0, 0.0):
        return  # a parameter of a quantity, and what has its median at 0
    trap, path = places[name]
    plain = entry.value if not entry.unit else f"{entry.value!r} {entry.unit}"
    night = with_values(trap, {path: {"about": plain}})
    assert night.resolved() == with_values(trap, {path: plain}).resolved()
    around = dict(unknowns_of(night))[path]
    assert np.allclose(around.low, entry.low, rtol=1e-6)
    assert np.allclose(around.high, entry.high, rtol=1e-6)
