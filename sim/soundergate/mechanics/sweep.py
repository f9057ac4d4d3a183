"""The same opening built wider and wider: what it does to mass, load, pull and closing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from soundergate.mechanics import setup
from soundergate.mechanics.materials import FOOT
from soundergate.mechanics.model import Array
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
    ``release_probability``, ``hang_probability``, ``shut_time`` s (inf when the gate jams).
    """

    width: Array
    mass: Array
    holding_load: Array
    pull_required: Array
    pull_available: Array
    margin: Array
    release_probability: Array
    hang_probability: Array
    shut_time: Array

    @property
    def table(self) -> pd.DataFrame:
        """One row a width, SI."""
        import pandas as pd

        return pd.DataFrame({f.name: getattr(self, f.name) for f in fields(self)})

    def widest(self, probability: float = 0.9) -> float | None:
        """The widest swept opening (m) up to which every one releases at least this surely and
        shuts; None when not even the narrowest does."""
        good = (self.release_probability >= probability) & np.isfinite(self.shut_time)
        count = len(good) if good.all() else int(np.argmin(good))
        return float(self.width[count - 1]) if count else None


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
    solved = [
        setup.solve(with_values(scenario, {f"opening.{opening}.width": f"{w!r} m"})).openings[
            opening
        ]
        for w in chosen
    ]
    same = [f.name for f in fields(WidthSweep) if f.name != "shut_time"]
    columns = {name: np.array([float(getattr(o, name)) for o in solved]) for name in same}
    return WidthSweep(**columns, shut_time=np.array([o.curve.shut_time for o in solved]))
