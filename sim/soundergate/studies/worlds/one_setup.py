"""One setup over plausible worlds, and what one could decide otherwise: what `run` leads with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soundergate.studies.arms import Arm
from soundergate.studies.estimates.measures import MEASURES, REQUIRED
from soundergate.studies.estimates.stopping import Progress
from soundergate.studies.worlds.one_at_a_time import tornado
from soundergate.studies.worlds.robust import DEFAULT_NIGHTS, DEFAULT_WORLDS, robust

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.inputs import Input
    from soundergate.studies.worlds.movers import Mover
    from soundergate.studies.worlds.order import Quantile
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.tornado import Tornado

_MEASURES = [
    *REQUIRED,
    *(n for n, one in MEASURES.items() if one.every_night and n not in (*REQUIRED, "operator_min")),
]
_ALL = 10_000
_TRIED = 1000
"""Nights on which every decision is tried at both ends."""
_FOLLOWED = 2
"""Changes, those that catch most with every unknown at its middle, that are tried in all worlds."""
_WORTH_TRYING = 0.01
"""Share of the group that a change must catch more at the middle to be tried in all worlds."""


@dataclass(frozen=True)
class Change:
    """A decision at the end of its range, tried in every plausible world.

    ``high`` which end; ``at_middle``: how much more of the group it catches with every unknown at
    its middle value; ``gain`` the same on average over the worlds, with its interval; ``better``
    and ``worse``: shares of worlds in which it catches more, or less, by more than ``negligible``.
    """

    input: Input
    high: bool
    at_middle: float
    gain: float
    low: float
    up: float
    better: float
    worse: float
    negligible: float

    @property
    def share(self) -> float:
        """Where in its range the decision is (`Input.at`)."""
        return _END[self.high]

    def to_json(self) -> dict[str, Any]:
        """Its fields, the decision by its path, and what it is changed to in its entry's unit."""
        told = {name: getattr(self, name) for name in self.__dataclass_fields__}
        value = self.input.at(self.share)
        return told | {"input": self.input.paths[0], "value": value, "unit": self.input.range_unit}


_END = {False: 0.05, True: 0.95}


@dataclass(frozen=True)
class OverWorlds:
    """What one setup does over plausible worlds.

    ``found`` None where the file leaves nothing unknown: there is one world. ``decisions`` are
    all of them by how far they move the share caught with every unknown at its middle, None where
    they were not tried; ``changes`` the most promising of these in all worlds, the best one first.
    """

    found: RobustComparison | None
    decisions: Tornado | None
    changes: tuple[Change, ...] = ()

    def quantiles(self, measure: str) -> tuple[Quantile, ...]:
        """Low end, middle and high end of nine tenths of the worlds. Raises ValueError for none."""
        if self.found is None:
            raise ValueError("nothing is unknown, so there is one world")
        return self.found.quantiles(self.found.arms[0], measure)

    @property
    def measures(self) -> list[str]:
        """What was looked at, the share caught first."""
        return [] if self.found is None else self.found.measures

    def movers(self, measure: str = "fraction_caught") -> list[Mover]:
        """The unknowns by how much each moves a measure, most first."""
        return [] if self.found is None else self.found.movers(self.found.arms[0], measure)

    def to_json(self) -> dict[str, Any]:
        """A dict ready for JSON: the recipe of the worlds, quantiles by measure, what moves it."""
        decided = None if self.decisions is None else self.decisions.to_json()
        if self.found is None:
            return {"worlds": 0, "decisions": decided}
        names = ("low", "middle", "high")
        return {
            "worlds": self.found.worlds,
            "asked": self.found.asked,
            "nights_each": self.found.nights,
            "seed": self.found.seed,
            "measures": {
                name: dict(zip(names, (q.to_json() for q in self.quantiles(name)), strict=True))
                for name in self.measures
            },
            "unknowns": [one.to_json() for one in self.movers()],
            "decisions": decided,
            "changes": [one.to_json() for one in self.changes],
            "failed": {str(world): why for world, why in self.found.failed.items()},
        }


def over_worlds(
    scenario: Scenario,
    worlds: int = DEFAULT_WORLDS,
    nights: int = DEFAULT_NIGHTS,
    seed: int = 1,
    engine: str = "batch",
    progress: Progress | None = None,
    *,
    level: float = 0.95,
    workers: int | None = None,
    keep_nights: bool = False,
) -> OverWorlds:
    """Play one setup in plausible worlds, and try what one could decide otherwise.

    Parameters are those of :func:`soundergate.studies.worlds.robust.robust`. Raises StudyError for
    too few worlds or nights, or no world that can be played.
    """
    from soundergate.studies.worlds.inputs import inputs_of

    found = None
    if inputs_of(scenario):
        found = robust(
            [Arm("", scenario)], worlds, nights, seed, engine, progress,
            level=level, measures=_MEASURES, keep_nights=keep_nights, workers=workers,
        )  # fmt: skip
    decisions = _decisions(scenario, seed, level, engine, workers)
    changes: tuple[Change, ...] = ()
    if found is not None and decisions is not None and not found.interrupted:
        changes = _changes(scenario, decisions, worlds, nights, seed, level, workers)
    return OverWorlds(found, decisions, changes)


def _changes(
    scenario: Scenario, decisions: Tornado, worlds: int, nights: int, seed: int, level: float,
    workers: int | None,
) -> tuple[Change, ...]:  # fmt: skip
    """The most promising changes of a decision, in the same worlds and on the same nights."""
    from soundergate.studies.estimates import intervals
    from soundergate.studies.worlds.inputs import moved
    from soundergate.studies.worlds.negligible import NEGLIGIBLE

    ends = [
        (found.estimate, swing.input, high)
        for swing in decisions.swings
        for high, found in ((False, swing.low), (True, swing.high))
        if found is not None and found.low > 0 and found.estimate >= _WORTH_TRYING
    ]
    ends.sort(key=lambda one: -one[0])
    arms = {str(n): end for n, end in enumerate(ends[:_FOLLOWED])}
    if not arms:
        return ()
    changed = [
        Arm(name, moved(scenario, {one: _END[high]})) for name, (_, one, high) in arms.items()
    ]
    found = robust(
        [Arm("", scenario), *changed], worlds, nights, seed, level=level,
        measures=["fraction_caught"], pairs=[], workers=workers,
    )  # fmt: skip
    each = intervals.bonferroni(level, len(arms))

    def told(name: str) -> Change:
        at_middle, one, high = arms[name]
        gains, _ = found.gap(name, "")
        low, up, _ = intervals.mean_t(gains, each, (-1.0, 1.0))
        better, worse = (float((turn * gains > NEGLIGIBLE).mean()) for turn in (1, -1))
        return Change(one, high, at_middle, float(gains.mean()), low, up, better, worse, NEGLIGIBLE)

    return tuple(sorted(map(told, arms), key=lambda one: -one.gain))


def _decisions(
    scenario: Scenario, seed: int, level: float, engine: str, workers: int | None
) -> Tornado | None:
    """Decisions at both ends of what is worth trying; with the batch engine alone, for speed."""
    from soundergate.studies.worlds.inputs import decisions_of

    if engine != "batch" or not decisions_of(scenario):
        return None
    return tornado(
        scenario, nights=_TRIED, screen=0, top=_ALL, seed=seed, level=level, decisions=True,
        workers=workers,
    )  # fmt: skip
