"""Bodies in the reference engine: sizes looked up when first needed, each from its own draw."""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.draws import (
    body_mass,
    body_scale,
    body_scatter,
    micrometres,
    sample,
)
from soundergate.engine.facts import Facts
from soundergate.engine.philox import uniform

GRAVITY = 9.80665
"""Standard gravity, m/s^2 (CGPM 1901)."""


class Bodies:
    """Sizes of the animals of one night. Lengths in m, masses in kg, forces in N."""

    def __init__(self, facts: Facts, seed: int, night: int) -> None:
        self.facts, self.seed, self.night = facts, seed, night
        self._mass: dict[int, float] = {}

    def _number(self, i: int, which: int) -> float:
        """In (0, 1): 0 is for mass, 1 shoulder, 2 back."""
        return uniform(self.seed, self.night, k.D_BODY, i, which)

    def mass(self, i: int) -> float:
        if i not in self._mass:
            mu, sigma = self.facts.mass[self.facts.class_of[i]]
            self._mass[i] = body_mass(mu, sigma, self._number(i, 0))
        return self._mass[i]

    def _length(self, i: int, coefficient: int, which: int) -> float:
        scale = body_scale(self.mass(i), self.facts.b[k.B_EXPONENT])
        scatter = body_scatter(self.facts.b[k.B_SCATTER], self._number(i, which))
        return self.facts.b[coefficient] * scale * scatter

    def shoulder(self, i: int) -> float:
        return self._length(i, k.B_WIDTH, 1)

    def back(self, i: int) -> float:
        return self._length(i, k.B_HEIGHT, 2)

    def length(self, i: int) -> float:
        return self.facts.b[k.B_LENGTH] * body_scale(self.mass(i), self.facts.b[k.B_EXPONENT])

    def space(self, i: int, bolting: bool) -> int:
        """Micrometres of opening that it takes up while crossing."""
        factor = self.facts.b[k.B_BOLT_CLEARANCE if bolting else k.B_CLEARANCE]
        return micrometres(self.shoulder(i) * factor)

    def need(self, i: int, o: int) -> float:
        """Share of the full clearance of opening ``o`` that it needs to pass."""
        opening = self.facts.opening[o]
        if opening[k.O_BY_GAP] > 0.0:
            return self.shoulder(i) / opening[k.O_SPAN]
        return self.back(i) * self.facts.b[k.B_DUCK] / opening[k.O_SPAN]

    def fits(self, i: int, o: int) -> bool:
        """Whether it can pass the open gate at all."""
        narrow = micrometres(self.shoulder(i)) <= self.facts.width[o]
        duck = self.facts.b[k.B_DUCK]
        return narrow and self.back(i) * duck <= self.facts.opening[o][k.O_HEIGHT]

    def push(self, i: int) -> float:
        """Sideways push, a share of its weight."""
        kind, a, b = self.facts.durations[k.T_STRENGTH]
        share = sample(kind, a, b, self.seed, self.night, k.D_BODY, i, 3)
        return share * self.mass(i) * GRAVITY

    def intake(self, i: int) -> int:
        """Micrograms of bait a second, whole, so that sums over animals are exact."""
        return math.floor(self.mass(i) * self.facts.b[k.B_INTAKE] + 0.5)
