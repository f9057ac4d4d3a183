"""The floor: what it costs merely to draw again the very numbers that a night needs.

The reference engine plays some nights while its draw functions are overheard. What it asked for,
each number once a night however often it was looked up, is written into flat arrays and drawn
again in one compiled loop, with the transforms (logarithms, normal quantiles, exponentials) that
turn uniforms into times and sizes. `draw_again` takes them one after another, as a night asks for
them; `draw_together` makes the uniforms of a night in one go, which lets the compiler work on
several blocks of the generator at once.
"""

from __future__ import annotations

import inspect
import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.compiled import compiled
from soundergate.engine.draws import body_scale, ln_body_mass, sample, sample_with
from soundergate.engine.facts import Facts
from soundergate.engine.normal import normal_quantile
from soundergate.engine.philox import philox4x32, uniform, uniform_pair
from soundergate.engine.plan import NightPlan

# What is done with a uniform number, beside the kinds of distribution 0 to 5.
UNUSED, PLAIN, NORMAL, MASS, SCALE = -1, 10, 11, 12, 13

_EARLY = frozenset(
    (
        k.D_SPREAD,
        k.D_ENTRY,
        k.D_FRAILTY + k.OWN_BLOCKS,
        k.D_BODY,
        k.D_STAY,
        k.D_BOLT,
        k.D_LATE,
        k.D_RETURN,
        k.D_CLIMB,
        k.D_ROOT,
        k.D_ROAM,
        k.D_COUNT_IN,
    )
)
"""Purposes of which the kernel takes both numbers of block 0 at once: one block, not two."""

_PAIRED = frozenset({k.D_STAY})
"""Purposes of which it takes both numbers of every block at once."""

_DEAF = ("early", "batch", "compiled", "philox", "normal")
"""Modules of the engine whose draws are not overheard: the kernel's, and the generator's own."""

Name = tuple[int, int, int]
"""(purpose, who, how-many-th)"""


class Takes(NamedTuple):
    """What was drawn, one row a block (or single number), in the order of first use."""

    named: np.ndarray
    """int64[n, 5]: night, purpose, who, block if ``both`` else number, ``both``."""
    kind: np.ndarray
    """int64[n, 2]: transform of each number."""
    value: np.ndarray
    """float64[n, 2, 2]: its parameters."""
    start: np.ndarray
    """int64[nights + 1]: the first row of each night."""


@dataclass
class Ear:
    """The draws of one night as they are asked for; each is kept once.

    Its methods stand in for the shared functions of the same names while the reference plays.
    """

    asked: dict[Name, list[Any]] = field(default_factory=dict)
    """name -> [transform, a, b]"""
    by_value: dict[float, Name] = field(default_factory=dict)
    paired: set[int] = field(default_factory=lambda: set(_PAIRED))

    def sample(
        self, kind: int, a: float, b: float, seed: int, night: int, purpose: int, who: int, k0: int
    ) -> float:
        if kind != k.FIXED:
            self.asked.setdefault((purpose, who, k0), [kind, a, b])
        return float(sample(kind, a, b, seed, night, purpose, who, k0))

    def sample_with(
        self, u: float, kind: int, a: float, b: float, seed: int, night: int, *name: int
    ) -> float:
        if kind != k.FIXED:
            self.asked[name] = [kind, a, b]  # type: ignore[index]
        return float(sample_with(u, kind, a, b, seed, night, *name))

    def uniform(self, seed: int, night: int, purpose: int, who: int, k0: int) -> float:
        u = float(uniform(seed, night, purpose, who, k0))
        self._plain(u, (purpose, who, k0))
        return u

    def uniform_pair(
        self, seed: int, night: int, purpose: int, who: int, block: int
    ) -> tuple[float, float]:
        u, v = uniform_pair(seed, night, purpose, who, block)
        self._plain(u, (purpose, who, 2 * block))
        self._plain(v, (purpose, who, 2 * block + 1))
        self.paired.add(purpose)
        return u, v

    def normal_quantile(self, u: float) -> float:
        self.asked[self.by_value[u]] = [NORMAL, 0.0, 0.0]
        return float(normal_quantile(u))

    def ln_body_mass(self, mu: float, sigma: float, u: float) -> float:
        self.asked[self.by_value[u]] = [MASS, mu, sigma]
        return float(ln_body_mass(mu, sigma, u))

    def body_scale(self, ln_mass: float, exponent: float, sigma: float, u: float) -> float:
        self.asked[self.by_value[u]] = [SCALE, exponent, sigma]
        return float(body_scale(ln_mass, exponent, sigma, u))

    def _plain(self, u: float, name: Name) -> None:
        self.asked.setdefault(name, [PLAIN, 0.0, 0.0])
        self.by_value[u] = name


_LEAVES = (sample, sample_with, uniform, uniform_pair, normal_quantile, ln_body_mass, body_scale)


def _stand_in(value: Any, ear: Ear) -> Callable[..., Any] | None:
    """What to put in the place of a name of an engine module, or None to leave it.

    A compiled function that draws through others is replaced by its Python source, which meets
    the ear in its own module.
    """
    if any(value is leaf for leaf in _LEAVES):
        heard: Callable[..., Any] = getattr(ear, value.py_func.__name__)
        return heard
    plain: Callable[..., Any] | None = getattr(value, "py_func", None)
    draws = plain is not None and "seed" in inspect.signature(plain).parameters
    return plain if draws else None


@contextmanager
def _overhearing(ear: Ear) -> Iterator[None]:
    saved = []
    for name, module in list(sys.modules.items()):
        room, _, last = name.rpartition(".")
        if room != "soundergate.engine" or last in _DEAF:
            continue
        for key, value in list(vars(module).items()):
            other = _stand_in(value, ear)
            if other is not None:
                saved.append((module, key, value))
                setattr(module, key, other)
    try:
        yield
    finally:
        for module, key, value in saved:
            setattr(module, key, value)


def overhear(plan: NightPlan, seed: int, nights: int) -> tuple[Takes, int]:
    """Rows to draw again for nights 0 to ``nights - 1``, and how many numbers they hold."""
    from soundergate.engine.reference import Night

    facts = Facts(plan)
    rows: list[tuple[Any, ...]] = []
    start = [0]
    numbers = 0
    ear = Ear()
    with _overhearing(ear):
        for night in range(nights):
            Night(facts, seed, night).play()
            numbers += len(ear.asked)
            rows += _rows(night, ear)
            start.append(len(rows))
            ear.asked.clear()
            ear.by_value.clear()
    takes = Takes(
        np.array([named for named, _, _ in rows], np.int64),
        np.array([[one[0], other[0]] for _, one, other in rows], np.int64),
        np.array([[one[1:], other[1:]] for _, one, other in rows], np.float64),
        np.array(start, np.int64),
    )
    return takes, numbers


def _rows(night: int, ear: Ear) -> Iterator[tuple[Any, ...]]:
    nothing = [UNUSED, 0.0, 0.0]
    left = dict(ear.asked)
    for (purpose, who, number), how in ear.asked.items():
        if (purpose, who, number) not in left:
            continue
        del left[purpose, who, number]
        if purpose not in ear.paired and not (purpose in _EARLY and number < 2):
            yield (night, purpose, who, number, 0), how, nothing
            continue
        mate = left.pop((purpose, who, number ^ 1), nothing)
        first, second = (how, mate) if number % 2 == 0 else (mate, how)
        yield (night, purpose, who, number // 2, 1), first, second


@compiled
def turned(u, kind, a, b, seed, night, purpose, who, number):  # type: ignore[no-untyped-def]
    """A uniform number put through its transform."""
    if kind == UNUSED:
        return 0.0
    if kind < PLAIN:
        return sample_with(u, kind, a, b, seed, night, purpose, who, number)
    return normal_quantile(u) if kind == NORMAL else u


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
            else:
                u = uniform(seed, night, purpose, who, number)
                total += turned(u, first, a, b, seed, night, purpose, who, number)
            continue
        second = kind[row, 1]
        c = value[row, 1, 0]
        d = value[row, 1, 1]
        u, v = uniform_pair(seed, night, purpose, who, number)
        if first == MASS:
            ln_mass = ln_body_mass(a, b, u)
            total += math.exp(ln_mass) + body_scale(ln_mass, c, d, v)
            continue
        total += turned(u, first, a, b, seed, night, purpose, who, 2 * number)
        total += turned(v, second, c, d, seed, night, purpose, who, 2 * number + 1)
    return total
