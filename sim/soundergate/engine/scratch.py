"""Working memory of the batch kernel, laid out once a call so that no night allocates anything."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine import kernel_parts as p
from soundergate.engine.early import Early, early_for
from soundergate.engine.plan import Floats, Ints, NightPlan

SINGLE_TIMERS = 5
"""Visit end, calm, false release, trap check, next arrival."""
TIMERS_A_TRIGGER = 5
"""Alert, look, refresh, command, dwell."""
TIMERS_AN_OPENING = 3
"""Moving, shutting, prop."""


class Agenda(NamedTuple):
    """What is due when. A slot is one animal, clock or timer; it has at most one coming event.

    The first ``coming[0]`` entries of ``due``, ``priority`` and ``slot`` are the coming events in
    no order; one whose time is inf is struck off when next met.
    """

    due: Floats
    priority: Ints
    slot: Ints
    place: Ints
    """int[S]: where a slot's event stands, or -1."""
    coming: Ints
    """int[1]: how many."""


class Scratch(NamedTuple):
    """N animals, Q clocks, O openings, T triggers; columns as in `kernel_parts`."""

    agenda: Agenda
    early: Early
    animals: Ints
    animal_floats: Floats
    gates: Ints
    gate_floats: Floats
    queue: Ints
    width: Ints
    triggers: Ints
    began: Floats
    entry_at: Floats
    leave_at: Floats
    roam_at: Floats
    t0: Floats
    h0: Floats
    speed: Floats
    head_at: Floats
    head_who: Ints
    stir: Ints
    """int[Q + 1]: clocks whose head has changed, and last whether any has."""
    arrives_at: Floats
    arrives: Ints
    departures: Floats
    rule: Floats
    """float[T, K, 2]: a person's rule for tonight's group."""
    sizes: Ints
    came: Ints
    notes: Floats
    """float[3]: when the latch was pulled, when a gate moved, whether the pull was final."""


def scratch_for(plan: NightPlan) -> Scratch:
    """Memory for nights of this plan; not shared between threads."""
    n, o, t = plan.group_size, len(plan.opening), len(plan.trigger)
    clocks = 3 * len(plan.entry_speed) + 1 + t
    slots = 2 * n + clocks + SINGLE_TIMERS + TIMERS_A_TRIGGER * t + TIMERS_AN_OPENING * o
    return Scratch(
        agenda=Agenda(np.zeros(slots), _ints(slots), _ints(slots), _ints(slots), _ints(1)),
        early=early_for(n),
        animals=_ints(n, p.ANIMAL_INTS),
        animal_floats=np.zeros((n, p.ANIMAL_FLOATS)),
        gates=_ints(o, p.OPENING_INTS),
        gate_floats=np.zeros((o, p.OPENING_FLOATS)),
        queue=_ints(o, n),
        width=_ints(o),
        triggers=_ints(t, p.TRIGGER_INTS),
        began=np.zeros(t),
        entry_at=np.zeros(n),
        leave_at=np.zeros(n),
        roam_at=np.zeros(n),
        t0=np.zeros(clocks),
        h0=np.zeros(clocks),
        speed=np.zeros(clocks),
        head_at=np.zeros(clocks),
        head_who=_ints(clocks),
        stir=_ints(clocks + 1),
        arrives_at=np.zeros(n),
        arrives=_ints(n),
        rule=np.zeros((t, plan.rule.shape[1], 2)),
        sizes=_ints(len(plan.size_cdf)),
        came=_ints(len(plan.size_cdf)),
        departures=np.zeros(k.DEPARTURES_KEPT),
        notes=np.zeros(3),
    )


def _ints(*shape: int) -> Ints:
    return np.zeros(shape, np.int64)
