"""The same opening built wider and wider: what it does to mass, load, pull and closing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from math import inf, nan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from soundergate.mechanics import setup
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.model import Array
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.constants import FOOT
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import with_values

if TYPE_CHECKING:
    import pandas as pd

WIDTHS = tuple(feet * FOOT for feet in (3, 4, 5, 6, 7, 8, 9, 10))
"""Widths swept unless told otherwise, m: common practice, no source (3 to 10 ft)."""


@dataclass(frozen=True, eq=False)
class WidthSweep:
    """One entry a width, SI: float[K] each.

    ``width`` m, ``mass`` kg, ``holding_load`` N, ``pull_required`` and ``pull_available`` N at the
    puller (medians; 0 available when an animal pulls), their ratio ``margin`` (NaN for an animal),
    ``release_probability``, ``hang_probability``, ``shut_probability`` (that it stays set,
    releases and does not stick), ``shut_time`` s (inf when the gate jams). ``why``
    says why a width cannot be built, and is empty for the others; such a width releases with
    probability 0, never shuts, and is NaN in all else.
    """

    width: Array
    mass: Array
    holding_load: Array
    pull_required: Array
    pull_available: Array
    margin: Array
    release_probability: Array
    hang_probability: Array
    shut_probability: Array
    shut_time: Array
    why: tuple[str, ...] = ()

    @property
    def table(self) -> pd.DataFrame:
        """One row a width, SI."""
        import pandas as pd

        columns = {f.name: getattr(self, f.name) for f in fields(self)}
        return pd.DataFrame(columns | {"why": self.why or ("",) * len(self.width)})

    def built(self) -> NDArray[np.bool_]:
        """Which widths can be built as the file says."""
        return np.isfinite(self.mass)

    def widest(self, probability: float = 0.9) -> float | None:
        """The widest swept opening (m) up to which every one that can be built shuts at least this
        surely; None when not even the narrowest does."""
        good = (self.shut_probability >= probability) & np.isfinite(self.shut_time)
        width, good = self.width[self.built()], good[self.built()]
        count = len(good) if good.all() else int(np.argmin(good))
        return float(width[count - 1]) if count else None


def sweep_width(
    scenario: Any, widths: Sequence[float] | None = None, opening: int = 0
) -> WidthSweep:
    """Solve one opening of a `Scenario` at each of ``widths`` (m, rising), all else as written.

    A gate whose mass is stated keeps it at every width; one given by materials grows.

    Raises
    ------
    ValueError : no widths, or widths that do not rise.
    ScenarioError : a width that the scenario cannot have.
    """
    chosen = [float(w) for w in (WIDTHS if widths is None else widths)]
    if not chosen or (np.diff(chosen) <= 0.0).any():
        raise ValueError("widths must be given in rising order")
    points = [
        point(with_values(without(scenario), {f"opening.{opening + 1}.width": f"{w!r} m"}), opening)
        for w in chosen
    ]
    solved = [o for o, _ in points]
    same = [f.name for f in fields(WidthSweep) if f.name not in ("width", "shut_time", "why")]
    return WidthSweep(
        width=np.array(chosen),
        shut_time=column(solved, lambda o: o.curve.shut_time, inf),
        why=tuple(why for _, why in points),
        **{name: attribute(solved, name) for name in same},
    )


def point(scenario: Any, opening: int) -> tuple[OpeningSetup | None, str]:
    """One opening of a `Scenario` solved, and ""; or None and why it cannot be built."""
    try:
        return setup.solve(scenario).openings[opening], ""
    except ScenarioError as error:
        return None, error.problem


def column(
    solved: Sequence[OpeningSetup | None], value: Callable[[OpeningSetup], float], missing: float
) -> Array:
    """float[K] of a value an opening, ``missing`` for those that cannot be built."""
    return np.array([missing if o is None else float(value(o)) for o in solved])


def attribute(solved: Sequence[OpeningSetup | None], name: str) -> Array:
    """float[K] of an attribute of `OpeningSetup`; what cannot be built is never released."""
    missing = 0.0 if name in ("release_probability", "shut_probability") else nan
    return column(solved, lambda o: getattr(o, name), missing)
