"""What a night of the reference engine is told with: its luck, its timers, and what is kept of it.

`reference.Night` is the story; here stand the lists of animals and the sums that the story changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from soundergate.engine import codes as k
from soundergate.engine.luck.draws import count_at, sample
from soundergate.engine.luck.philox import uniform
from soundergate.engine.reference.agenda import NightEnvironment, Timer
from soundergate.engine.reference.bodies import Bodies
from soundergate.engine.reference.facts import Facts


class Stage:
    """State of one night, before anything has happened.

    ``before`` holds what each animal brings, a code of `engine.carried`, and ``traits`` the number
    of the night whose draws say what they are like; a night that stands alone has neither.
    """

    def __init__(
        self,
        facts: Facts,
        seed: int,
        number: int,
        trace: Any = None,
        before: Sequence[int] | None = None,
        traits: int | None = None,
    ) -> None:
        self.facts, self.seed, self.number, self.trace = facts, seed, number, trace
        self.env = NightEnvironment()
        self.bodies = Bodies(facts, seed, number, traits)
        sizes = [self.size_tonight(sounder) for sounder in range(facts.sounders)]
        animals = range(facts.animals)
        self.before = [k.AS_DRAWN] * facts.animals if before is None else before
        self.present = [self.comes_tonight(i, sizes[facts.sounder_of[i]]) for i in animals]
        self.group_size = sum(self.present)
        leads = [facts.leads[c] for c in facts.class_of]
        self.led = any(self.present[i] and leads[i] for i in animals)
        self._each_animal(facts.animals)
        self._all_together()

    def _each_animal(self, n: int) -> None:
        self.state = [k.AWAY if present else k.GONE for present in self.present]
        self.stay = [-1] * n
        self.at, self.eats = [0] * n, [0] * n
        self.entered, self.bolting = [False] * n, [False] * n
        self.mouth = [0] * n
        self.animal_timer = [self.timer(lambda i: None) for _ in range(n)]

    def _all_together(self) -> None:
        self.events = 0
        self.arrived = self.inside = self.leaders = self.feeding = self.intake = 0
        self.gone = self.facts.animals - self.group_size
        self.level = 0
        self.sounder_came = [False] * self.facts.sounders
        self.departures: list[float] = []
        self.over = self.alarmed = self.finished = False
        self.speeds_of: tuple[int, int, int, int, bool] | None = None
        self.came_last_by: int | None = None

    # ---- luck ------------------------------------------------------------------------------

    def chance(self, purpose: int, who: int, count: int) -> float:
        """A uniform number in (0, 1)."""
        return uniform(self.seed, self.number, purpose, who, count)

    def draw(self, row: int, purpose: int, who: int, count: int) -> float:
        """A time in s from one of the plan's distributions."""
        kind, a, b = self.facts.durations[row]
        return sample(kind, a, b, self.seed, self.number, purpose, who, count)

    def size_tonight(self, sounder: int) -> int:
        return count_at(self.facts.plan.size_cdf[sounder], self.chance(k.D_SIZE, sounder, 0))

    def comes_tonight(self, i: int, size: int) -> bool:
        if self.before[i] == k.AS_DRAWN:
            return bool(self.facts.turn[i] < size)
        return self.before[i] != k.ABSENT

    def is_wary(self, i: int) -> bool:
        """Whether animal ``i`` never tries to enter tonight."""
        if self.before[i] == k.AS_DRAWN:
            return self.chance(k.D_SPREAD, i, 1) < self.facts.behaviour.shy_share
        return self.before[i] == k.WARY

    def arrival_times(self) -> list[tuple[float, int]]:
        """Who comes when: its sounder, its subgroup's offset, and its own within the subgroup."""
        facts = self.facts
        first = [self.draw(k.T_FIRST, k.D_FIRST, sounder, 0) for sounder in range(facts.sounders)]
        times = []
        for i in (i for i in range(facts.animals) if self.present[i]):
            sounder, party = facts.sounder_of[i], facts.party_of[i]
            who = sounder * k.PARTIES_A_SOUNDER + party
            offset = self.draw(k.T_OFFSET, k.D_OFFSET, who, 0) if party else 0.0
            own = self.draw(k.T_SPREAD, k.D_SPREAD, i, 0)
            times.append((first[sounder] + offset + own, i))
        return sorted(times)

    # ---- timers, and the record ------------------------------------------------------------

    def timer(self, handler: Callable[[int], None]) -> Timer:
        """A timer whose handler is followed by the one settling of the event."""
        return Timer(self.env, handler, self.settle)

    def by(self, i: int, when: float, rank: int, step: Callable[[int], None]) -> None:
        """Animal ``i`` takes ``step`` at ``when``, which supersedes what it was about to do."""
        timer = self.animal_timer[i]
        timer.handler = step
        timer.set(when, rank, i)

    def note(
        self, kind: str, animal: int | None = None, opening: int | None = None, note: str = ""
    ) -> None:
        if self.trace is not None:
            self.trace.record(self.env.now, kind, animal, opening, self.inside, self.level, note)

    def settle(self) -> None:
        """What follows every event; the story says what."""
        raise NotImplementedError
