"""Nights with a known law: a scenario file without bodies or lost time, and ways to read it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from scipy import stats

from soundergate.engine import play

PLAIN = """
title = "Invented: all there at once, no time lost on the way, room for all"

[sounder]
juveniles = 8
mass = {juvenile = {fixed = "25 kg"}}

[body]
shoulder_scatter = 0.0

[corral]
space_per_pig = "0 m^2"

[bait]
radius = "0 m"
space = "0 m^2"
intake = "0 1/h"
levels_appetite = [1, 1, 1, 1, 1]

[[opening]]
width = "20 ft"
height = "4 ft"
gate = {kind = "drop", drag = "0 lbf"}
latch = {kind = "pin", puller = "air cylinder", friction = 0, delay = "0 s"}

[trigger]
kind = "none"

[arrival]
first = "0 s"
offset = "0 s"
spread = "0 s"

[entry]
clock = {dist = "exponential", mean = "60 s"}
frailty_cv = 0
shy_share = 0
habituation_nights = 0
social_pull = 0
follow = 0
tightness = 1

[leaving]
clock = "never"
crowding = 0
contagion = 0
return_share = 0
nearest = 0

[movement]
crossing = "0 s"
headway = "0 s"
travel = "0 s"
roam = "never"
dwell = "0 s"

[visit]
patience = "never"
check = "24 h"

[holding]
try_clock = "never"
climb_clock = "never"
root_clock = "never"
near_clock = "0 s"
"""


@pytest.fixture(scope="session")
def plain_night() -> str:
    """All there at once, exponential entry with a mean of 60 s, nobody leaves, nothing released."""
    return PLAIN


@pytest.fixture(params=["batch", "reference"])
def night(request, plan_of, plain_night) -> Callable[..., dict[str, Any]]:
    """``night(**change)``: the one night of the plain scenario with these tables."""

    def played(**change: Any) -> dict[str, Any]:
        change.setdefault("startle", {"bolt_share": 0, "turn_back_share": 1})
        change.setdefault("strike", {"out_share": 0, "prop": {"fixed": "1 s"}})
        rows = play(plan_of(plain_night, **change), 1, 0, 2, request.param)
        for name in rows:  # nothing is left to chance
            assert name == "night" or np.array_equal(rows[name][:1], rows[name][1:], equal_nan=True)
        return {name: rows[name][0].item() for name in rows}

    return played


def _chi_square(counts: np.ndarray, law: np.ndarray) -> float:
    """p-value; cells that expect fewer than five nights are put together."""
    law = np.asarray(law, float)
    assert law.sum() == pytest.approx(1.0, abs=1e-9)
    assert counts[law <= 0.0].sum() == 0
    expected = counts.sum() * law
    few = expected < 5.0
    seen, wanted = counts[~few].astype(float), expected[~few]
    if expected[few].sum() >= 5.0:
        seen = np.append(seen, counts[few].sum())
        wanted = np.append(wanted, expected[few].sum())
    return float(stats.chisquare(seen, wanted * seen.sum() / wanted.sum()).pvalue)


@pytest.fixture(scope="session")
def chi_square() -> Callable[[np.ndarray, np.ndarray], float]:
    """``chi_square(counts, law)``: the p-value of Pearson's test."""
    return _chi_square


def _chain(rates: Mapping[tuple[Any, Any], float], states: list[Any]) -> np.ndarray:
    """Generator matrix of a chain from its rates (from, to)."""
    place = {state: j for j, state in enumerate(states)}
    q = np.zeros((len(states), len(states)))
    for (start, end), rate in rates.items():
        q[place[start], place[end]] += rate
        q[place[start], place[start]] -= rate
    return q


@pytest.fixture(scope="session")
def chain() -> Callable[..., np.ndarray]:
    """``chain(rates, states)``: generator matrix of a Markov chain in continuous time."""
    return _chain


WATCHED = """{kind = "person", link = "radio", alert = "0 s", awake = 1, frame_interval = "0 s",
view_delay = "0 s", reaction = "0 s", command_delay = "0 s", dropout = 0, undercount = 0,
overcount = 0, clear_opening = false, rule = [{after = "%s", count = 1}]}"""


@pytest.fixture(scope="session")
def inside_at(plan_of) -> Callable[..., np.ndarray]:
    """``inside_at(text, "60 s", seed, nights, **change)``: nights by the number inside then.

    A person releases at that time if anyone is inside, and otherwise when the first one enters,
    so that a later release says that nobody was.
    """

    def count(text: str, at: str, seed: int, nights: int, **change: Any) -> np.ndarray:
        trigger = tomllib.loads("t = " + (WATCHED % at).replace("\n", " "))["t"]
        played = play(plan_of(text, trigger=trigger, **change), seed, 0, nights)
        when, size = played["release_s"], played["group_size"][0]
        on_time = when == float(at.split()[0])
        assert (when[~on_time & played["released"]] > float(at.split()[0])).all()
        return np.bincount(np.where(on_time, played["inside_at_release"], 0), minlength=size + 1)

    return count
