"""An animal as puller: its push, the bait container's weight, and what is said of them."""

import math
from collections.abc import Callable

import pytest

from soundergate.mechanics.model import LatchSolution, Site
from soundergate.mechanics.pullers.animal import animal_push, hung, site_of, solve
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario

NEED = LatchSolution("pin", 100.0, 0.3, 0.02)


def test_animal_push_is_a_share_of_its_weight() -> None:
    push = animal_push(70.0, LogNormal(0.8, 0.35))
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
    ((full, empty),) = site.containers
    assert full == pytest.approx(22.0 * GRAVITY)
    assert empty == pytest.approx(2.0 * GRAVITY)
    pull = solve(scenario.opening[0].latch, scenario.opening[0], site, NEED)
    left = (100.0 - 2.0 * GRAVITY) / (20.0 * GRAVITY)
    assert f"as long as {100 * left:.0f} % of the bait is left" in pull.notes[0]


@pytest.mark.parametrize("required", [5.0, 500.0])
def test_no_share_of_bait_is_named_when_it_makes_no_difference(required: float) -> None:
    from types import SimpleNamespace

    site = Site(containers=((200.0, 20.0),))
    need = LatchSolution("pin", required, 0.3, 0.02)
    pull = solve(SimpleNamespace(delay=None), None, site, need)
    assert "of the bait is left" not in pull.notes[0]


def test_all_who_come_may_touch_the_line(trap: Callable[..., Scenario]) -> None:
    other = [{"boars": 1, "juveniles": 2}]
    site = site_of(trap(latch={"kind": "pin", "puller": "animal"}, other=other))
    assert [(t.name, t.heads) for t in site.touchers] == [
        ("sow", 2), ("juvenile", 5), ("piglet", 4), ("boar", 1), ("juvenile", 2),
    ]  # fmt: skip
    assert len(site.lines) == 1
    assert site.containers == ()


def test_a_line_as_it_hangs(trap: Callable[..., Scenario]) -> None:
    """The middle hangs w S^2 / (8 T0) lower than the ends; the bends are added up."""
    line = {"kind": "line", "height": "50 cm", "span": "5 m", "weight": "5 g/m", "tension": "20 N",
            "bends": 3, "bend_angle": "60 deg"}  # fmt: skip
    met = hung(trap(trigger=line).trigger)
    assert met.height == pytest.approx(0.5 - 0.005 * GRAVITY * 25 / (8 * 20))
    assert (met.hung, met.turn) == (pytest.approx(20.0), pytest.approx(math.pi))
