"""What a lighter pull costs in time: holding load against closing, as one setting is varied.

A top-hinged gate set nearer upright and a drop gate with a heavier counterweight both ask less of
latch and puller, and both shut later. Each row here is the same scenario, solved at one setting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import degrees, inf, nan, radians
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from soundergate.mechanics import setup
from soundergate.mechanics.advice import sweep
from soundergate.mechanics.advice.pairs import GATES, gate_table, juvenile_clearance
from soundergate.mechanics.advice.unmeasured import without
from soundergate.mechanics.model import Array
from soundergate.mechanics.opening import OpeningSetup
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import with_values

if TYPE_CHECKING:
    import pandas as pd

ANGLES = tuple(radians(a) for a in (60, 75, 90, 105, 120, 135, 150, 160, 165, 170, 173, 175))
"""Set angles tried unless told otherwise, rad from hanging shut."""

SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
"""Counterweights tried unless told otherwise, as shares of the gate's mass."""


SURE, STICKS = 0.9, 1.0 / 3.0
"""Least share of tries in which a setting that can be relied on shuts; what sticks open in more
than the second share of releases counts as not shutting."""


@dataclass(frozen=True, eq=False)
class TradeOff:
    """One entry a setting, SI: float[K] each.

    ``value`` of the setting (rad or kg), ``written`` its value in the file (None when the file's
    gate is of another kind); ``holding_load`` N; ``pull_required`` N at the puller (median);
    ``release_probability``; ``hang_probability``; ``shut_probability`` (that it stays set, releases
    and does not stick); ``juvenile_time`` s from the gate moving until a median juvenile no longer
    gets through, and ``shut_time`` s until shut (both inf when the gate jams); ``energy`` J and
    ``speed`` m/s of the edge when shut; ``set_weight`` N. ``why`` says why a setting cannot be
    built, and is empty for the others; such a setting is never released, never shuts, and is NaN
    in all else.
    """

    setting: str
    written: float | None
    value: Array
    holding_load: Array
    pull_required: Array
    release_probability: Array
    hang_probability: Array
    shut_probability: Array
    juvenile_time: Array
    shut_time: Array
    energy: Array
    speed: Array
    set_weight: Array
    why: tuple[str, ...] = ()

    @property
    def table(self) -> pd.DataFrame:
        """One row a setting, SI."""
        import pandas as pd

        names = [f.name for f in fields(self) if f.name not in ("setting", "written")]
        columns = {name: getattr(self, name) for name in names}
        return pd.DataFrame(columns | {"why": self.why or ("",) * len(self.value)})

    def shuts(self) -> NDArray[np.bool_]:
        """Which settings shut, and stick open in no more than a third of releases."""
        return np.isfinite(self.shut_time) & (self.hang_probability <= STICKS)

    def relied_on(self) -> NDArray[np.bool_]:
        """Which settings stay set, release and shut surely enough to be relied on."""
        return self.shuts() & (self.shut_probability >= SURE)

    def ends(self) -> tuple[int, int] | None:
        """Index of the setting with the greatest load and of that with the least, among those
        that shut; None when none does."""
        shutting = np.flatnonzero(self.shuts())
        if not len(shutting):
            return None
        load = self.holding_load[shutting]
        return int(shutting[np.argmax(load)]), int(shutting[np.argmin(load)])

    def own(self) -> int | None:
        """Index of the file's own setting; None when its gate is of another kind."""
        if self.written is None:
            return None
        return int(np.argmin(np.abs(self.value - self.written)))


def both_ways(scenario: Any, opening: int = 0) -> dict[str, TradeOff]:
    """One opening of a `Scenario` with a top-hinged and with a drop gate, each over its setting.

    The two are keyed "top-hinged" and "drop". A gate of another kind than the file's keeps its
    materials and takes the defaults for the rest; the file's own setting is among those tried.

    Raises
    ------
    ScenarioError : the opening is a one-way entrance, or such a gate cannot be built.
    """
    if scenario.opening[opening].latch is None:
        raise ScenarioError(
            "a one-way entrance holds no gate up",
            file=scenario.source,
            key=f"opening.{opening + 1}.gate.kind",
            value=scenario.opening[opening].gate.kind,
        )
    return {
        "top-hinged": _any_angle(scenario, opening),
        "drop": _any_counterweight(scenario, opening),
    }


def _any_angle(scenario: Any, opening: int) -> TradeOff:
    changed = _as_kind(scenario, opening, "top-hinged")
    own = changed.opening[opening].gate
    tried = [angle for angle in ANGLES if angle <= own.stop + 1e-9]
    swept = over_set_angle(changed, _with_own(tried, own.set_angle), opening)
    is_own = scenario.opening[opening].gate.kind == "top-hinged"
    return replace(swept, written=own.set_angle if is_own else None)


def _any_counterweight(scenario: Any, opening: int) -> TradeOff:
    changed = _as_kind(scenario, opening, "drop")
    own = changed.opening[opening].gate.counterweight
    mass = setup.solve(changed).openings[opening].mass
    swept = over_counterweight(changed, _with_own([s * mass for s in SHARES], own), opening)
    is_own = scenario.opening[opening].gate.kind == "drop"
    return replace(swept, written=own if is_own else None)


def _as_kind(scenario: Any, opening: int, kind: str) -> Any:
    written = scenario.raw["opening"][opening]["gate"]
    table = {f"opening.{opening + 1}.gate": gate_table(written, GATES[kind])}
    return with_values(without(scenario), table)


def _with_own(tried: list[float], own: float) -> list[float]:
    """The settings in rising order with the file's own among them, in place of one like it."""
    return sorted([own, *(value for value in tried if abs(value - own) > 1e-6)])


def over_set_angle(
    scenario: Any, angles: Sequence[float] | None = None, opening: int = 0
) -> TradeOff:
    """A top-hinged opening of a `Scenario` at each of ``angles`` (rad from hanging, rising).

    Raises
    ------
    ScenarioError : the opening's gate is not top-hinged, or an angle lies beyond its stop.
    """
    _needs(scenario, opening, "top-hinged")
    chosen = [float(a) for a in (ANGLES if angles is None else angles)]
    paths = [{f"opening.{opening + 1}.gate.set_angle": f"{degrees(a)!r} deg"} for a in chosen]
    return _solved("set angle", chosen, scenario, paths, opening)


def over_counterweight(
    scenario: Any, masses: Sequence[float] | None = None, opening: int = 0
) -> TradeOff:
    """A drop gate of a `Scenario` with each of ``masses`` (kg, rising) as counterweight.

    Without ``masses``, `SHARES` of the gate's own mass.

    Raises
    ------
    ScenarioError : the opening's gate is not a drop gate.
    """
    _needs(scenario, opening, "drop")
    if masses is None:
        own = setup.solve(scenario).openings[opening].mass
        masses = [share * own for share in SHARES]
    chosen = [float(m) for m in masses]
    paths = [{f"opening.{opening + 1}.gate.counterweight": f"{m!r} kg"} for m in chosen]
    return _solved("counterweight", chosen, scenario, paths, opening)


def _needs(scenario: Any, opening: int, kind: str) -> None:
    if not 0 <= opening < len(scenario.opening):
        raise ScenarioError(
            f"there is no opening {opening + 1}",
            file=scenario.source,
            hint=f"it has {len(scenario.opening)}, counted from 1",
        )
    found = scenario.opening[opening].gate.kind
    if found != kind:
        raise ScenarioError(
            f"this trade-off is that of a {kind} gate",
            file=scenario.source,
            key=f"opening.{opening + 1}.gate.kind",
            value=found,
        )


def _solved(
    setting: str,
    values: list[float],
    scenario: Any,
    paths: list[dict[str, Any]],
    opening: int,
) -> TradeOff:
    if not values or (np.diff(values) <= 0.0).any():
        raise ValueError("settings must be given in rising order")
    points = [sweep.point(with_values(without(scenario), path), opening) for path in paths]
    solved = [o for o, _ in points]
    same = (
        "holding_load",
        "pull_required",
        "release_probability",
        "hang_probability",
        "shut_probability",
    )
    columns = {name: sweep.attribute(solved, name) for name in (*same, "set_weight")}

    def barred(o: OpeningSetup) -> float:
        return o.curve.time_to(juvenile_clearance(scenario, o))

    return TradeOff(
        setting=setting,
        written=None,
        value=np.array(values),
        juvenile_time=sweep.column(solved, barred, inf),
        shut_time=sweep.column(solved, lambda o: o.curve.shut_time, inf),
        energy=sweep.column(solved, lambda o: float(o.curve.energy[0]), nan),
        speed=sweep.column(solved, lambda o: float(o.curve.speed[0]), nan),
        why=tuple(why for _, why in points),
        **columns,
    )
