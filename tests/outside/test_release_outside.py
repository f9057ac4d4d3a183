"""Common practice about latches and pullers (no source), against the whole chain."""

from math import exp

import pytest

from soundergate.mechanics.setup import solve
from soundergate.scenario.loading import from_table
from soundergate.scenario.schema import Scenario

LBF = 4.4482216152605


def trap(width: str, latch: dict) -> Scenario:
    gate = {"kind": "drop", "sheet": "14 gauge"}
    return from_table(
        {
            "sounder": {"sows": 2, "juveniles": 5},
            "opening": [{"width": width, "height": "3 ft", "gate": gate, "latch": latch}],
            "trigger": {"kind": "counter"},
        }
    )


def test_a_small_solenoid_needs_a_lever_on_a_wide_heavy_gate() -> None:
    """Common practice, no source: 17 lbf of pull frees a wide heavy gate only through a lever."""
    small = {"kind": "pin", "puller": "solenoid", "pull": "17 lbf", "gap": "2 in"}
    small["engaged"] = "0.2 in"  # so that its figure holds over the travel of the lever
    (direct,) = solve(trap("8 ft", small)).openings
    (levered,) = solve(trap("8 ft", {**small, "lever": 10})).openings
    assert direct.release_probability < 0.05
    assert levered.release_probability > 0.95


@pytest.mark.parametrize(
    ("bore", "rod", "quoted", "true"),
    [("1.5 in", "7/16 in", 177.0, 161.7), ("2 in", "5/8 in", 314.0, 283.5)],
)
def test_air_cylinders_quoted_by_full_bore_pull_less(
    bore: str, rod: str, quoted: float, true: float
) -> None:
    """Common practice, no source: 177 and 314 lbf at 100 psi; rod side 161.7 and 283.5."""
    latch = {
        "kind": "pin",
        "puller": "air cylinder",
        "bore": bore,
        "rod": rod,
        "pressure": "100 psi",
        "seal_loss": "0 psi",
        "supply": {"fixed": 1.0},
    }
    (pulling,) = solve(trap("4 ft", latch)).openings
    (pushing,) = solve(trap("4 ft", {**latch, "retracting": False})).openings
    assert pulling.pull_available / LBF == pytest.approx(true, abs=0.05)
    assert pushing.pull_available / LBF == pytest.approx(quoted, abs=0.5)
    assert "the rod takes its area" in " ".join(pulling.notes)


def test_margin_of_two_standard_deviations_is_97_7_percent() -> None:
    """Normal table: Phi(2) = 0.97725, with friction and supply scatter combined in quadrature."""
    spread = (0.3**2 + 0.4**2) ** 0.5
    weight = 3.125 * 12 * LBF
    latch = {
        "kind": "pin",
        "puller": "solenoid",
        "friction": {"median": 0.25, "sigma": 0.3},
        "pull": f"{0.5 * weight * exp(2 * spread)!r} N",
        "supply": {"median": 1.0, "sigma": 0.4},
        "temperature": "20 degC",
        **dict.fromkeys(("battery_resistance", "relay_resistance"), "0 ohm"),
        "wire_length": "0 ft",
    }
    (opening,) = solve(trap("4 ft", latch)).openings
    assert opening.release_probability == pytest.approx(0.97725, abs=1e-5)
