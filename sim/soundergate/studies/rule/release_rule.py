"""When should the person at the link release? A rule found by playing, to be tried on other nights.

Until the gate is let go the pigs know nothing of the rule, so all rules meet the same story on the
same night. A rule is a step function: from so many minutes after the alert on, release at the first
look that counts at least so many animals. To know what any such rule does on a night it is enough
to know, for every stage and every count, what comes of acting in that stage alone, once it counts
so many: the rule's outcome is that of the stage that acts first. So every stage and count is played
once, and rules are then compared by looking up.

A rule that asks for fewer as time passes is sought by moving any run of stages to any count, as
long as that gains. Of rules that are worth the same the one is taken that waits longer: waiting
costs a night, and what was shut out and has learned cannot be taught back. What is found was chosen
for being good on the nights searched, so its figures come from nights that the search has not seen
(`studies.rule.release`).
"""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soundergate.engine.plan import NightPlan
from soundergate.engine.work.chunks import Executor
from soundergate.engine.work.executors import run_chunks
from soundergate.studies.estimates.stopping import Advance

if TYPE_CHECKING:
    from soundergate.engine.outcomes import Outcomes

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
NEVER = 10_000
"""A count that nobody sees: do not release."""
STAGES = tuple(60.0 * minutes for minutes in (0, 5, 10, 15, 20, 30, 45, 60, 90, 120))
"""Seconds after the alert from which the count asked for may change."""
MOST_COUNTS = 16
"""Counts that are tried; in larger groups not every number is."""
SEARCH_FROM = 10**9
"""Number of the first night that is searched on, far from those of any run."""
BLOCK = 20_000
"""Nights of which hindsight holds every stage and count at a time."""
_EQUAL = 1e-12


@dataclass(frozen=True)
class Step:
    """From ``after`` s after the alert on, release at ``count`` animals or more.

    Or at a ``share`` of the night's group, if that is less; inf where only the count matters. With
    the count `NEVER` and no share, wait.
    """

    after: float
    count: int
    share: float = math.inf

    @property
    def waits(self) -> bool:
        """Whether nothing releases from then on."""
        return self.count >= NEVER and self.share == math.inf

    def values(self) -> dict[str, object]:
        """As an entry of `trigger.rule` of a scenario file."""
        said: dict[str, object] = {"after": f"{self.after / 60:g} min"}
        if self.waits:
            return said | {"wait": True}
        if self.count < NEVER:
            said["count"] = self.count
        return said if self.share == math.inf else said | {"share": self.share}


@dataclass(frozen=True)
class Rule:
    """Steps in order of time."""

    steps: tuple[Step, ...]

    @classmethod
    def of(cls, stages: Sequence[float], counts: Sequence[int]) -> Rule:
        """The rule of these counts from these times (s) on, each change once."""
        steps: list[Step] = []
        for after, count in zip(stages, counts, strict=True):
            if not steps or steps[-1].count != count:
                steps.append(Step(float(after), int(count)))
        return cls(tuple(steps))

    def values(self) -> list[dict[str, object]]:
        """As `trigger.rule` of a scenario file."""
        return [step.values() for step in self.steps]

    def toml(self) -> str:
        """The line to put under `[trigger]`, with kind = "person"."""
        steps = ", ".join(
            "{" + ", ".join(f"{key} = {json.dumps(value)}" for key, value in step.items()) + "}"
            for step in self.values()
        )
        return f"rule = [{steps}]"


@dataclass(frozen=True)
class Played:
    """What comes of acting in one stage alone: N nights, K stages, C counts and, last, never."""

    stages: tuple[float, ...]
    """s after the alert"""
    counts: tuple[int, ...]
    """Rising, and `NEVER` last."""
    when: Array
    """float[N, K, C]: s at which the latch was pulled, inf if never."""
    gain: Array
    """float[N, K, C]: what the night is worth."""
    each: int = 1
    """So many nights, one after the other, are of one world, and stand and fall together."""

    def worth(self, chosen: Whole) -> float:
        """Mean gain of the rule with count ``chosen[k]``, an index, in stage k."""
        return float(self.gains(chosen).mean())

    def gains(self, chosen: Whole) -> Array:
        """float[N]: what that rule makes of each night."""
        rows = np.arange(len(chosen))
        first = np.argmin(self.when[:, rows, chosen], axis=1)
        return np.asarray(self.gain[np.arange(len(first)), first, chosen[first]], float)

    def rule(self, chosen: Whole) -> Rule:
        """The rule of these indices."""
        return Rule.of(self.stages, [self.counts[c] for c in chosen])

    def chosen(self, rule: Rule) -> Whole:
        """Index of the count that a rule of these stages and counts asks for in each stage."""
        asked = [next(step.count for step in reversed(rule.steps) if step.after <= at)
                 for at in self.stages]  # fmt: skip
        return np.array([self.counts.index(count) for count in asked])

    @property
    def with_hindsight(self) -> Array:
        """float[N]: the best of all on each night, for one who knew beforehand."""
        return np.asarray(self.gain.max(axis=(1, 2)), float)


def with_rule(plan: NightPlan, steps: Sequence[tuple[float, float]]) -> NightPlan:
    """The plan with another rule for its one person: (s after the alert, least count)."""
    rule = np.full((1, len(steps), 3), np.inf)
    rule[0, :, :2] = steps
    return plan._replace(rule=rule)


def alone(stages: Sequence[float], k: int, count: int) -> list[tuple[float, float]]:
    """Act in stage ``k`` only, at ``count`` or more."""
    before = [(0.0, float(NEVER))] if stages[k] > 0 else []
    after = [(stages[k + 1], float(NEVER))] if k + 1 < len(stages) else []
    return [*before, (stages[k], float(count)), *after]


def counts_of(group: int) -> tuple[int, ...]:
    """Counts to try in a group of so many, spread evenly if there are more than `MOST_COUNTS`."""
    spread = np.linspace(1, group, min(group, MOST_COUNTS))
    return (*sorted({round(count) for count in spread.tolist()}), NEVER)


def play_stages(
    plan: NightPlan,
    gain: Callable[[Outcomes], Array],
    seed: int,
    nights: int,
    stages: Sequence[float] = STAGES,
    executor: Executor | None = None,
    workers: int | None = None,
    advance: Advance | None = None,
    first: int = SEARCH_FROM,
    counts: Sequence[int] | None = None,
) -> Played:
    """Play every stage and count on the same nights.

    Parameters
    ----------
    plan : NightPlan of one person on a link
    gain : from outcomes to float[nights], what each night is worth
    stages : s after the alert, rising from 0
    advance : called with the number of nights played, piece by piece
    first : number of the first night
    counts : to try, `NEVER` last; those of the plan's group unless given
    """
    counts = tuple(counts or counts_of(plan.group_size))
    shape = nights, len(stages), len(counts)
    when, worth = np.empty(shape), np.empty(shape)

    def play(steps: Sequence[tuple[float, float]]) -> tuple[Array, Array]:
        outcomes = run_chunks(
            with_rule(plan, steps), seed, first, nights, workers, executor=executor
        )
        if advance is not None:
            advance(nights)
        pulled = np.where(np.isfinite(outcomes["release_s"]), outcomes["release_s"], np.inf)
        return pulled, gain(outcomes)

    waits = play([(0.0, float(NEVER))])
    when[:, :, -1], worth[:, :, -1] = (values[:, np.newaxis] for values in waits)
    for k, c in itertools.product(range(len(stages)), range(len(counts) - 1)):
        when[:, k, c], worth[:, k, c] = play(alone(stages, k, counts[c]))
    return Played(tuple(stages), counts, when, worth)


def play_hindsight(
    plan: NightPlan,
    gain: Callable[[Outcomes], Array],
    seed: int,
    nights: int,
    executor: Executor | None = None,
    workers: int | None = None,
    advance: Advance | None = None,
) -> Array:
    """float[nights]: the best that any stage and count comes to on each night from night 0 on.

    Played as the search does, in blocks: what comes of every stage and count is never held for
    more than so many nights.
    """
    best = np.empty(nights)
    for first in range(0, nights, BLOCK):
        count = min(BLOCK, nights - first)
        played = play_stages(
            plan,
            gain,
            seed,
            count,
            executor=executor,
            workers=workers,
            advance=advance,
            first=first,
        )
        best[first : first + count] = played.with_hindsight
    return best


def plays_of(group: int, stages: int = len(STAGES)) -> int:
    """How many times `play_stages` plays all nights."""
    return 1 + stages * (len(counts_of(group)) - 1)


def best_rule(played: Played, errors: float = 0.0) -> Rule:
    """The best rule that asks for fewer as time passes, by the nights played.

    From every constant rule, runs of stages are moved to another count as long as one gains. Ties
    go to waiting: of the rules that are at most ``errors`` standard errors of their difference
    behind the best, night by night, one that asks for as many as any. With 0 only rules that are
    worth the same tie; 1 is the rule of one standard error (Breiman et al. 1984, Classification
    and Regression Trees, section 3.4.3; from memory), for differences that so few nights cannot
    tell from none.
    """
    stages = len(played.stages)
    starts = [np.full(stages, c) for c in range(len(played.counts))]
    climbed = [_climb(played, start) for start in starts]
    best = max(climbed, key=played.worth)
    return played.rule(_waited(played, best, errors))


def _waited(played: Played, best: Whole, errors: float) -> Whole:
    """The rule that asks for most among those that tie with the best, moved to step by step."""
    gains = played.gains(best)
    chosen = best
    while True:
        more = [move for move in _moves(chosen, len(played.counts)) if (move >= chosen).all()]
        for move in sorted(more, key=lambda move: -int(move.sum())):
            lost = gains - played.gains(move)
            if lost.mean() <= _EQUAL + errors * _standard_error(lost, played.each):
                chosen = move
                break
        else:
            return chosen


def _standard_error(values: Array, each: int = 1) -> float:
    """Of their mean; values that belong together in groups of ``each`` count as one a group."""
    means = values.reshape(-1, each).mean(axis=1)
    return float(means.std(ddof=1)) / math.sqrt(len(means)) if len(means) > 1 else 0.0


def _climb(played: Played, chosen: Whole) -> Whole:
    worth = played.worth(chosen)
    while True:
        moves = ((played.worth(move), move) for move in _moves(chosen, len(played.counts)))
        gained, move = max(moves, key=lambda one: one[0], default=(worth, chosen))
        if gained <= worth + _EQUAL:
            return chosen
        worth, chosen = gained, move


def _moves(chosen: Whole, counts: int) -> Iterator[Whole]:
    """Every run of stages moved to every count, if later stages then ask for no more."""
    stages = len(chosen)
    for begin, end in itertools.combinations(range(stages + 1), 2):
        for count in range(counts):
            moved = chosen.copy()
            moved[begin:end] = count
            if (np.diff(moved) <= 0).all() and not np.array_equal(moved, chosen):
                yield moved
