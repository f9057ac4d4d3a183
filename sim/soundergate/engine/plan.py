"""The night plan: everything that an engine reads, as flat arrays. No units, no TOML, no plots.

`NightPlan` is one type with one set of array types whatever the scenario, so the batch kernel is
compiled once. Sizes: N animals, C classes present, K tempos, O openings, T triggers, L bait levels,
D departures counted, G points of a closing curve, R rows of durations.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import codes as k
from soundergate.engine.structured import Records

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Where something scatters like a log-normal, mu is the ln of its median and sigma its spread.


class Behaviour(NamedTuple):
    """Numbers of bodies and behaviour. Lengths in m, speeds in m/s, times in s, shares 0 to 1."""

    shoulder_coefficient: float
    """Shoulder width of an animal of 1 kg; so with back height and body length."""
    back_coefficient: float
    length_coefficient: float
    exponent: float
    """Lengths grow with mass to this power."""
    scatter: float
    """Sigma of one animal's lengths."""
    duck: float
    """Height at which an animal passes, as a share of its back height."""
    side_clearance: float
    """Width that an animal takes up, as a multiple of its shoulders; then of one that bolts."""
    bolt_clearance: float
    walk_speed: float
    cross_speed: float
    bolt_speed: float
    shy_share: float
    return_share: float
    contagion_window: float
    bolt_share: float
    turn_back_share: float
    out_share: float
    check: float
    """When the trap is looked at."""
    intake: float
    """Bait in micrograms a second for each kg of an animal."""
    fence: float
    """Radius of the corral."""
    outing_share: float
    """Outings from the bait that may go anywhere inside; the others stay within the reach."""
    outing_reach: float
    nearest_share: float
    """Animals that leave by the nearest opening, and not by the one they came in by."""
    tightness: float
    """Speed of entering where a body touches the sides of the opening, as a share."""
    follow_share: float
    """Tries at the opening by which a companion went in last."""
    panel_height: float
    reach_mu: float
    """How high animals climb."""
    reach_sigma: float
    slip_share: float
    open_entry: float
    """Times that one which comes back after the release goes in where an opening stands open."""


class Opening(NamedTuple):
    """One opening, its gate and its latch. Lengths in m, forces in N, times in s; flags 0 or 1."""

    width: float
    height: float
    depth: float
    x: float
    """Its middle on the fence, from the middle of the corral, seen from above; so with y."""
    y: float
    clearance: float
    """Height, or gap, of the open gate."""
    by_gap: int
    """Whether it closes a gap from the side, and no height."""
    hang_probability: float
    choice: float
    """P(the way of a subgroup leads to this opening or to one before it)."""
    exit_force: float
    """The push that opens it from inside when shut and not locked; inf if none does."""
    lock_fails: float
    """Nights on which nothing locks it; 1 if it has no lock."""
    need_mu: float
    """Pull that the latch needs, beyond what is steady; mu is inf if nothing frees it."""
    need_sigma: float
    need_steady: float
    pull_mu: float
    """Pull that the latch gets, beyond what is steady."""
    pull_sigma: float
    pull_steady: float
    own_pull: int
    """Whether something other than an animal pulls."""
    slips_below: float
    """Normal quantile of the need below which the latch lets go by itself."""
    trip_travel: float
    """How far the latch is drawn until it lets go."""
    delay_kind: int
    """Kind and parameters of the time from the trigger to the gate's moving."""
    delay_a: float
    delay_b: float
    one_way: int = 0
    """Whether animals push in and none gets out; what follows is of such an entrance alone."""
    push_force: float = 0.0
    push_sigma: float = 0.0
    willing_share: float = 0.0
    late_share: float = 0.0


class Patch(NamedTuple):
    """Ground with bait on it. Metres from the middle of the corral, seen from above."""

    x: float
    y: float
    radius: float
    choice: float
    """P(an animal looks for a place in this patch or in one before it)."""
    room: int
    """Animals that find a place there."""


class Trigger(NamedTuple):
    """One trigger; what its kind has no use for is 0. Lengths in m, forces in N, times in s."""

    kind: int
    line_height: float = 0.0
    line_ax: float = 0.0
    """Its two ends, from the middle of the corral, seen from above."""
    line_ay: float = 0.0
    line_bx: float = 0.0
    line_by: float = 0.0
    line_span: float = 0.0
    line_tension: float = 0.0
    line_slack: float = 0.0
    line_stiffness: float = 0.0
    line_turn: float = 0.0
    """Angle through which it bends on its way to the latch, in rad."""
    friction_mu: float = 0.0
    """Friction in those bends."""
    friction_sigma: float = 0.0
    break_force: float = 0.0
    switch_force: float = 0.0
    """Below 0 for a line that pulls the latch itself."""
    switch_travel: float = 0.0
    container_pull: tuple[float, ...] = (0.0,) * k.BAIT_LEVELS
    """Pull of a falling container by bait level; below 0 if it works a switch."""
    count_needed: float = 0.0
    miss_share: float = 0.0
    double_share: float = 0.0
    count_dwell: float = 0.0
    clear_opening: int = 0
    """Whether a person waits until nobody stands in an opening."""
    awake_share: float = 0.0
    frame_interval: float = 0.0
    view_delay: float = 0.0
    dropout_share: float = 0.0
    retry: float = 0.0
    refresh: float = 0.0
    exact_count: int = 0


SHAPES = {"container_pull": (k.BAIT_LEVELS,)}
"""Of fields that are arrays."""


class NightPlan(NamedTuple):
    """What one night is played from. Times in s, lengths in m, forces in N, energies in J."""

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
    behaviour: Records
    """`Behaviour`, one record."""
    duration_kind: Ints
    """int[R]: kind of each distribution of time, rows T_* of `codes`; -1 means computed."""
    duration: Floats
    """float[R, 2]: its two parameters."""
    entry_speed: Floats
    """float[K, 2, N + 1, L]: speed of the entry clock by lead, count inside and bait level."""
    leave_speed: Floats
    """float[K, N + 1, L, D]: speed of the leaving clock, also by recent departures."""
    bucket_speed: Floats
    """float[T, N + 1, L]: speed of disturbing a container, by the number feeding and level."""
    bait_marks: Floats
    """float[4]: micrograms eaten when 75, 50, 25 and 0 % are left."""
    patches: Records
    """`Patch`, P records."""
    openings: Records
    """`Opening`, O records."""
    close_time: Floats
    """float[O, G]: s after moving at which the clearance has fallen to j / (G - 1) of full."""
    close_energy: Floats
    """float[O, G]: J that the gate carries at that clearance."""
    rest_time: Floats
    """float[O, G, G]: the same, let go at rest from clearance i / (G - 1)."""
    rest_energy: Floats
    """float[O, G, G]"""
    triggers: Records
    """`Trigger`, T records."""
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
