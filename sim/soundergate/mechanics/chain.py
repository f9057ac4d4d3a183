"""The one chain from a push, or volts, to the gate let go: what `check`, pages and nights share.

A latch needs a pull N at the puller's end of its lever, log-normal but for a part of it that does
not scatter (`mechanics.scatter`). Three things can give it:

* a powered puller, whose pull is log-normal too;
* a bait container that falls, whose weight is known;
* an animal that pushes a trip line. Its push P is log-normal and grows with its mass, as its back
  does, so that those tall enough to touch the line push harder than their class. Under P the line
  carries a tension T(P) (`mechanics.trip_line`) until it breaks at B, of which its bends leave the
  share c = exp(-mu theta), with mu log-normal. The latch lets go when

      N <= c min(T(P), B).

A line also pulls before anybody touches it: hung with T0, it frees the latch by itself when
N <= c T0. So a trap *holds* unless that happens, or the load itself opens the latch; and it
*releases* when a try frees a latch that held. In a night N, mu and P are drawn once each, of the
latch, the line and the animal, and compared by the same rule (`engine.rules.line_pull`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import hypot, inf, log
from typing import Any

import numpy as np
from scipy.special import ndtr, ndtri

from soundergate.mechanics import scatter, trip_line
from soundergate.mechanics.latches import lever as levers
from soundergate.mechanics.latches.release_probability import both_exceed
from soundergate.mechanics.model import Array, Chain, HungLine, LatchSolution, Toucher
from soundergate.scenario.distributions import LogNormal

NEVER_TOUCHES = 1e-6
"""Share of a class tall enough for a line below which it is taken never to touch it."""

STATES: Mapping[str, float] = {"full": 1.0, "half empty": 0.5, "empty": 0.0}
"""Share of the bait that is left in a container, by the name of its state."""


@dataclass(frozen=True)
class Odds:
    """Probabilities of a chain.

    ``holds``: the trap stays set until something pulls. ``releases``: a try frees a latch that
    held; a try is a command, a full container that falls, or a touch by an animal tall enough for
    the line, each such animal of the group being as likely as another. Of several lines and
    containers it is that of the worst. ``by_class`` is the same for touches by one class,
    ``touching`` the share of each class that is tall enough, ``by_state`` for a container as it is
    eaten empty. ``slips``: the load itself opens the latch; ``drawn``: else the line's own tension
    frees it; ``snaps``: of the traps that held, those whose line breaks before it pulls enough.
    """

    holds: float
    releases: float
    slips: float = 0.0
    drawn: float = 0.0
    snaps: float = 0.0
    by_class: Mapping[str, float] = field(default_factory=dict)
    touching: Mapping[str, float] = field(default_factory=dict)
    by_state: Mapping[str, float] = field(default_factory=dict)


def changed(
    chain: Chain,
    *,
    lever: float | None = None,
    latch: LatchSolution | None = None,
    available: LogNormal | None = None,
    container: float | None = None,
    line: Mapping[str, Any] | None = None,
) -> Chain:
    """The chain with another ``lever`` ratio, ``latch`` (before the lever) or pull ``available``.

    ``container`` is the weight (N) of every bait container when empty; ``line`` holds fields of
    `HungLine` (SI), the same for all lines, such as ``{"hung": 10.0, "turn": 0.0}``.
    """
    site, pull = chain.site, chain.pull
    if line:
        site = replace(site, lines=tuple(replace(one, **line) for one in site.lines))
    if container is not None:
        heavier = tuple((container + full - empty, container) for full, empty in site.containers)
        site = replace(site, containers=heavier)
    if available is not None:
        pull = replace(
            pull, available=available.median, available_sigma=available.sigma, law=available
        )
    return replace(
        chain,
        latch=chain.latch if latch is None else latch,
        lever=chain.lever if lever is None else lever,
        pull=pull,
        site=site,
    )


def need_of(chain: Chain) -> LatchSolution:
    """The latch as its puller meets it."""
    return levers.from_puller_end(chain.latch, chain.lever)


def within_reach(chain: Chain) -> bool:
    """Whether enough pull frees the latch at all: it can move, and as far as it has to."""
    need = need_of(chain)
    return need.releases and need.trip_travel <= chain.pull.stroke * (1.0 + 1e-9)


def slips_below(chain: Chain) -> float:
    """Normal quantile of a latch's friction below which its load opens it; -inf: it never does."""
    latch = chain.latch
    if not latch.holds and latch.hold_probability == 1.0:
        return inf
    return float(ndtri(1.0 - latch.hold_probability))


@lru_cache(maxsize=4096)
def odds(chain: Chain) -> Odds:
    """Probabilities that a chain holds and releases."""
    if chain.pull.kind == "none":
        return Odds(1.0, 1.0)
    need = need_of(chain)
    required = _Need.of(need.required, slips_below(chain))
    slips = float(ndtr(required.slips_below))
    if chain.pull.kind != "animal":
        frees = _freed(required, chain.pull.given) if within_reach(chain) else 0.0
        return Odds(1.0 - slips, frees, slips)
    return _by_animals(chain, need, required)


@dataclass(frozen=True)
class _Need:
    """Pull needed: N = exp(mu + sigma z) + steady of a standard normal z; the load opens the latch
    below z = ``slips_below``."""

    law: LogNormal
    mu: float
    sigma: float
    steady: float
    slips_below: float

    @classmethod
    def of(cls, law: LogNormal, slips_below: float) -> _Need:
        varies = law.median - law.steady
        if varies > 0.0 and law.sigma > 0.0:
            return cls(law, log(varies), law.sigma, law.steady, slips_below)
        return cls(law, log(law.median) if law.median > 0.0 else -inf, 0.0, 0.0, slips_below)

    def pull(self, z: Any) -> Array:
        """The pull (N, array) that is needed at z; never below 0."""
        return np.maximum(np.exp(self.mu + self.sigma * z) + self.steady, 0.0)

    def z(self, pull: Any) -> Array:
        """The z at which this pull (N, array) is just enough; +-inf where z makes no odds."""
        with np.errstate(divide="ignore"):
            ahead = np.log(np.maximum(pull - self.steady, 0.0)) - self.mu
        if self.sigma > 0.0:
            return np.asarray(ahead / self.sigma)
        return np.where(ahead >= 0.0, inf, -inf)


def _freed(required: _Need, available: LogNormal) -> float:
    """P(the pull is enough | the load did not open the latch)."""
    held = float(ndtr(-required.slips_below))
    if required.mu == -inf or held <= 0.0:
        return 1.0
    return min(1.0, scatter.frees(required.law, available) / held)


# ---- what animals work ---------------------------------------------------------------------


def _by_animals(chain: Chain, need: LatchSolution, required: _Need) -> Odds:
    site = chain.site
    slips = float(ndtr(required.slips_below))
    holds = _holds(required, site.lines)
    worst = 1.0
    by_class: dict[str, float] = {}
    touching: dict[str, float] = {}
    by_state: dict[str, float] = {}
    snaps = 0.0
    for full, empty in site.containers:
        for name, left in STATES.items():
            frees = _freed(required, LogNormal(empty + left * (full - empty)))
            by_state[name] = min(by_state.get(name, 1.0), frees if need.releases else 0.0)
        worst = min(worst, by_state["full"])
    for line in site.lines:
        found = _line(need, required, line, site.touchers)
        for name, (touches, frees) in found.classes.items():
            if touches > NEVER_TOUCHES:
                by_class[name] = min(by_class.get(name, 1.0), frees)
            touching[name] = min(touching.get(name, 1.0), touches)
        worst, snaps = min(worst, found.releases), max(snaps, found.snaps)
    if not (site.lines or site.containers):
        worst = 0.0
    drawn = max(0.0, 1.0 - slips - holds)
    return Odds(holds, worst, slips, drawn, snaps, by_class, touching, by_state)


def _standing_pull(line: HungLine) -> float:
    """Tension (N) that the hung line bears, before its bends."""
    return min(line.hung, line.break_force)


def _holds(required: _Need, lines: tuple[HungLine, ...]) -> float:
    """P(neither the load nor any line's own tension frees the latch)."""
    if required.mu == -inf:
        return 0.0 if lines else 1.0 - float(ndtr(required.slips_below))
    special = []
    for line in lines:
        rubs = line.turn * line.friction.median
        wide = rubs * line.friction.sigma / required.sigma if required.sigma > 0.0 else 0.0
        special += _around(required.z(_standing_pull(line) * np.exp([-rubs])), wide)
    z, weight = _nodes(np.array([required.slips_below]), np.array([inf]), special)
    stands = np.ones_like(z)
    pull = required.pull(z)
    for line in lines:
        stands = stands * _stands(line, pull)
    return float(np.clip((weight * stands).sum(), 0.0, 1.0))


def _stands(line: HungLine, need: Array) -> Array:
    """P(c T0 < N) over the line's friction, for pulls N needed."""
    with np.errstate(divide="ignore"):
        ahead = np.log(_standing_pull(line)) - np.log(need)
    rubs = line.turn * line.friction.median
    if rubs <= 0.0:
        return np.asarray(ahead < 0.0, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        least = np.where(ahead > 0.0, np.log(ahead / rubs), -inf)
    if line.friction.sigma == 0.0:
        return np.asarray(least < 0.0, dtype=np.float64)
    return np.asarray(ndtr(-least / line.friction.sigma))


@dataclass(frozen=True)
class _Found:
    """Of one line: P(released | held), share that snaps, and by class (touches, releases)."""

    releases: float
    snaps: float
    classes: Mapping[str, tuple[float, float]]


def _line(
    need: LatchSolution, required: _Need, line: HungLine, touchers: tuple[Toucher, ...]
) -> _Found:
    total = weight = snaps = 0.0
    classes: dict[str, tuple[float, float, float]] = {}
    for toucher in touchers:
        pushes = _Pushes.of(toucher, line)
        frees = 0.0
        if pushes.touches > NEVER_TOUCHES:
            frees, snaps = _touch(need, required, line, pushes)
        heads, touches, freed = classes.get(toucher.name, (0.0, 0.0, 0.0))
        at_it = toucher.heads * pushes.touches
        classes[toucher.name] = (heads + toucher.heads, touches + at_it, freed + at_it * frees)
        if pushes.touches > NEVER_TOUCHES:
            total, weight = total + at_it * frees, weight + at_it
    by_class = {
        name: (touches / heads, freed / touches if touches > 0.0 else 0.0)
        for name, (heads, touches, freed) in classes.items()
    }
    return _Found(total / weight if weight > 0.0 else 0.0, snaps, by_class)


@dataclass(frozen=True)
class _Pushes:
    """How hard those of one class push that are tall enough for a line."""

    median: float
    sigma: float
    touches: float
    back_above: float
    correlation: float

    @classmethod
    def of(cls, toucher: Toucher, line: HungLine) -> _Pushes:
        sigma = hypot(toucher.strength_sigma, toucher.mass_sigma)
        back = hypot(toucher.exponent * toucher.mass_sigma, toucher.scatter)
        short = log(max(line.height, 1e-12) / toucher.back)
        above = short / back if back > 0.0 else (40.0 if short >= 0.0 else -40.0)
        shared = toucher.exponent * toucher.mass_sigma**2
        correlation = shared / (sigma * back) if sigma * back > 0.0 else 0.0
        return cls(toucher.push, sigma, float(ndtr(-above)), above, correlation)

    def at_least(self, push: Array) -> Array:
        """P(push at least this hard | tall enough)."""
        if self.sigma == 0.0:
            return np.asarray(self.median >= push, dtype=np.float64)
        with np.errstate(divide="ignore"):
            a = np.log(push / self.median) / self.sigma
        return both_exceed(a, self.back_above, self.correlation) / self.touches


def _touch(
    need: LatchSolution, required: _Need, line: HungLine, pushes: _Pushes
) -> tuple[float, float]:
    """P(released | held) of a touch by one class, and P(the line breaks first | held)."""
    if required.mu == -inf:
        return 1.0, 0.0  # its own tension has freed it, if any line hangs there
    give = line.slack + need.trip_travel
    typical = _tension(pushes.median, line, give)
    share, of_share = _shares(required, line, pushes, typical)
    low = np.maximum(required.slips_below, required.z(_standing_pull(line) * share))
    breaks = required.z(line.break_force * share)
    held = float((of_share * ndtr(-low)).sum())
    if held <= 0.0:
        return 1.0, 0.0
    snaps = float((of_share * ndtr(-np.maximum(low, breaks))).sum() / held)
    if not need.releases:
        return 0.0, snaps
    if required.sigma == 0.0:
        tension = required.pull(0.0) / share
        bears = np.maximum(0.0, ndtr(-low) - ndtr(-breaks))
        frees = bears * pushes.at_least(_push_for(tension, line, give))
        return float(np.clip((of_share * frees).sum() / held, 0.0, 1.0)), snaps
    special = _around(required.z(typical * share), pushes.sigma / required.sigma)
    z, weight = _nodes(low, breaks, special)
    weight = weight * of_share[:, None]
    some = weight > _TINY
    tension = (required.pull(z) / share[:, None])[some]
    frees = float((weight[some] * pushes.at_least(_push_for(tension, line, give))).sum())
    return min(1.0, frees / held), snaps


def _push_for(tension: Array, line: HungLine, give: float) -> Array:
    taut = np.maximum(tension, line.hung)
    return np.asarray(trip_line.push_for(taut, line.hung, give, line.stiffness, line.span))


def _tension(push: float, line: HungLine, give: float) -> float:
    """Tension (N) of the line under a push (N); that as hung where the push is too weak to draw
    in what gives. By bisection, since the push rises with the tension."""
    low, high = line.hung, 2.0 * line.hung + push
    while float(_push_for(np.array(high), line, give)) < push:
        high *= 2.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        if float(_push_for(np.array(middle), line, give)) < push:
            low = middle
        else:
            high = middle
    return high


# ---- quadrature ----------------------------------------------------------------------------

_FAR = 8.5
"""Normal quantiles beyond this are left out: 1e-17 of all."""
_TINY = 1e-15
"""Weights below this are left out."""
_EVEN = np.arange(-8.0, 9.0, 2.0)
_AROUND = (-4.0, -1.0, 0.0, 1.0, 4.0)
_X, _W = np.polynomial.legendre.leggauss(8)


def _around(place: Array, width: float) -> list[Array]:
    """Places to begin a panel at, where what is integrated steps within about ``width``."""
    return [place + a * width for a in _AROUND]


def _nodes(low: Array, high: Array, special: list[Array]) -> tuple[Array, Array]:
    """float[M, K] nodes and weights (density included) of a standard normal from low to high.

    Gauss-Legendre on even panels that also end at each ``special`` place.
    """
    low, high = np.clip(low, -_FAR, _FAR), np.clip(high, -_FAR, _FAR)
    high = np.maximum(low, high)
    edges = [low, high, *(np.full_like(low, e) for e in _EVEN), *special]
    ordered = np.sort(np.stack([np.clip(e, low, high) for e in edges]), axis=0).T
    half = 0.5 * np.diff(ordered, axis=1)
    z = (ordered[:, :-1] + half)[:, :, None] + half[:, :, None] * _X
    weight = half[:, :, None] * _W * np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
    return z.reshape(len(low), -1), weight.reshape(len(low), -1)


def _shares(
    required: _Need, line: HungLine, pushes: _Pushes, typical: float
) -> tuple[Array, Array]:
    """float[M]: shares that the bends leave, and their weights, over the line's friction."""
    rubs, sigma = line.turn * line.friction.median, line.friction.sigma
    if rubs <= 0.0 or sigma == 0.0:
        return np.array([np.exp(-rubs)]), np.ones(1)
    spread = hypot(required.sigma, pushes.sigma)
    special = []
    for tension in (_standing_pull(line), line.break_force, typical):
        loses = log(tension / max(required.law.median, 1e-12))  # -ln c at which it is just enough
        if loses > 0.0:
            special += _around(np.array([log(loses / rubs) / sigma]), spread / (loses * sigma))
    z, weight = _nodes(np.array([-inf]), np.array([inf]), special)
    some = weight[0] > 0.0
    return np.exp(-rubs * np.exp(sigma * z[0][some])), weight[0][some]
