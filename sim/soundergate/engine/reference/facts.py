"""The night plan as plain Python lists, for an engine that is written to be read."""

from __future__ import annotations

from collections.abc import Sequence

from soundergate.engine.luck.draws import micrometres
from soundergate.engine.plan import Behaviour, Floats, Ints, NightPlan, Opening, Patch, Trigger
from soundergate.engine.reference.person_rule import PersonRule


class Facts:
    """A `NightPlan` unpacked once: same names, lists and named tuples for arrays.

    A ``person_rule`` in Python, if there is one, stands in place of the plan's.
    """

    def __init__(self, plan: NightPlan, person_rule: PersonRule | None = None) -> None:
        self.plan, self.person_rule = plan, person_rule
        self.animals = plan.group_size
        self.tempos = len(plan.entry_speed)
        self.tempo_of = plan.tempo_of.tolist()
        self.o = len(plan.openings)
        self.departures = plan.leave_speed.shape[3]
        self.sounders = len(plan.size_cdf)
        self.sounder_of = plan.sounder_of.tolist()
        self.turn = plan.turn.tolist()
        self.leads = plan.leads.tolist()
        self.class_of = plan.class_of.tolist()
        self.party_of = plan.party_of.tolist()
        self.small = plan.small.tolist()
        self.mass = plan.mass.tolist()
        self.behaviour = Behaviour(*plan.behaviour.tolist()[0])
        self.times = plan.all_times()
        self.durations = _distributions(plan.duration_kind, plan.duration)
        self.entry_speed = plan.entry_speed.tolist()
        self.leave_speed = plan.leave_speed.tolist()
        self.bucket_speed = plan.bucket_speed.tolist()
        self.bait_marks = plan.bait_marks.tolist()
        self.patches = [Patch(*row) for row in plan.patches.tolist()]
        self.openings = [Opening(*row) for row in plan.openings.tolist()]
        self.late_share = max(row.late_share for row in self.openings)
        self.width = [micrometres(row.width) for row in self.openings]
        self.triggers = [Trigger(*row) for row in plan.triggers.tolist()]
        self.trigger_durations = [
            _distributions(kinds, values)
            for kinds, values in zip(plan.trigger_duration_kind, plan.trigger_duration, strict=True)
        ]
        self.seen_cdf = plan.seen_cdf.tolist()
        self.all_needed = bool(plan.combine_all[0])


def picked(rows: Sequence[Opening | Patch], u: float) -> int:
    """Which of some openings or patches a uniform number picks, by their cumulative choice."""
    return next((row for row, one in enumerate(rows[:-1]) if u < one.choice), len(rows) - 1)


def _distributions(kinds: Ints, values: Floats) -> list[tuple[int, float, float]]:
    return [(int(c), float(a), float(b)) for c, (a, b) in zip(kinds, values, strict=True)]
