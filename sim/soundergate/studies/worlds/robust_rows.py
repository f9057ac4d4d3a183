"""The rows of a comparison over plausible worlds: a pair, an arm, an unknown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from soundergate.studies.estimates.intervals import finite

TAILS = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True)
class RobustDifference:
    """Arm ``a`` less arm ``b`` in one measure, over plausible worlds.

    Intervals are those of all pairs that hold together at ``level``; ``each_level`` is that of
    this pair alone (Bonferroni).

    ``share``: of worlds in which a has more of the measure (over the world's nights) than b, with
    the Wilson interval ``low`` to ``high`` over worlds; ``equal``: of worlds in which both have the
    same. ``clear_more`` and ``clear_less``: of worlds in which its nights settle that a has more,
    or less (paired t at ``level``, each world by itself). ``mean`` is the mean difference with its
    t interval; ``quantiles`` its 5, 25, 50, 75 and 95 % points over worlds, which the few nights
    of each world widen: ``noise_share`` of the variance is theirs.
    """

    a: str
    b: str
    measure: str
    share: float
    low: float
    high: float
    equal: float
    clear_more: float
    clear_less: float
    mean: float
    mean_low: float
    mean_high: float
    quantiles: tuple[float, ...]
    noise_share: float
    level: float
    each_level: float
    worlds: int
    unit: str

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for nan."""
        return _fields(self)


@dataclass(frozen=True)
class ArmOverWorlds:
    """One arm in one measure, over plausible worlds.

    ``mean`` over the worlds with its t interval, one of all arms that hold together at ``level``;
    ``quantiles`` its 5, 25, 50, 75 and 95 % points over worlds, which the few nights of each world
    widen: ``noise_share`` of the variance is theirs.
    """

    arm: str
    measure: str
    mean: float
    mean_low: float
    mean_high: float
    quantiles: tuple[float, ...]
    noise_share: float
    level: float
    each_level: float
    worlds: int
    unit: str

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for nan."""
        return _fields(self)


def _fields(spread: RobustDifference | ArmOverWorlds) -> dict[str, Any]:
    values = {name: getattr(spread, name) for name in spread.__dataclass_fields__}
    fields = {name: finite(value) for name, value in values.items()}
    return fields | {"quantiles": dict(zip(_QUANTILE_NAMES, spread.quantiles, strict=True))}


_QUANTILE_NAMES = tuple(f"q{100 * tail:02.0f}" for tail in TAILS)


@dataclass(frozen=True)
class Worth:
    """What an unknown does to a choice between arms.

    ``evppi``: how much more a night would bring if it were known before choosing, in ``unit``;
    ``chance``: what the largest of all unknowns stays below in 95 studies of 100 if none of them
    tells anything. ``correlation``: rank
    correlation of the unknown with the difference of two arms (Spearman 1904); nan for more arms.
    ``low`` to ``high`` is the plausible range, in ``range_unit``. ``circumstance``: what the arms
    meet between which one chooses, "" where all is decided.
    """

    unknown: str
    evppi: float
    chance: float
    correlation: float
    low: Any
    high: Any
    unit: str
    range_unit: str
    circumstance: str = ""

    @property
    def shown(self) -> bool:
        """Whether it is worth more than chance would make the largest of all unknowns seem."""
        return self.evppi > self.chance

    def to_json(self) -> dict[str, Any]:
        """Its fields, and ``shown``; None for nan."""
        values = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return {name: finite(value) for name, value in values.items()} | {"shown": self.shown}
