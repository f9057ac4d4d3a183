"""Campaigns played night after night: the same animals come again, fewer and warier.

A campaign trains a group for some nights, sets the trap, and goes on until the group is caught, has
moved away or is given up: after some set nights in a row on which nobody new was caught or seen
inside, or once none are left but such as will not enter. A night on which the group did not come
is one without anybody new. Its first night is drawn like a night of `run`; after that every animal
keeps its body, its strength and its readiness to enter (`engine.carried`), and brings what it met:

- caught animals are taken out and come no more;
- of those that were inside when the gate was let go and got away, a share enters no more; likewise,
  a smaller share, of those that saw it from outside;
- after a closure that leaves animals which know of it, the group moves away with some chance, and
  otherwise keeps off for some nights;
- a night on which nothing frightened them counts as one more night of training.

Campaign c plays nights ``NIGHTS_APART * c`` and on of the run with its seed, whatever the setup, so
setups meet the same luck, and each campaign is the same however many are played.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine import play_carried
from soundergate.engine.carried import Carried, carried
from soundergate.engine.compiled.decorators import call
from soundergate.engine.luck.philox import uniforms_by_night
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.engine.work.chunks import Chunk, WrongNights
from soundergate.seasons.campaigns.calendar import Calendar
from soundergate.seasons.campaigns.outcomes import Bools, Campaigns, Floats, Ints
from soundergate.seasons.campaigns.rules import Rules

NIGHTS_APART = 512
"""Numbers of nights from one campaign to the next; no campaign sets a trap more often than that."""


class Course(NamedTuple):
    """C campaigns, and how far each was night by night."""

    first: int
    campaigns: Campaigns
    caught_by: Ints
    """int64[C, S]: animals caught by the end of each set night."""

    def part(self, most: int) -> Course:
        """The first campaigns of these, ``most`` at most."""
        columns: dict[str, Any] = {n: v[:most] for n, v in self.campaigns.columns().items()}
        return Course(self.first, Campaigns(**columns), self.caught_by[:most])


@dataclass(frozen=True)
class CampaignJob:
    """All that is needed to play any campaigns of a setup; a `Work` of `engine.work.executors`.

    ``plans[j]`` is the night after j nights of use of the trap that nothing disturbed, on top of
    the training: one for each set night.
    """

    plans: tuple[NightPlan, ...]
    rules: Rules
    seed: int
    engine: str = "batch"

    def __call__(self, chunk: Chunk) -> Course:
        under_way = _UnderWay(self, chunk)
        for night in range(self.rules.set_nights):
            under_way.set_night(night)
        return under_way.course()

    def check(self, chunk: Chunk, result: Course) -> None:
        """Raises WrongNights if the campaigns are others than those asked for."""
        if (result.first, len(result.campaigns)) != (chunk.first, chunk.count):
            raise WrongNights(f"asked for {chunk.count} campaigns from {chunk.first}, got others")


class _UnderWay:
    """The campaigns of a chunk between two nights."""

    def __init__(self, job: CampaignJob, chunk: Chunk) -> None:
        self.job, self.first, self.count = job, chunk.first, chunk.count
        n, c = job.plans[0].group_size, chunk.count
        self.number = NIGHTS_APART * (chunk.first + np.arange(c, dtype=np.int64))
        self.before = np.full((c, n), k.AS_DRAWN, np.int64)
        self.goes_on = np.ones(c, bool)
        self.keeps_off = np.zeros(c, bool)
        self.used_to = np.zeros(c, np.int64)
        self.seen = np.zeros((c, n), bool)
        self.nobody_new = np.zeros(c, np.int64)
        self.calendar = Calendar(job.rules, c)
        self.caught_by = np.zeros((c, job.rules.set_nights), np.int64)
        whole = ("group_size", "caught", "set_nights", "idle_nights", "quiet_nights",
                 "captures", "failed_closures", "struck")  # fmt: skip
        self.sums: dict[str, Ints] = {name: np.zeros(c, np.int64) for name in whole}
        self.watched_min: Floats = np.zeros(c)
        self.moved_away: Bools = np.zeros(c, bool)
        self.gave_up: Bools = np.zeros(c, bool)

    def set_night(self, night: int) -> None:
        """Set the trap once more wherever there is still something to catch."""
        rests = self.goes_on & self.keeps_off
        self.sums["quiet_nights"][rests] += self.job.rules.quiet_nights
        self.calendar.before_night(self.goes_on, rests)
        self.keeps_off[:] = False
        tonight = np.where(self.goes_on, self.used_to, -1)  # which the night itself changes
        for used_to in np.unique(tonight[tonight >= 0]):
            rows = np.flatnonzero(tonight == used_to)
            self._play(night, rows, self.job.plans[used_to])
        self.caught_by[:, night] = self.sums["caught"]

    def _play(self, night: int, rows: Ints, plan: NightPlan) -> None:
        number = self.number[rows]
        nights = carried(plan, number + night, number, self.before[rows])
        outcomes = play_carried(plan, self.job.seed, nights, self.job.engine)
        if night == 0:
            self.sums["group_size"][rows] = outcomes["group_size"]
        took = _Took(nights, self.job)
        failed: Bools = np.logical_and(took.knew, took.some_left)
        self._count(rows, outcomes, failed)
        self._learn(rows, nights, took, failed)
        self._give_up(rows, took)

    def _count(self, rows: Ints, outcomes: Outcomes, failed: Bools) -> None:
        some = outcomes["caught"] > 0
        self.sums["idle_nights"][rows[some]] = -1
        for name, values in (
            ("caught", outcomes["caught"]),
            ("struck", outcomes["struck"]),
            ("set_nights", 1),
            ("idle_nights", 1),
            ("captures", some),
            ("failed_closures", failed),
        ):
            self.sums[name][rows] += values
        self.watched_min[rows] += outcomes["operator_min"]
        self.calendar.after_night(rows, outcomes["released"] | some | failed)

    def _learn(self, rows: Ints, nights: Carried, took: _Took, failed: Bools) -> None:
        """What animals take from the night, and whether there are any to go on for."""
        self.before[rows] = took.next_time()
        leaves = failed & (self._chance(nights, k.D_MOVE, 1)[:, 0] < self.job.rules.move_away)
        self.moved_away[rows] = leaves
        self.goes_on[rows] = took.some_left & ~leaves
        self.keeps_off[rows] = failed
        self.used_to[rows] += ~took.knew

    def _give_up(self, rows: Ints, took: _Took) -> None:
        """Whether those who run the trap go on."""
        new = took.caught.any(axis=1) | (took.inside & ~self.seen[rows]).any(axis=1)
        self.seen[rows] |= took.inside
        self.nobody_new[rows] = np.where(new, 0, self.nobody_new[rows] + 1)
        enough = self.nobody_new[rows] >= self.job.rules.give_up
        self.gave_up[rows] = self.goes_on[rows] & (enough | ~took.some_willing)
        self.goes_on[rows] &= ~self.gave_up[rows]

    def _chance(self, nights: Carried, purpose: int, whos: int) -> Floats:
        return chances(self.job.seed, nights.number, purpose, whos)

    def course(self) -> Course:
        """All that is known at the end."""
        rules, sums = self.job.rules, self.sums
        pre_bait = np.full(self.count, rules.pre_bait_nights, np.int64)
        campaigns = Campaigns(
            **sums,
            wary=(self.before == k.WARY).sum(axis=1),
            nights=pre_bait + sums["set_nights"] + sums["quiet_nights"],
            pre_bait_nights=pre_bait,
            **self.calendar.columns(),
            watched_min=self.watched_min,
            moved_away=self.moved_away,
            gave_up=self.gave_up,
            alarm=np.full(self.count, rules.alarm),
        )
        return Course(self.first, campaigns, self.caught_by)


class _Took:
    """What the animals of each campaign take from one night; arrays bool[C, N] and bool[C]."""

    def __init__(self, nights: Carried, job: CampaignJob) -> None:
        def was(flag: int) -> Bools:
            return (nights.after & flag) != 0

        rules = job.rules
        self.caught, self.inside = was(k.WAS_CAUGHT), was(k.WAS_INSIDE)
        self.left = was(k.WAS_THERE) & ~self.caught
        escaped = self.left & was(k.WAS_HELD)
        onlookers = self.left & was(k.WAS_WITNESS) & ~was(k.WAS_HELD)
        u = chances(job.seed, nights.number, k.D_LEARN, self.left.shape[1])
        share = np.where(escaped, rules.escaped_wary, np.where(onlookers, rules.onlooker_wary, 0.0))
        self.wary = self.left & (was(k.WAS_WARY) | (u < share))
        self.knew = (escaped | onlookers).any(axis=1)
        self.some_left = self.left.any(axis=1)
        self.some_willing = (self.left & ~self.wary).any(axis=1)

    def next_time(self) -> Ints:
        """Codes that the animals bring to the next night, int64[C, N]."""
        return np.where(self.wary, k.WARY, np.where(self.left, k.WILLING, k.ABSENT))


def chances(seed: int, numbers: Ints, purpose: int, whos: int) -> Floats:
    """Uniform numbers by night, float64[C, whos]."""
    u = np.empty((len(numbers), whos))
    call(uniforms_by_night, np.int64(seed), numbers, np.int64(purpose), u)
    return u


def together(courses: Iterable[Course]) -> Course:
    """Courses one after the other, in order."""
    parts = list(courses)
    columns = [part.campaigns.columns() for part in parts]
    joined = {name: np.concatenate([c[name] for c in columns]) for name in columns[0]}
    return Course(
        parts[0].first,
        Campaigns(**joined),
        np.concatenate([part.caught_by for part in parts]),
    )
