"""The chain from a push to the latch: exact limits, a simulation written apart, monotone parts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from soundergate.mechanics import chain as chains
from soundergate.mechanics import scatter, trip_line
from soundergate.mechanics.latches import release_probability as release
from soundergate.mechanics.model import (
    Chain,
    HungLine,
    LatchSolution,
    PullerSolution,
    Site,
    Toucher,
)
from soundergate.scenario.distributions import Duration, LogNormal

AT_ONCE = Duration.fixed(0.0)
ANIMAL = PullerSolution("animal", 1.0, 0.0, AT_ONCE)
LINE = HungLine(
    height=0.5,
    span=5.0,
    hung=10.0,
    slack=0.01,
    stiffness=3000.0,
    turn=2.0,
    friction=LogNormal(0.3, 0.3),
    break_force=600.0,
)
SOW = Toucher("sow", 2, 550.0, 0.72, 0.2, 0.35, 0.33, 0.06)
YOUNG = Toucher("juvenile", 5, 200.0, 0.51, 0.25, 0.35, 0.33, 0.06)
PIN = LatchSolution("pin", 60.0, 0.35, 0.0127)


def made(
    latch: LatchSolution = PIN, lever: float = 2.0, who: tuple[Toucher, ...] = (SOW,), **line: Any
) -> Chain:
    return Chain(latch, lever, ANIMAL, Site(touchers=who, lines=(replace(LINE, **line),)))


# ---- exact limits --------------------------------------------------------------------------


def test_no_scatter_at_all_is_yes_or_no() -> None:
    sure = replace(SOW, mass_sigma=0.0, strength_sigma=0.0, scatter=0.0)
    latch = replace(PIN, pull_required_sigma=0.0)
    friction = LogNormal(0.3)
    tension = 30.0 / math.exp(-0.6)
    give = LINE.slack + 2 * PIN.trip_travel
    push = trip_line.push_for(tension, LINE.hung, give, LINE.stiffness, LINE.span)
    for factor, frees in ((0.999, 0.0), (1.001, 1.0)):
        who = (replace(sure, push=factor * push),)
        assert chains.odds(made(latch, who=who, friction=friction)).releases == frees
    for hung, holds in ((0.999 * tension, 1.0), (1.001 * tension, 0.0)):
        assert chains.odds(made(latch, who=(sure,), friction=friction, hung=hung)).holds == holds
    for breaks, snaps in ((0.999 * tension, 1.0), (1.001 * tension, 0.0)):
        found = chains.odds(made(latch, who=(sure,), friction=friction, break_force=breaks))
        assert (found.snaps, found.releases) == (snaps, 1.0 - snaps)


def test_only_the_latch_scatters() -> None:
    """One push T(P), one share c: released if N <= c T(P), so Phi(ln(c T / N) / s)."""
    sure = replace(SOW, push=60.0, mass_sigma=0.0, strength_sigma=0.0, scatter=0.0)
    chain = made(who=(sure,), friction=LogNormal(0.3), hung=1e-6, stiffness=1e15, slack=0.0)
    slope = trip_line.push_for(1.0, 0.0, 2 * PIN.trip_travel, 1e15, LINE.span)
    lead = math.log(math.exp(-0.6) * sure.push / slope / 30.0)
    assert chains.odds(chain).releases == pytest.approx(float(ndtr(lead / 0.35)), abs=1e-9)


def test_on_a_rigid_straight_line_push_and_need_are_log_normal() -> None:
    """P / slope against N: Phi(lead / hypot), cut off by what breaks the line."""
    tall = replace(SOW, back=50.0)
    chain = made(who=(tall,), hung=1e-6, stiffness=1e15, slack=0.0, turn=0.0, break_force=1e12)
    slope = trip_line.push_for(1.0, 0.0, 2 * PIN.trip_travel, 1e15, LINE.span)
    lead = math.log(tall.push / slope / 30.0)
    expected = float(ndtr(lead / math.sqrt(0.35**2 + 0.2**2 + 0.35**2)))
    assert chains.odds(chain).releases == pytest.approx(expected, abs=1e-9)
    weak = replace(chain, site=replace(chain.site, touchers=(replace(tall, push=8.0),)))
    lead = math.log(8.0 / slope / 30.0)
    expected = float(ndtr(lead / math.sqrt(0.35**2 + 0.2**2 + 0.35**2)))
    assert 0.05 < expected < 0.95
    assert chains.odds(weak).releases == pytest.approx(expected, abs=1e-9)


def test_a_line_draws_by_itself_as_two_log_normals_differ() -> None:
    """With a friction that is known, c T0 > N has a closed form; without bends too."""
    for hung in (5.0, 20.0, 40.0, 90.0):
        lead = math.log(math.exp(-0.6) * hung / 30.0)
        found = chains.odds(made(friction=LogNormal(0.3), hung=hung))
        assert found.holds == pytest.approx(float(ndtr(-lead / 0.35)), abs=1e-9)
        assert found.drawn == pytest.approx(1.0 - found.holds)
    assert chains.odds(made(hung=1e-9)).holds == pytest.approx(1.0)


def test_whose_back_is_low_does_not_touch() -> None:
    found = chains.odds(made(who=(SOW, replace(YOUNG, back=0.1))))
    assert set(found.by_class) == {"sow"}
    assert found.touching["juvenile"] < 1e-9
    assert found.releases == pytest.approx(found.by_class["sow"])
    nobody = chains.odds(made(height=3.0))
    assert (nobody.releases, dict(nobody.by_class)) == (0.0, {})


def test_a_powered_latch_is_two_log_normals_as_ever() -> None:
    pull = PullerSolution("solenoid", 100.0, 0.1, AT_ONCE, stroke=0.05)
    chain = Chain(PIN, 1.0, pull, Site())
    required, available = LogNormal(60.0, 0.35), LogNormal(100.0, 0.1)
    assert chains.odds(chain).releases == pytest.approx(release.probability(required, available))
    assert chains.odds(replace(chain, lever=5.0)).releases == 0.0  # beyond its stroke


def test_a_latch_that_may_slip_is_freed_more_seldom_once_it_held() -> None:
    """150 N exp(0.5 z) less 90 N: it slips where that is below 0, where it would need the least."""
    pull = PullerSolution("solenoid", 60.0, 0.0, AT_ONCE)
    law = LogNormal(60.0, 0.5, -90.0)
    latch = replace(PIN, law=law, hold_probability=scatter.stays_put(law))
    found = chains.odds(Chain(latch, 1.0, pull, Site()))
    slips = float(ndtr(math.log(90.0 / 150.0) / 0.5))
    assert found.holds == pytest.approx(1.0 - slips, abs=1e-12)
    assert found.releases == pytest.approx((0.5 - slips) / (1.0 - slips), abs=1e-9)


def test_a_container_is_told_by_its_state() -> None:
    site = Site(containers=((200.0, 20.0),))
    found = chains.odds(Chain(PIN, 1.0, ANIMAL, site))
    weights = {"full": 200.0, "half empty": 110.0, "empty": 20.0}
    for state, weight in weights.items():
        expected = release.probability(LogNormal(60.0, 0.35), LogNormal(weight))
        assert found.by_state[state] == pytest.approx(expected, abs=1e-12)
    assert found.releases == found.by_state["full"]


# ---- a simulation written apart ------------------------------------------------------------

COUNT = 100_000
FALSE_ALARM = 1e-8


def simulated(chain: Chain, rng: np.random.Generator) -> tuple[int, dict[str, tuple[int, int]]]:
    """How many of `COUNT` settings stand; of touches on those, by class (number, released)."""
    (line,), latch = chain.site.lines, chain.latch
    need = latch.pull_required / chain.lever
    z_need, z_rub, z_mass, z_back, z_push = rng.normal(size=(5, COUNT))
    pull = need * np.exp(latch.pull_required_sigma * z_need)
    rub = line.friction.median * np.exp(line.friction.sigma * z_rub)
    share = np.exp(-line.turn * rub)
    stands = pull > share * line.hung
    give = line.slack + latch.trip_travel * chain.lever
    taut = np.maximum(pull / share, line.hung)
    drawn = give + (taut - line.hung) / line.stiffness
    delta = np.sqrt(((line.span + drawn) / 2) ** 2 - (line.span / 2) ** 2)
    asked = 2.0 * taut * np.sin(np.arctan2(2 * delta, line.span))
    found = {}
    for who in chain.site.touchers:
        back = who.back * np.exp(who.exponent * who.mass_sigma * z_mass + who.scatter * z_back)
        push = who.push * np.exp(who.mass_sigma * z_mass + who.strength_sigma * z_push)
        touch = stands & (back > line.height)
        freed = touch & (push >= asked) & (pull <= share * line.break_force)
        found[who.name] = int(touch.sum()), int(freed.sum())
    return int(stands.sum()), found


def drawn_chain(rng: np.random.Generator) -> Chain:
    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    def scatter(low: float, high: float) -> float:
        return 0.0 if rng.random() < 0.2 else between(low, high)

    body = {"mass_sigma": scatter(0.1, 0.4), "strength_sigma": scatter(0.1, 0.6),
            "scatter": scatter(0.02, 0.1)}  # fmt: skip
    return made(
        replace(PIN, pull_required=between(20, 500), pull_required_sigma=scatter(0.05, 0.6)),
        between(1.0, 8.0),
        (replace(SOW, **body), replace(YOUNG, **body)),
        height=between(0.3, 0.8),
        span=between(1.0, 6.0),
        hung=between(2.0, 90.0),
        slack=float(rng.uniform(0.0, 0.1)),
        stiffness=between(400.0, 4e4),
        turn=float(rng.uniform(0.0, 6.0)),
        friction=LogNormal(between(0.1, 0.5), scatter(0.05, 0.6)),
        break_force=between(60.0, 2000.0),
    )


def test_the_integrals_are_those_of_a_simulation() -> None:
    """25 random chains; at most three exact binomial tests each at 1e-8: 8e-7 in all."""
    rng = np.random.default_rng(20260212)
    middling = 0
    for _ in range(25):
        chain = drawn_chain(rng)
        found = chains.odds(chain)
        stood, by_class = simulated(chain, rng)
        tests = [(stood, COUNT, found.holds)]
        tests += [(r, n, found.by_class.get(k, 0.0)) for k, (n, r) in by_class.items() if n]
        for count, of, share in tests:
            share = min(max(share, 1e-12), 1.0 - 1e-12)
            assert stats.binomtest(count, of, share).pvalue > FALSE_ALARM, chain
            middling += 0.02 < share < 0.98
    assert middling > 8


def test_those_tall_enough_push_harder_than_their_class() -> None:
    """Height and push share the mass: a line that a tenth can touch is touched by the heavy."""
    rng = np.random.default_rng(20260214)
    young = replace(YOUNG, push=60.0, mass_sigma=0.35, strength_sigma=0.2, scatter=0.03)
    low = made(lever=1.0, who=(young,), height=0.1, hung=1.0)
    high = chains.changed(low, line={"height": 0.6})
    found = chains.odds(high)
    _, by_class = simulated(high, rng)
    touched, freed = by_class["juvenile"]
    assert 0.02 < found.touching["juvenile"] < 0.2
    assert 0.05 < chains.odds(low).releases < found.releases - 0.05
    assert stats.binomtest(freed, touched, found.releases).pvalue > FALSE_ALARM


# ---- what helps ----------------------------------------------------------------------------


def test_what_makes_it_harder_makes_it_rarer() -> None:
    at = made(lever=1.0, who=(replace(YOUNG, push=90.0),), break_force=1e9)
    plain = chains.odds(at).releases
    assert 0.3 < plain < 0.97
    for harder in ({"turn": 3.0}, {"slack": 0.1}, {"span": 2.0}, {"stiffness": 500.0}):
        assert chains.odds(chains.changed(at, line=harder)).releases < plain, harder
    assert chains.odds(chains.changed(at, lever=1.5)).releases > plain
    assert chains.odds(chains.changed(at, latch=replace(PIN, pull_required=90.0))).releases < plain


def test_what_is_tighter_holds_less() -> None:
    holds = [
        chains.odds(chains.changed(made(), line={"hung": t})).holds
        for t in (10.0, 30.0, 60.0, 120.0)
    ]
    assert holds == sorted(holds, reverse=True)
    assert holds[0] > 0.9 > 0.1 > holds[-1]
    levers = [
        chains.odds(chains.changed(made(hung=30.0), lever=r)).holds for r in (1.0, 2.0, 4.0, 8.0)
    ]
    assert levers == sorted(levers, reverse=True)


# ---- tails ---------------------------------------------------------------------------------


def test_two_normals_exceed_together_as_a_reference_library_says() -> None:
    """Against SciPy's multivariate normal (Genz's method), and the exact 1/4 + asin(r)/(2 pi)."""
    rng = np.random.default_rng(5)
    for _ in range(100):
        a, b = 2.0 * rng.normal(size=2)
        r = rng.uniform(-0.999, 0.999)
        other = stats.multivariate_normal.cdf([-a, -b], cov=[[1.0, r], [r, 1.0]])
        assert float(release.both_exceed(a, b, r)) == pytest.approx(other, abs=1e-9)
    for r in (-0.9, -0.3, 0.0, 0.5, 0.99):
        exact = 0.25 + math.asin(r) / (2.0 * math.pi)
        assert float(release.both_exceed(0.0, 0.0, r)) == pytest.approx(exact, abs=1e-12)
    assert float(release.both_exceed(0.3, 1.0, 1.0)) == pytest.approx(float(ndtr(-1.0)))
    assert float(release.both_exceed(-0.3, 1.0, -1.0)) == pytest.approx(
        max(0.0, float(ndtr(0.3) + ndtr(-1.0)) - 1.0)
    )
    assert float(release.both_exceed(-math.inf, 1.0, 0.3)) == pytest.approx(float(ndtr(-1.0)))


def test_no_chance_is_above_1_whatever_slips() -> None:
    """P(freed | held) where a pull beyond all need divides a share by itself, rounded twice."""
    pull = PullerSolution("solenoid", 1e9, 0.0, AT_ONCE)
    for steady in np.linspace(-100.0, -210.0, 300):
        law = LogNormal(150.0 + steady, 0.1, steady)
        latch = replace(PIN, law=law, hold_probability=scatter.stays_put(law))
        found = chains.odds(Chain(latch, 1.0, pull, Site()))
        assert found.releases <= 1.0
        assert found.releases == pytest.approx(1.0)
