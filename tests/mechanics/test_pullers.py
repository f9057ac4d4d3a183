"""An animal as puller: its push, the bait container's weight, and what is said of them."""

from collections.abc import Callable

import pytest

from soundergate.mechanics.model import GRAVITY, LatchSolution, Site, Uncertain
from soundergate.mechanics.pullers import animal_push, site_of, solve
from soundergate.scenario.schema import Scenario

NEED = LatchSolution("pin", 100.0, 0.3, 0.02)


def test_animal_push_is_a_share_of_its_weight() -> None:
    push = animal_push(70.0, Uncertain(0.8, 0.35))
    assert push.median == pytest.approx(0.8 * 70.0 * GRAVITY)
    assert push.sigma == 0.35


def test_the_heaviest_class_that_comes_pulls(trap: Callable[..., Scenario]) -> None:
    with_sows, young = trap(), trap(sounder={"juveniles": 3, "piglets": 2})
    mass = young.sounder.mass
    assert site_of(with_sows).animal_pull.median == pytest.approx(
        mass.sow.median * young.body.strength.median * GRAVITY
    )
    assert site_of(young).animal_pull.median == pytest.approx(
        mass.juvenile.median * young.body.strength.median * GRAVITY
    )


def test_a_bait_container_pulls_with_its_weight(trap: Callable[..., Scenario]) -> None:
    scenario = trap(
        latch={"kind": "pin", "puller": "animal"},
        trigger={"kind": "bait", "container": "2 kg"},
        bait={"mass": "20 kg"},
    )
    site = site_of(scenario)
    assert site.bait_pull == pytest.approx(22.0 * GRAVITY)
    assert site.empty_bait_pull == pytest.approx(2.0 * GRAVITY)
    pull = solve(scenario.opening[0].latch, scenario.opening[0], site, NEED)
    assert (pull.available, pull.available_sigma) == (site.bait_pull, 0.0)
    left = (100.0 - 2.0 * GRAVITY) / (20.0 * GRAVITY)
    assert f"as long as {100 * left:.0f} % of the bait is left" in pull.notes[0]


@pytest.mark.parametrize("required", [5.0, 500.0])
def test_no_share_of_bait_is_named_when_it_makes_no_difference(required: float) -> None:
    from types import SimpleNamespace

    site = Site(bait_pull=200.0, empty_bait_pull=20.0)
    need = LatchSolution("pin", required, 0.3, 0.02)
    pull = solve(SimpleNamespace(delay=None), None, site, need)
    assert "of the bait is left" not in pull.notes[0]


def test_a_line_puller_is_judged_by_a_median_adult(trap: Callable[..., Scenario]) -> None:
    scenario = trap(latch={"kind": "pin", "puller": "animal"})
    site = site_of(scenario)
    pull = solve(scenario.opening[0].latch, scenario.opening[0], site, NEED)
    assert pull.available == site.animal_pull.median
    assert "sideways multiplies" in pull.notes[0]
