"""Motions followed by SciPy within a bound of steps: too fine to follow is said, never hung.

A light plate in a gale, or a piston as wide as a barrel under hardly any mass, swings a thousand
times while it moves once; the solver would follow each swing. How often it may ask for the slope is
bounded by number, never by time, so that every machine gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

MOST = 30_000
"""Times that a solver may ask for the slope of one motion; ordinary gates and pulls take 100 to
3,000."""


class TooFine(ValueError):
    """A motion that cannot be followed within the bound."""


def integrate(
    slope: Callable[[float, Any], Any],
    span: tuple[float, float],
    state: Sequence[float] | Any,
    *,
    what: str,
    **keywords: Any,
) -> Any:
    """`scipy.integrate.solve_ivp` with DOP853, asking for ``slope`` at most `MOST` times.

    Raises
    ------
    TooFine : the bound is reached; ``what`` moves is named.
    """
    from scipy.integrate import solve_ivp

    asked = 0

    def counted(t: float, y: Any) -> Any:
        nonlocal asked
        asked += 1
        if asked > MOST:
            raise TooFine(
                f"{what} moves too finely to be followed ({MOST} steps were not enough): something "
                "is far too light, too stiff or too large for the rest"
            )
        return slope(t, y)

    return solve_ivp(counted, span, state, method="DOP853", **keywords)
