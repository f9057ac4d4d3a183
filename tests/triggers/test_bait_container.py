"""A bait container: what it weighs as it empties, who can move it, what its fall pulls."""

from __future__ import annotations

import numpy as np
import pytest

from soundergate.mechanics.setup import solve
from soundergate.triggers import bait

BY_PIGS = {"kind": "pin", "puller": "animal"}
BY_AIR = {"kind": "pin", "puller": "air cylinder"}


@pytest.fixture
def scenario(scenario_of):
    def made(latch=BY_PIGS, sounder=None, mass="20 kg", strength=0.8, **trigger):
        way = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}, "latch": latch}
        return scenario_of(
            {
                "sounder": sounder or {"sows": 2, "juveniles": 2},
                "bait": {"mass": mass},
                "body": {"strength": strength},
                "opening": [way],
                "trigger": {"kind": "bait", "container": "4 kg", **trigger},
            }
        )

    return made


def test_it_gets_lighter_by_quarters(scenario) -> None:
    given = scenario()
    found = [bait.container_mass(given.trigger, given, level) for level in range(5)]
    assert found == pytest.approx([24, 19, 14, 9, 4], rel=1e-12)


def test_a_falling_container_pulls_with_its_weight(scenario) -> None:
    given = scenario()
    row = bait.row(given.trigger, given, solve(given))
    weights = row["container_pull"]
    assert weights == pytest.approx([9.80665 * m for m in (24, 19, 14, 9, 4)], rel=1e-12)


def test_at_a_powered_latch_it_works_a_switch(scenario) -> None:
    given = scenario(latch=BY_AIR)
    row = bait.row(given.trigger, given, solve(given))
    assert row["container_pull"] == (-1.0,) * 5


@pytest.mark.parametrize("level", range(4))
def test_able_share_against_drawn_pigs(level, scenario) -> None:
    """Share of the group whose push, a log-normal share of a log-normal weight, beats mu M g.

    400,000 pigs drawn with NumPy; a right share is missed with probability 1e-4 a level.
    """
    mass = {
        "sow": {"median": "70 kg", "sigma": 0.2},
        "juvenile": {"median": "25 kg", "sigma": 0.25},
    }
    given = scenario(
        sounder={"sows": 1, "juveniles": 3, "mass": mass},
        strength={"median": 0.4, "sigma": 0.35},
        mass="60 kg",
        friction={"median": 0.4, "sigma": 0.25},
    )
    rng = np.random.default_rng(20260109 + level)
    n = 400_000
    weight = np.where(
        np.arange(n) % 4 == 0,
        70 * np.exp(0.2 * rng.standard_normal(n)),
        25 * np.exp(0.25 * rng.standard_normal(n)),
    )
    push = weight * 0.4 * np.exp(0.35 * rng.standard_normal(n))
    needed = 0.4 * np.exp(0.25 * rng.standard_normal(n)) * (4 + 60 * (1 - level / 4))
    drawn = (push > needed).mean()
    found = bait.able_share(given.trigger, given, level)
    standard_error = np.sqrt(drawn * (1 - drawn) / n)
    assert 0.02 < found < 0.98
    assert abs(found - drawn) < 3.9 * standard_error
    assert abs(found + 0.01 - drawn) > 3.9 * standard_error


def test_as_it_empties_it_moves_more_easily(scenario) -> None:
    given = scenario(mass="100 kg")
    shares = [bait.able_share(given.trigger, given, level) for level in range(4)]
    assert shares == sorted(shares)
    assert shares[0] < shares[-1]


def test_without_friction_anyone_moves_it(scenario) -> None:
    given = scenario(friction=0)
    assert [bait.able_share(given.trigger, given, level) for level in range(5)] == [1.0] * 5


def test_speeds_grow_with_the_able_and_end_with_the_bait(scenario) -> None:
    given = scenario(mass="100 kg")
    table = bait.speeds(given.trigger, given)
    assert table.shape == (5, 5)
    for feeding in range(5):
        for level in range(4):
            able = bait.able_share(given.trigger, given, level)
            assert table[feeding, level] == pytest.approx(feeding * able, rel=1e-12)
    assert (table[:, 4] == 0.0).all()
    assert (table[0] == 0.0).all()


def test_all_alike_are_all_able_or_none(scenario) -> None:
    """No scatter anywhere: 0.5 x 25 kg = 12.5 kg of push moves 30 kg at 0.4 but not 35 kg."""
    alike = {"juveniles": 3, "mass": {"juvenile": {"fixed": "25 kg"}}}
    light = scenario(sounder=alike, strength={"fixed": 0.5}, friction={"fixed": 0.4}, mass="26 kg")
    heavy = scenario(sounder=alike, strength={"fixed": 0.5}, friction={"fixed": 0.4}, mass="31 kg")
    assert bait.able_share(light.trigger, light, 0) == 1.0
    assert bait.able_share(heavy.trigger, heavy, 0) == 0.0


def test_the_share_of_the_group_is_that_of_its_classes(scenario) -> None:
    given = scenario(sounder={"sows": 1, "juveniles": 3})
    for level in range(5):
        sow, juvenile = bait.able_by_class(given.trigger, given, level)
        assert sow >= juvenile
        whole = bait.able_share(given.trigger, given, level)
        assert whole == pytest.approx((sow + 3 * juvenile) / 4)


def test_half_of_the_pushes_that_are_needed_lie_above_the_median(scenario) -> None:
    """A class whose median push is exactly the median of what is needed: half are able."""
    given = scenario(sounder={"sows": 1}, strength={"median": 0.5, "sigma": 0.3})
    push = bait.push_needed(given.trigger, given, 0)
    assert push.median == pytest.approx(given.trigger.friction.median * 24 * 9.80665)
    sow = 0.5 * given.sounder.mass.sow.median * 9.80665
    heavier = scenario(
        sounder={"sows": 1}, strength={"median": 0.5 * push.median / sow, "sigma": 0.3}
    )
    assert bait.able_by_class(heavier.trigger, heavier, 0) == pytest.approx((0.5,))
