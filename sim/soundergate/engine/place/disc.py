"""Places drawn evenly from a disc, without trigonometry.

Shared by both engines. Metres from the middle of the corral, seen from above.
"""

from __future__ import annotations

from soundergate.engine.compiled.decorators import compiled_as
from soundergate.engine.luck.philox import uniform_pair

TRIES = 16
"""Points of the square around a disc that are tried: all of them miss it once in 5e10 draws."""


@compiled_as("UniTuple(f8, 2)(f8, f8, f8, f8, i8, i8, i8, i8, i8)")
def in_disc(
    x: float, y: float, radius: float, fence: float,
    seed: int, night: int, purpose: int, who: int, k: int,
) -> tuple[float, float]:  # fmt: skip
    """The k-th place for this purpose in the disc round (x, y), and inside the fence's radius.

    By rejection from the square around it; the middle of the disc if none of `TRIES` hits.
    """
    for block in range(TRIES * k, TRIES * (k + 1)):
        u, v = uniform_pair(seed, night, purpose, who, block)
        dx = 2.0 * u - 1.0
        dy = 2.0 * v - 1.0
        px = x + radius * dx
        py = y + radius * dy
        if dx * dx + dy * dy < 1.0 and px * px + py * py <= fence * fence:
            return px, py
    return x, y
