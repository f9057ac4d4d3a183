"""The floor: what it costs merely to draw again the very numbers that a night needs.

The reference engine plays some nights while its draw functions are overheard. What it asked for,
each number once a night however often it was looked up, is written into flat arrays, a block of
the generator a row, and drawn again in a compiled loop, with the transforms (logarithms, normal
quantiles, exponentials) that turn uniforms into times and sizes: here one after another, as a
night asks for them; in `together` as the kernel makes most of them.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import compiled, settle_signatures
from soundergate.engine.kernel.early_table import FRAILTY, LATER, MASS, NORMAL, PLAIN, SCALE, How
from soundergate.engine.luck.draws import (
    body_scale,
    gamma_sample,
    inline_quick_gamma,
    ln_body_mass,
    sample,
    sample_with,
)
from soundergate.engine.luck.elementary import inline_exp, inline_ln
from soundergate.engine.luck.normal import normal_quantile
from soundergate.engine.luck.philox import inline_pair, uniform
from soundergate.engine.plan import NightPlan
from soundergate.engine.reference.facts import Facts

_HEARD = tuple(f"soundergate.engine.{room}" for room in ("reference.", "rules.", "luck.draws"))
"""Where the reference engine asks for numbers: not in the generator, nor in the kernel."""

Name = tuple[int, int, int]
"""(purpose, who, how-many-th)"""


class Takes(NamedTuple):
    """What was drawn, one row a block, in the order of first use."""

    name: np.ndarray
    """uint64[n]: purpose << 16 | who."""
    block: np.ndarray
    """uint64[n]"""
    kind: np.ndarray
    """int64[n, 2]: what becomes of each number, as in `engine.kernel.early_table`."""
    value: np.ndarray
    """float64[n, 4]: two parameters for the first number and two for the second."""
    start: np.ndarray
    """int64[nights + 1]: the first row of each night."""


@dataclass
class Ear:
    """The draws of one night as they are asked for; each is kept once.

    Its methods stand in for the shared functions of the same names while the reference plays.
    """

    asked: dict[Name, How] = field(default_factory=dict)
    """name -> what becomes of it"""
    by_value: dict[float, Name] = field(default_factory=dict)

    def sample(
        self, kind: int, a: float, b: float, seed: int, night: int, purpose: int, who: int, k0: int
    ) -> float:
        if kind != k.FIXED:
            self.asked.setdefault((purpose, who, k0), (kind, a, b))
        return float(sample(kind, a, b, seed, night, purpose, who, k0))

    def uniform(self, seed: int, night: int, purpose: int, who: int, k0: int) -> float:
        u = float(uniform(seed, night, purpose, who, k0))
        self._plain(u, (purpose, who, k0))
        return u

    def normal_quantile(self, u: float) -> float:
        self.asked[self.by_value[u]] = (NORMAL, 0.0, 0.0)
        return float(normal_quantile(u))

    def ln_body_mass(self, mu: float, sigma: float, u: float) -> float:
        self.asked[self.by_value[u]] = (MASS, mu, sigma)
        return float(ln_body_mass(mu, sigma, u))

    def body_scale(self, ln_mass: float, exponent: float, sigma: float, u: float) -> float:
        self.asked[self.by_value[u]] = (SCALE, exponent, sigma)
        return float(body_scale(ln_mass, exponent, sigma, u))

    def _plain(self, u: float, name: Name) -> None:
        self.asked.setdefault(name, (PLAIN, 0.0, 0.0))
        self.by_value[u] = name


_LEAVES = (sample, uniform, normal_quantile, ln_body_mass, body_scale)


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
        if not name.startswith(_HEARD):
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
    from soundergate.engine.reference.night import Night

    facts = Facts(plan)
    rows: list[tuple[Name, How, How]] = []
    start = [0]
    numbers = 0
    ear = Ear()
    settle_signatures()  # before the names that they call mean something else
    with _overhearing(ear):
        for night in range(nights):
            Night(facts, seed, night).play()
            numbers += len(ear.asked)
            rows += _rows(ear)
            start.append(len(rows))
            ear.asked.clear()
            ear.by_value.clear()
    takes = Takes(
        np.array([purpose << 16 | who for (purpose, who, _), _, _ in rows], np.uint64),
        np.array([block for (_, _, block), _, _ in rows], np.uint64),
        np.array([(one[0], other[0]) for _, one, other in rows], np.int64),
        np.array([(*one[1:], *other[1:]) for _, one, other in rows], np.float64),
        np.array(start, np.int64),
    )
    return takes, numbers


def _rows(ear: Ear) -> Iterator[tuple[Name, How, How]]:
    """(purpose, who, block), and what becomes of the two numbers of the block."""
    left = dict(ear.asked)
    for (purpose, who, number), how in ear.asked.items():
        if left.pop((purpose, who, number), None) is None:
            continue
        if how[0] == k.GAMMA:  # of its own blocks, the first mostly does
            if number != 0:
                raise NotImplementedError("a second gamma variate of one purpose")
            yield (purpose + k.OWN_BLOCKS, who, 0), (FRAILTY, *how[1:]), (PLAIN, 0.0, 0.0)
            continue
        mate = left.pop((purpose, who, number ^ 1), (LATER, 0.0, 0.0))
        yield (purpose, who, number // 2), *((how, mate) if number % 2 == 0 else (mate, how))


@compiled
def draw_again(takes, seed):  # type: ignore[no-untyped-def]
    """Draw every row once; the sum is returned so that nothing can be left out."""
    key = np.uint64(seed)
    name = takes.name
    block = takes.block
    kind = takes.kind
    value = takes.value
    total = 0.0
    for night in range(takes.start.shape[0] - 1):
        n = np.uint64(night)
        for row in range(takes.start[night], takes.start[night + 1]):
            u, v = inline_pair(block[row], name[row], n, key)
            first = kind[row, 0]
            a = value[row, 0]
            b = value[row, 1]
            c = value[row, 2]
            d = value[row, 3]
            if first == FRAILTY:
                z = inline_quick_gamma(a, b, normal_quantile(u), v)
                total += z if z >= 0.0 else attempted_again(a, b, seed, night, name[row])
            elif first == MASS:
                ln_mass = a + b * normal_quantile(u)
                total += inline_exp(ln_mass) + inline_exp(c * ln_mass + d * normal_quantile(v))
            else:
                total += turned(u, first, a, b)
                total += turned(v, kind[row, 1], c, d)
    return total


@compiled
def turned(u, kind, a, b):  # type: ignore[no-untyped-def]
    """A uniform number put through its transform, as `draws.sample_with`."""
    if kind == LATER:
        return 0.0
    if kind == PLAIN:
        return u
    if kind == k.EXPONENTIAL:
        return -a * inline_ln(u)
    if kind == NORMAL:
        return normal_quantile(u)
    if kind == k.LOGNORMAL:
        return inline_exp(a + b * normal_quantile(u))
    return sample_with(u, kind, a, b, 0, 0, 0, 0, 0)


@compiled
def attempted_again(shape, scale, seed, night, name):  # type: ignore[no-untyped-def]
    """A gamma variate whose first attempt was not taken."""
    purpose = np.int64(name >> np.uint64(16))
    return gamma_sample(
        shape, scale, seed, night, purpose, np.int64(name & np.uint64(0xFFFF)), np.int64(0)
    )
