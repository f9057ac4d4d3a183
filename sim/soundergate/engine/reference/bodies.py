"""Bodies in the reference engine: sizes looked up when first needed, each from its own draw."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.luck.draws import (
    body_scale,
    frailty,
    ln_body_mass,
    micrometres,
    sample,
    sample_row,
)
from soundergate.engine.luck.elementary import exp
from soundergate.engine.luck.philox import uniform
from soundergate.engine.reference.facts import Facts
from soundergate.engine.rules.breakout import break_out, push_of


class Bodies:
    """Sizes of the animals of one night. Lengths in m, masses in kg, forces in N.

    ``traits`` is the number of the night whose draws say what they are like, if not this one.
    """

    def __init__(self, facts: Facts, seed: int, night: int, traits: int | None = None) -> None:
        self.facts, self.seed, self.night = facts, seed, night
        self.traits = night if traits is None else traits
        self._known: dict[int, tuple[float, float]] = {}

    def _body(self, i: int) -> tuple[float, float]:
        """Mass, and the factor on every length."""
        if i not in self._known:
            mu, sigma = self.facts.mass[self.facts.class_of[i]]
            ln_mass = ln_body_mass(mu, sigma, uniform(self.seed, self.traits, k.D_BODY, i, 0))
            u = uniform(self.seed, self.traits, k.D_BODY, i, 1)
            b = self.facts.behaviour
            scale = body_scale(ln_mass, b.exponent, b.scatter, u)
            self._known[i] = exp(ln_mass), scale
        return self._known[i]

    def mass(self, i: int) -> float:
        return self._body(i)[0]

    def shoulder(self, i: int) -> float:
        return self.facts.behaviour.shoulder_coefficient * self._body(i)[1]

    def back(self, i: int) -> float:
        return self.facts.behaviour.back_coefficient * self._body(i)[1]

    def length(self, i: int) -> float:
        return self.facts.behaviour.length_coefficient * self._body(i)[1]

    def space(self, i: int, bolting: bool) -> int:
        """Micrometres of opening that it takes up while crossing."""
        b = self.facts.behaviour
        factor = b.bolt_clearance if bolting else b.side_clearance
        return micrometres(self.shoulder(i) * factor)

    def need(self, i: int, o: int) -> float:
        """Share of the full clearance of opening ``o`` that it needs to pass."""
        opening = self.facts.openings[o]
        if opening.by_gap != 0:
            return self.shoulder(i) / opening.clearance
        return self.back(i) * self.facts.behaviour.duck / opening.clearance

    def fits(self, i: int, o: int) -> bool:
        """Whether it can pass the open gate at all."""
        narrow = micrometres(self.shoulder(i)) <= self.facts.width[o]
        duck = self.facts.behaviour.duck
        return narrow and self.back(i) * duck <= self.facts.openings[o].height

    def ease(self, i: int, o: int) -> float:
        """What the width of opening ``o`` leaves of its speed of entering: less if it touches."""
        touches = self.space(i, bolting=False) > self.facts.width[o]
        return self.facts.behaviour.tightness if touches else 1.0

    def frailty(self, i: int) -> float:
        """How readily it enters, mean 1."""
        kind, a, b = self.facts.durations[k.T_FRAILTY]
        return frailty(kind, a, b, self.seed, self.traits, i)

    def push(self, i: int) -> float:
        """Sideways push in N."""
        return push_of(self.mass(i), self.facts.times, self.seed, self.traits, i)

    def break_out(self, i: int, exit_force: float) -> tuple[float, int]:
        """Seconds until it gets out as a captive (inf if it does not), and how."""
        mu, sigma = self.facts.behaviour.reach_mu, self.facts.behaviour.reach_sigma
        reach = sample(k.LOGNORMAL, mu, sigma, self.seed, self.night, k.D_CLIMB, i, 0)
        roots = sample_row(self.facts.times, k.T_ROOT, self.seed, self.night, k.D_ROOT, i, 0)
        seconds, way = break_out(
            self.mass(i), self.back(i), exit_force, self.facts.behaviour.panel_height,
            self.facts.times, reach, roots, self.seed, self.night, self.traits, i,
        )  # fmt: skip
        return seconds, int(way)

    def intake(self, i: int) -> int:
        """Micrograms of bait a second, whole, so that sums over animals are exact."""
        return math.floor(self.mass(i) * self.facts.behaviour.intake + 0.5)
