"""The night plan: everything that an engine reads, as flat arrays. No units, no TOML, no plots.

`NightPlan` is one type with one set of array types whatever the scenario, so the batch kernel is
compiled once. Sizes: N animals, C classes present, K tempos, O openings, T triggers, L bait levels,
D departures counted, G points of a closing curve, R rows of durations.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class NightPlan(NamedTuple):
    """One night's givens. Times in s, lengths in m, forces in N, energies in J."""

    class_of: Ints
    """int[N]: class of each animal, an index into the arrays by class."""
    party_of: Ints
    """int[N]: the subgroup that an animal arrives with."""
    sounder_of: Ints
    """int[N]: the sounder that an animal belongs to; each comes in its own time."""
    turn: Ints
    """int[N]: an animal is there on a night when this is below the size of its sounder."""
    size_cdf: Floats
    """float[S, M]: P(size <= n) of each sounder on a night."""
    tempo_of: Ints
    """int[N]: which set of clocks an animal lives by; classes with equal speeds share one."""
    small: Ints
    """int[C]: 1 for a class that may slip past a blocked head of the queue (piglets)."""
    leads: Ints
    """int[C]: 1 for a class that the young follow (sows)."""
    mass: Floats
    """float[C, 2]: ln of the median mass in kg, and its sd."""
    behaviour: Floats
    """float[B]: numbers of bodies and behaviour, columns B_* of `codes`."""
    duration_kind: Ints
    """int[R]: kind of each distribution of time, rows T_* of `codes`; -1 means computed."""
    duration: Floats
    """float[R, 2]: its two parameters."""
    entry_speed: Floats
    """float[K, 2, N + 1, L]: speed of the entry clock by lead, count inside and bait level."""
    leave_speed: Floats
    """float[K, N + 1, L, D]: speed of the leaving clock, also by recent departures."""
    roam_speed: Floats
    """float[K, N + 1]: speed of pressing on beyond the bait, by the number feeding."""
    bucket_speed: Floats
    """float[T, N + 1, L]: speed of disturbing a container, by the number feeding and level."""
    bait_marks: Floats
    """float[4]: micrograms eaten when 75, 50, 25 and 0 % are left."""
    opening: Floats
    """float[O, 20]: numbers of each opening, columns O_* of `codes`."""
    delay_kind: Ints
    """int[O]: kind of the time from trigger to gate moving."""
    delay: Floats
    """float[O, 2]: its parameters."""
    close_time: Floats
    """float[O, G]: s after moving at which the clearance has fallen to j / (G - 1) of full."""
    close_energy: Floats
    """float[O, G]: J that the gate carries at that clearance."""
    rest_time: Floats
    """float[O, G, G]: the same, let go at rest from clearance i / (G - 1)."""
    rest_energy: Floats
    """float[O, G, G]"""
    trigger_kind: Ints
    """int[T]: kind of each trigger."""
    trigger: Floats
    """float[T, 13]: its numbers, columns by kind in `codes`."""
    trigger_duration_kind: Ints
    """int[T, 4]"""
    trigger_duration: Floats
    """float[T, 4, 2]: its distributions, rows X_* of `codes`."""
    rule: Floats
    """float[T, K, 3]: a person's rule, s since watching began, least count, share of the group;
    the lesser of the two is needed; inf past its end."""
    seen_cdf: Floats
    """float[T, N + 1, M]: P(counted <= m | n inside) for a person's count."""
    combine_all: Ints
    """int[1]: 1 if all triggers must have fired, 0 if the first one acts."""

    def all_times(self) -> Floats:
        """float[R + 4 T, 3]: parameters and kind of all distributions of time in one table, rows
        T_* of `codes` and then, trigger by trigger, X_*."""
        kinds = np.concatenate([self.duration_kind, self.trigger_duration_kind.ravel()])
        values = np.concatenate([self.duration, self.trigger_duration.reshape(-1, 2)])
        return np.column_stack([values, kinds])

    @property
    def group_size(self) -> int:
        """Animals laid out: the largest number that can come."""
        return int(self.class_of.shape[0])
