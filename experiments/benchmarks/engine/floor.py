"""The floor: what it costs merely to draw again the very numbers that a night needs.

The reference engine plays some nights while its draw functions are overheard. What it asked for,
each number once a night however often it was looked up, is written into flat arrays and drawn
again in one compiled loop, with the transforms (logarithms, normal quantiles, exponentials) that
turn uniforms into times and sizes. No engine that keeps to the same draws can be faster than that.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine import draws, normal, philox
from soundergate.engine.compiled import compiled
from soundergate.engine.draws import body_scale, frailty, ln_body_mass, sample, sample_with
from soundergate.engine.facts import Facts
from soundergate.engine.normal import normal_quantile
from soundergate.engine.philox import uniform, uniform_pair
from soundergate.engine.plan import NightPlan

# What is done with a uniform number, beside the kinds of distribution 0 to 5.
UNUSED, PLAIN, NORMAL, FRAILTY, MASS, SCALE = -1, 10, 11, 12, 13, 14

PAIRED = frozenset({k.D_SPREAD, k.D_BODY, k.D_STAY, k.D_BOLT})
"""Purposes whose two numbers of a block the kernel takes at once: one block, not two."""

LISTENED = ("reference", "gatehouse", "watch", "bodies", "holding", "entrance")
"""Modules of the reference engine; one that does not exist is passed over."""


class Takes(NamedTuple):
    """What was drawn, one row a block (or single number), in the order of first use."""

    named: np.ndarray
    """int64[n, 5]: night, purpose, who, block if ``both`` else number, ``both``."""
    kind: np.ndarray
    """int64[n, 2]: transform of each number."""
    value: np.ndarray
    """float64[n, 2, 2]: its parameters."""


@dataclass
class Overheard:
    """The draws of one night as they are asked for; each is kept once."""

    asked: dict[tuple[int, int, int], list[Any]] = field(default_factory=dict)
    """(purpose, who, number) -> [transform, a, b]"""
    by_value: dict[float, tuple[int, int, int]] = field(default_factory=dict)

    def sample(self, kind: int, a: float, b: float, _s: int, _n: int, *name: int) -> float:
        if kind != k.FIXED:
            self.asked.setdefault(name, [kind, a, b])  # type: ignore[arg-type]
        return float(sample(kind, a, b, _s, _n, *name))

    def uniform(self, _s: int, _n: int, *name: int) -> float:
        u = float(uniform(_s, _n, *name))
        self.asked.setdefault(name, [PLAIN, 0.0, 0.0])  # type: ignore[arg-type]
        self.by_value[u] = name  # type: ignore[assignment]
        return u

    def frailty(self, kind: int, a: float, b: float, _s: int, _n: int, who: int) -> float:
        if kind != k.FIXED:
            self.asked.setdefault((k.D_FRAILTY, who, 0), [FRAILTY, a, b])
        return float(frailty(kind, a, b, _s, _n, who))

    def turned(self, u: float, transform: int, a: float = 0.0, b: float = 0.0) -> None:
        """A uniform drawn before is put through a transform."""
        self.asked[self.by_value[u]] = [transform, a, b]

    def normal_quantile(self, u: float) -> float:
        self.turned(u, NORMAL)
        return float(normal_quantile(u))

    def ln_body_mass(self, mu: float, sigma: float, u: float) -> float:
        self.turned(u, MASS, mu, sigma)
        return float(ln_body_mass(mu, sigma, u))

    def body_scale(self, ln_mass: float, exponent: float, sigma: float, u: float) -> float:
        self.turned(u, SCALE, exponent, sigma)
        return float(body_scale(ln_mass, exponent, sigma, u))


@contextmanager
def _listening(ear: Overheard) -> Iterator[None]:
    """While it lasts, the reference engine's draw functions are those of ``ear``."""
    ears: dict[int, Callable[..., float]] = {
        id(getattr(home, name)): getattr(ear, name)
        for home, name in (
            (draws, "sample"), (philox, "uniform"), (draws, "frailty"),
            (normal, "normal_quantile"), (draws, "ln_body_mass"), (draws, "body_scale"),
        )
    }  # fmt: skip
    saved = []
    for name in LISTENED:
        module = sys.modules.get(f"soundergate.engine.{name}")
        for key, value in list(vars(module).items()) if module else []:
            if id(value) in ears:
                saved.append((module, key, value))
                setattr(module, key, ears[id(value)])
    try:
        yield
    finally:
        for module, key, value in saved:
            setattr(module, key, value)


def overhear(plan: NightPlan, seed: int, nights: int) -> tuple[Takes, int]:
    """Rows to draw again for nights 0 to ``nights - 1``, and how many numbers they hold."""
    from soundergate.engine.reference import Night

    facts = Facts(plan)
    rows: list[tuple[tuple[int, ...], list[Any], list[Any]]] = []
    numbers = 0
    for night in range(nights):
        ear = Overheard()
        with _listening(ear):
            Night(facts, seed, night).play()
        numbers += len(ear.asked)
        rows += _rows(night, ear.asked)
    takes = Takes(
        np.array([named for named, _, _ in rows], np.int64),
        np.array([[one[0], other[0]] for _, one, other in rows], np.int64),
        np.array([[one[1:], other[1:]] for _, one, other in rows], np.float64),
    )
    return takes, numbers


def _rows(night: int, asked: dict[tuple[int, int, int], list[Any]]) -> Iterator[tuple[Any, ...]]:
    nothing = [UNUSED, 0.0, 0.0]
    left = dict(asked)
    for (purpose, who, number), how in asked.items():
        if (purpose, who, number) not in left:
            continue
        del left[purpose, who, number]
        if purpose not in PAIRED:
            yield (night, purpose, who, number, 0), how, nothing
            continue
        mate = left.pop((purpose, who, number ^ 1), nothing)
        pair = (how, mate) if number % 2 == 0 else (mate, how)
        yield (night, purpose, who, number // 2, 1), *pair


@compiled
def draw_again(takes, seed):  # type: ignore[no-untyped-def]
    """Draw every row once; the sum is returned so that nothing can be left out."""
    named = takes.named
    kind = takes.kind
    value = takes.value
    total = 0.0
    for row in range(named.shape[0]):
        night = named[row, 0]
        purpose = named[row, 1]
        who = named[row, 2]
        number = named[row, 3]
        first = kind[row, 0]
        a = value[row, 0, 0]
        b = value[row, 0, 1]
        if named[row, 4] == 0:
            if first < PLAIN:
                total += sample(first, a, b, seed, night, purpose, who, number)
            elif first == FRAILTY:
                total += frailty(k.GAMMA, a, b, seed, night, who)
            else:
                u = uniform(seed, night, purpose, who, number)
                total += normal_quantile(u) if first == NORMAL else u
            continue
        second = kind[row, 1]
        c = value[row, 1, 0]
        d = value[row, 1, 1]
        u, v = uniform_pair(seed, night, purpose, who, number)
        if first == MASS:
            ln_mass = ln_body_mass(a, b, u)
            total += math.exp(ln_mass) + body_scale(ln_mass, c, d, v)
            continue
        if first != UNUSED:
            total += (
                u if first == PLAIN
                else sample_with(u, first, a, b, seed, night, purpose, who, 2 * number)
            )  # fmt: skip
        if second != UNUSED:
            total += (
                v if second == PLAIN
                else sample_with(v, second, c, d, seed, night, purpose, who, 2 * number + 1)
            )  # fmt: skip
    return total
