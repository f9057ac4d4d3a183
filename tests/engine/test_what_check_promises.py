"""What `check` promises, nights keep: the share that stays set, and the share of pulls that shut.

Invented traps, drawn at random: a line that pulls the latch, a container that does, a powered
puller. One animal comes, and comes once, so that a night is one try.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from shared.identities import check_identities
from soundergate.engine import play
from soundergate.engine.build import build
from soundergate.mechanics.opening import OpeningSetup
from soundergate.mechanics.setup import solve
from soundergate.scenario.loading import from_table

SEED = 20260211
NIGHTS = 3000
FALSE_ALARM = 1e-7
"""Of one comparison. There are at most two a trap, so for 300 traps 6e-5 in all."""


def drawn(rng: np.random.Generator, low: float, high: float) -> float:
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def spread(rng: np.random.Generator, median: float) -> Any:
    sigma = 0.0 if rng.random() < 0.2 else float(rng.uniform(0.05, 0.6))
    return {"median": median, "sigma": sigma}


def trap(rng: np.random.Generator, worked_by: str) -> dict[str, Any]:
    """A table of one opening, one animal and a trigger that works its latch."""
    name = str(rng.choice(["sow", "boar", "juvenile"]))
    latch: dict[str, Any] = {
        "kind": str(rng.choice(["pin", "pin", "knee", "finger", "rotary"])),
        "friction": spread(rng, drawn(rng, 0.12, 0.8)),
        "lever": round(drawn(rng, 1.0, 8.0), 2),
        "engaged": f"{drawn(rng, 0.2, 1.5)} in",
    }
    if latch["kind"] == "finger":
        latch["offset"] = f"{rng.uniform(-0.2, 0.1)} in"
    if worked_by == "power":
        latch |= {"puller": "solenoid", "pull": f"{drawn(rng, 3, 60)} lbf", "lever": 1.0}
        latch["supply"] = spread(rng, 0.9)
    else:
        latch["puller"] = "animal"
    gate = {"kind": "drop", "sheet": str(rng.choice(["10 gauge", "14 gauge"]))}
    triggers: dict[str, dict[str, Any]] = {
        "power": {"kind": "counter", "count": 1},
        "container": {
            "kind": "bait",
            "container": f"{drawn(rng, 2, 20)} lb",
            "friction": {"fixed": 0.01},
            "rate": {"fixed": "30 s"},
        },
        "line": {
            "kind": "line",
            "height": f"{rng.uniform(8, 26)} in",
            "distance": "12 ft",
            "span": f"{drawn(rng, 4, 20)} ft",
            "tension": f"{drawn(rng, 0.2, 20)} lbf",
            "slack": f"{rng.uniform(0, 4)} in",
            "stiffness": f"{drawn(rng, 2, 200)} lbf/in",
            "bends": int(rng.integers(0, 6)),
            "bend_angle": f"{rng.uniform(30, 120)} deg",
            "friction": spread(rng, drawn(rng, 0.1, 0.5)),
            "break_force": f"{drawn(rng, 25, 300)} lbf",
        },
    }
    return {
        "sounder": {f"{name}s": 1, "mass": {name: _mass(rng, name)}},
        "body": {"strength": spread(rng, 0.8)},
        "corral": {"diameter": "30 ft", "bait_distance": "18 ft"},
        "bait": {"mass": f"{drawn(rng, 5, 40)} lb", "intake": "0.001 1/h"},
        "arrival": {"first": {"fixed": "60 s"}, "spread": {"fixed": "0 s"}},
        "entry": {"clock": {"fixed": "60 s"}, "frailty_cv": 0, "shy_share": 0},
        "leaving": {"clock": {"fixed": "1 h"}, "return_share": 0},
        "opening": [{"width": f"{rng.uniform(3, 8)} ft", "height": "5 ft", "gate": gate,
                     "latch": latch}],
        "trigger": triggers[worked_by],
    }  # fmt: skip


def _mass(rng: np.random.Generator, name: str) -> dict[str, Any]:
    median = {"sow": 70, "boar": 100, "juvenile": 30}[name]
    return {"median": f"{median} kg", "sigma": float(rng.uniform(0.0, 0.35))}


def surprise(count: int, of: int, share: float) -> float:
    """Two-sided exact binomial p value."""
    if of == 0:
        return 1.0
    share = min(max(share, 1e-13), 1.0 - 1e-13)
    return float(stats.binomtest(count, of, share).pvalue)


def told_and_kept(table: dict[str, Any], seed: int) -> tuple[OpeningSetup, list[float]]:
    """The solved opening; p values of staying set and of shutting, by what `check` says."""
    scenario = from_table(table)
    setup = solve(scenario)
    (opening,) = setup.openings
    nights = play(build(scenario, setup), seed, 0, NIGHTS)
    check_identities(nights)
    pulled = np.isfinite(nights["release_s"])
    itself = pulled & (nights["release_s"] < 30.0)  # the animal comes after a minute
    tried = pulled & ~itself
    closes = 0.0 if opening.jams else 1.0 - opening.hang_probability
    shuts = opening.release_probability * closes
    return opening, [
        surprise(int(itself.sum()), NIGHTS, 1.0 - opening.hold_probability),
        surprise(int(nights["released"][tried].sum()), int(tried.sum()), shuts),
    ]


def compare(traps: int, seed: int) -> np.ndarray:
    """Play this many random traps; release probabilities of all, having asserted each."""
    rng = np.random.default_rng(seed)
    releases = []
    for number in range(traps):
        worked_by = ("line", "line", "line", "container", "power")[number % 5]
        table = trap(rng, worked_by)
        opening, values = told_and_kept(table, seed + number)
        assert min(values) > FALSE_ALARM, (values, opening.odds, table)
        releases.append((opening.hold_probability, opening.release_probability))
    return np.array(releases)


def test_check_and_run_agree_on_random_traps() -> None:
    told = compare(15, SEED)
    middling = (told > 0.02) & (told < 0.98)
    assert middling.sum() > 3  # else nearly anything would agree


@pytest.mark.slow
def test_check_and_run_agree_on_three_hundred_random_traps() -> None:
    told = compare(300, SEED + 1)
    middling = (told > 0.02) & (told < 0.98)
    assert middling[:, 0].sum() > 20
    assert middling[:, 1].sum() > 60


STRONG = {"kind": "line", "height": "12 in", "distance": "12 ft"}


@pytest.mark.parametrize(
    ("latch", "line"),
    [
        ({"lever": 1}, {"break_force": "30 lbf"}),
        ({"lever": 2}, {"bends": 4}),
        ({"lever": 8}, {"tension": "10 lbf", "bends": 0}),
    ],
    ids=["breaks long before", "four bends", "hung too tight"],
)
def test_traps_that_looked_sure_are_told_and_fail_alike(
    latch: dict[str, Any], line: dict[str, Any]
) -> None:
    table = trap(np.random.default_rng(0), "line")
    table["sounder"] = {"sows": 1}
    table["body"] = {}
    gate = {"kind": "drop", "sheet": "10 gauge"}
    way = {"width": "4 ft", "height": "3 ft", "gate": gate}
    table["opening"] = [{**way, "latch": {"kind": "pin", "puller": "animal", **latch}}]
    table["trigger"] = STRONG | line
    opening, values = told_and_kept(table, SEED)
    assert min(values) > FALSE_ALARM
    assert opening.shut_probability < 0.9


def test_the_comparison_would_notice_some_hundredths() -> None:
    """Power: five hundredths off are noticed in one trap, three in what twenty traps add up to."""
    assert surprise(round(0.50 * NIGHTS * 20), NIGHTS * 20, 0.53) < FALSE_ALARM
    assert surprise(round(0.50 * NIGHTS), NIGHTS, 0.55) < FALSE_ALARM
