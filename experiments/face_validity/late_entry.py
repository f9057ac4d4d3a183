"""Late entry: of the pigs outside when the trap shut, how many came in through the door?

Published: Smith et al. 2014, 24 sounders in 26 corrals, three doors that let pigs in but not out.
A root door is lifted with the snout (a push panel hinged at the top), a trainer door gives way at
the side (a push panel hinged at the side, one leaf), a saloon door is a pair of such leaves.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from face_validity import common
from face_validity.common import Row
from scipy.stats import binomtest

from soundergate.engine import play
from soundergate.scenario import Scenario, with_values
from soundergate.studies.players import plan_of

SOURCE = (
    "Smith TN, Smith MD, Johnson DK, Ditchkoff SS 2014, Evaluation of continuous-catch doors for "
    "trapping wild pigs, Wildlife Society Bulletin, doi 10.1002/wsb.376"
)
DOORS: dict[str, tuple[int, int, dict[str, Any], str, str]] = {
    "root door": (
        9, 55, {"kind": "push panel", "hinge": "top", "mesh": "6 gauge 2x4 in"},
        common.CONSISTENCY,
        "the default late_entry of a push panel hinged at the top is this very share: no test. "
        "The model lets only animals push in that are strong enough, though the observed share "
        "already counts the weak as not having entered; so it must come out lower",
    ),
    "trainer door": (
        1, 52, {"kind": "push panel", "hinge": "side", "leaves": 1, "mesh": "6 gauge 2x4 in"},
        common.CONSISTENCY,
        "the default of a side-hinged panel comes from another door of the same study, the saloon "
        "door; a test only of taking the two as one kind",
    ),
    "saloon door": (
        1, 115, {"kind": "push panel", "hinge": "side", "leaves": 2, "mesh": "6 gauge 2x4 in"},
        common.CONSISTENCY,
        "the default late_entry of a side-hinged panel is this very share: no test",
    ),
}  # fmt: skip


def setup(door: str) -> Scenario:
    """The trap with this door."""
    return with_values(common.scenario("door"), {"opening.2.gate": DOORS[door][2]})


def counted(scenario: Scenario, nights: int, first: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Per night: pigs that came in after the closure, and pigs outside at it.

    Where no captive gets out, whoever is caught beyond those that were held came late; whoever
    witnessed the closure and was not inside at it stood outside.
    """
    o = play(plan_of(scenario), common.SEED, first, nights)
    closed = o["released"]
    held = o["inside_at_release"] - o["escaped_during"]
    late = np.where(closed, o["caught"] - held, 0)
    outside = np.where(closed, o["educated"] + o["caught"] - o["inside_at_release"], 0)
    return late.astype(float), outside.astype(float)


def row(door: str, nights: int, worlds: int, world_nights: int) -> Row:
    """One door: published, simulated, and what plausible worlds allow."""
    k, n, _, role, remark = DOORS[door]
    scenario = setup(door)
    published = binomtest(k, n).proportion_ci(method="wilson")
    simulated, low, high = common.ratio(*counted(scenario, nights))
    what = common.unknowns(scenario, ["opening.gate.push panel"])
    found = common.in_worlds(
        scenario, what, worlds, lambda world: common.ratio(*counted(world, world_nights))[0]
    )
    worlds_low, worlds_high = common.middle(found)
    fields = {
        "id": f"late entry, {door}",
        "role": role,
        "quantity": "share of the pigs outside at closure that entered afterwards",
        "published": k / n,
        "published_low": published.low,
        "published_high": published.high,
        "published_says": f"{k} of {n}; interval by animals, which is too narrow",
        "source": SOURCE,
        "simulated": simulated,
        "simulated_low": low,
        "simulated_high": high,
        "worlds_low": worlds_low,
        "worlds_high": worlds_high,
        "worlds": worlds,
        "unit": "share",
        "remark": remark,
    }
    return Row(**fields, verdict=common.judged(fields))


def rows(nights: int, worlds: int, world_nights: int) -> list[Row]:
    return [row(door, nights, worlds, world_nights) for door in DOORS]
