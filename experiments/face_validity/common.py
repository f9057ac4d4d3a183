"""What every comparison here shares: the row it fills, plausible worlds, and a clock on entries."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from soundergate.engine.reference.facts import Facts
from soundergate.engine.reference.night import Night
from soundergate.scenario import Scenario, ScenarioError, load
from soundergate.studies.players import plan_of
from soundergate.studies.worlds.inputs import Input, inputs_of, moved

HERE = Path(__file__).parent
SEED = 20

TEST, CONSISTENCY, NONE = "test", "consistency check", "not comparable"
BEHAVIOUR = (
    "arrival", "bait", "body", "entry", "holding", "leaving", "movement", "sounder", "startle",
    "strike", "visit.patience",
)  # fmt: skip
"""What pigs are and do; what a trapper decides stays as it is."""


@dataclass(frozen=True)
class Row:
    """One published figure beside the simulated one.

    ``role``: a test, if nothing in the model was taken from this figure; a consistency check, if a
    default or its range was; or not comparable. Intervals are 95 %. ``worlds_low`` and
    ``worlds_high`` hold the middle 95 % of plausible worlds.
    """

    id: str
    role: str
    quantity: str
    published: float = math.nan
    published_low: float = math.nan
    published_high: float = math.nan
    published_says: str = ""
    source: str = ""
    simulated: float = math.nan
    simulated_low: float = math.nan
    simulated_high: float = math.nan
    worlds_low: float = math.nan
    worlds_high: float = math.nan
    worlds: int = 0
    unit: str = ""
    verdict: str = ""
    remark: str = ""

    def cells(self) -> dict[str, Any]:
        """By column; nan stays nan."""
        return asdict(self)


def judged(row: dict[str, Any]) -> str:
    """In words: does the published figure lie where the simulated one can be?"""
    value = row["published"]
    if row["simulated_low"] <= value <= row["simulated_high"]:
        return "agrees: within the simulated interval"
    overlap = max(row["simulated_low"], row["published_low"]) <= min(
        row["simulated_high"], row["published_high"]
    )
    within = row["worlds_low"] <= value <= row["worlds_high"]
    if overlap:
        text = "agrees within the published interval"
        return text if within else f"{text}, but few worlds allow it"
    if within:
        return "disagrees at the defaults; plausible worlds allow it"
    return "DISAGREES: outside the middle 95 % of plausible worlds"


def scenario(name: str) -> Scenario:
    """One of the scenarios beside this file."""
    return load(HERE / "scenarios" / f"{name}.toml")


def unknowns(setup: Scenario, beside: Sequence[str] = ()) -> list[Input]:
    """The uncertain defaults of what pigs are and do, and those under ``beside``."""
    from soundergate.studies.worlds.inputs import matches

    return [
        one
        for one in inputs_of(setup)
        if any(matches(one.id, key) for key in (*BEHAVIOUR, *beside))
    ]


def in_worlds(
    setup: Scenario,
    what: Sequence[Input],
    count: int,
    ask: Callable[[Scenario], float],
    seed: int = SEED,
) -> np.ndarray:
    """float[count]: the answer in worlds drawn from the ranges, each input independently.

    A world in which the trap cannot be built is drawn again.
    """  # fmt: skip
    rng = np.random.default_rng(seed)
    answers: list[float] = []
    while len(answers) < count:
        shares = dict(zip(what, rng.random(len(what)).tolist(), strict=True))
        try:
            world = moved(setup, shares)
            plan_of(world)
        except ScenarioError:
            continue
        answers.append(ask(world))
    return np.array(answers)


def middle(answers: np.ndarray) -> tuple[float, float]:
    """The middle 95 % of the answers."""
    low, high = np.nanquantile(answers, [0.025, 0.975])
    return float(low), float(high)


def ratio(over: np.ndarray, under: np.ndarray) -> tuple[float, float, float]:
    """Sum over sum, 95 % interval with the night as the unit (delta method, Cochran 1977, 6.3)."""
    from scipy.stats import t

    n, total = len(under), float(under.sum())
    if total == 0.0:
        return math.nan, math.nan, math.nan
    r = float(over.sum()) / total
    left = over - r * under
    half = t.ppf(0.975, n - 1) * math.sqrt(n / (n - 1) * float(left @ left)) / total
    return r, max(0.0, r - half), min(1.0, r + half)


class Entries:
    """A recorder for the reference engine that keeps when animals came and first were inside."""

    def __init__(self) -> None:
        self.came: float = math.nan
        self.inside: dict[int, float] = {}

    def walk(self, *_: Any) -> None:
        """Ways inside are not kept."""

    def record(self, time: float, kind: str, animal: int | None, *_: Any) -> None:
        if kind == "arrives" and math.isnan(self.came):
            self.came = time
        if kind == "is inside" and animal is not None:
            self.inside.setdefault(animal, time)


def entries(
    setup: Scenario, first: int, count: int, seed: int = SEED
) -> list[tuple[int, list[float]]]:
    """For each night: size of the group, and its animals' first entries in s after the first came,
    in order, inf for those that never entered."""
    facts = Facts(plan_of(setup))
    nights = []
    for number in range(first, first + count):
        seen = Entries()
        row = Night(facts, seed, number, seen).play()
        size = row["group_size"]
        times = sorted(time - seen.came for time in seen.inside.values())
        nights.append((size, times + [math.inf] * (size - len(times))))
    return nights
