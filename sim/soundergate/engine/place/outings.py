"""Outings of a feeding animal: what it does, now and then, while it keeps its place at the bait.

Shared by both engines. An outing goes straight to some place and straight back. They are a renewal
process of the animal's own draws: the next one of a stay begins a pause after the last has ended,
so anyone can say when and where, ahead or afterwards, without the night knowing anything of it. A
point of an outing is told by its progress, 0 to 1 on the way there and 1 to 2 on the way back.
"""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import compiled_as
from soundergate.engine.luck.draws import sample_row, sample_with
from soundergate.engine.luck.philox import uniform_pair
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.ways import distance
from soundergate.engine.plan import Floats

MOST = 4096
"""Outings of one stay, after which an animal keeps to its place."""
LOOK_AHEAD = 6
"""Outings that are looked through together for a line on their ways; if none is there, one looks
again when the next begins. Most animals have left, or met a line, before many more."""


@compiled_as("UniTuple(f8, 2)(f8[:, ::1], i8, i8, i8, i8, i8)")
def pause(
    times: Floats, seed: int, night: int, who: int, stay: int, number: int
) -> tuple[float, float]:
    """Seconds that animal ``who`` feeds before outing ``number`` of a stay, inf from `MOST` on; and
    the number in (0, 1) that says how far it may go.

    ``times`` is the table of `NightPlan.all_times`.
    """
    if number >= MOST:
        return math.inf, 1.0
    count = MOST * stay + number
    u, far = uniform_pair(seed, night, k.D_OUTING, who, count)
    kind = int(times[k.T_OUTING, 2])
    a, b = times[k.T_OUTING, 0], times[k.T_OUTING, 1]
    return sample_with(u, kind, a, b, seed, night, k.D_OUTING, who, count), far


@compiled_as("UniTuple(f8, 3)(f8, f8[:, ::1], f8, f8, f8, f8, f8, f8, i8, i8, i8, i8, i8)")
def aim(
    far: float, times: Floats, share: float, reach: float, fence: float, speed: float,
    x: float, y: float, seed: int, night: int, who: int, stay: int, number: int,
) -> tuple[float, float, float]:  # fmt: skip
    """Where outing ``number`` of a stay goes from the place (x, y), and the seconds of one way.

    Anywhere within the radius ``fence`` if ``far`` is below ``share``, else within ``reach`` m.
    """
    count = MOST * stay + number
    if far < share:
        tx, ty = in_disc(0.0, 0.0, fence, fence, seed, night, k.D_AIM, who, count)
    else:
        tx, ty = in_disc(x, y, reach, fence, seed, night, k.D_AIM, who, count)
    if times[k.T_TRAVEL, 2] >= 0.0:
        return tx, ty, sample_row(times, k.T_TRAVEL, seed, night, k.D_OUTING_WAY, who, count)
    return tx, ty, distance(x, y, tx, ty) / speed
