"""Who pushes in at a one-way entrance, against values worked by hand."""

from __future__ import annotations

import math

import pytest

from soundergate.behavior.willing import largest_step, willing_share


@pytest.fixture
def taught(scenario_of):
    def made(schedule=(), nights=6, width="1.6 m", abruptness=0.5, late=0.1, push_nights=3):
        gate = {"kind": "push panel", "late_entry": late}
        return scenario_of(
            {
                "sounder": {"sows": 1},
                "opening": [{"width": width, "height": "1 m", "gate": gate}],
                "trigger": {"kind": "none"},
                "training": {"nights": nights, "schedule": list(schedule)},
                "entry": {"abruptness": abruptness, "push_nights": push_nights,
                          "touching": "20 cm"},
            }
        )  # fmt: skip

    return made


def step(scenario) -> float:
    return largest_step(scenario.opening[0], scenario)


def share(scenario) -> float:
    return willing_share(scenario.opening[0], scenario)


def test_without_a_schedule_it_is_one_step_from_wide_to_touching(taught) -> None:
    assert step(taught()) == pytest.approx(math.log(8.0), rel=1e-12)  # 1.6 m to 20 cm


def test_halving_thrice_is_three_steps_of_two(taught) -> None:
    assert step(taught(["80 cm", "40 cm"])) == pytest.approx(math.log(2.0), rel=1e-12)


def test_the_largest_step_decides(taught) -> None:
    assert step(taught(["1.5 m", "40 cm"])) == pytest.approx(math.log(3.75), rel=1e-12)
    assert step(taught(["1.5 m", "1.4 m", "10 cm"])) == pytest.approx(math.log(14.0), rel=1e-12)


def test_never_below_no_step(taught) -> None:
    assert step(taught(width="15 cm")) == 0.0


def test_share_by_hand(taught) -> None:
    """Six nights worth exp(-0.5 ln 8) each, of three to come 1 - 1/e of the way, above 0.1."""
    learned = 1.0 - math.exp(-6 * 8.0**-0.5 / 3)
    assert share(taught()) == pytest.approx(0.1 + 0.9 * learned, rel=1e-12)


def test_untaught_are_those_who_come_in_late(taught) -> None:
    assert share(taught(nights=0)) == 0.1


def test_gradual_training_is_worth_more(taught) -> None:
    assert share(taught(["80 cm", "40 cm"])) > share(taught(["40 cm"])) > share(taught())
    even = taught(["80 cm", "40 cm"], abruptness=0)
    assert share(even) == share(taught(abruptness=0))


def test_more_nights_never_hurt_and_never_pass_one(taught) -> None:
    found = [share(taught(nights=n)) for n in (0, 1, 5, 30, 365)]
    assert found == sorted(found)
    assert found[-1] <= 1.0
