"""What a scenario leaves to uncertain defaults, as inputs that can be moved over their ranges."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from soundergate.studies.errors import StudyError

if TYPE_CHECKING:
    from soundergate.scenario.register import Entry
    from soundergate.scenario.schema import Scenario

NO_NIGHT = ("campaign", "costs", "population")
"""Tables that change no night."""


@dataclass(frozen=True)
class Input:
    """One uncertain default and every place of the scenario that holds it.

    Openings that leave the same key to the default share one input: what is not known of one
    gate's friction is not known of the other's.
    """

    id: str
    paths: tuple[str, ...]
    entry: Entry = field(compare=False)

    @property
    def range_unit(self) -> str:
        """Unit of the ends of its range, "times corral.diameter" for a share of another value."""
        return f"times {self.entry.of}" if self.entry.of else self.entry.unit

    def at(self, share: float) -> Any:
        """The value at a ``share`` of the way, 0 to 1, through its plausible distribution.

        In the entry's unit; a list moves as one. With shares spread evenly over (0, 1) the values
        have the distribution that the register states. Raises ValueError outside 0 to 1.
        """
        if not 0.0 <= share <= 1.0:
            raise ValueError(f"share is {share}; it must lie between 0 and 1")
        entry = self.entry
        if isinstance(entry.value, list):
            ends = zip(entry.low, entry.high, strict=True)
            return [_between(low, high, share, entry.distribution) for low, high in ends]
        if entry.whole and entry.distribution == "uniform":
            return min(entry.high, entry.low + math.floor(share * (entry.high - entry.low + 1)))
        return _between(entry.low, entry.high, share, entry.distribution)


def _between(low: float, high: float, share: float, distribution: str) -> float:
    if share == 0.0 or share == 1.0:
        return low if share == 0.0 else high
    if distribution == "log-uniform":
        return float(low * (high / low) ** share)
    return low + share * (high - low)


def inputs_of(scenario: Scenario, only: Iterable[str] | None = None) -> list[Input]:
    """The uncertain defaults that a night of this scenario rests on, in schema order.

    ``only`` keeps some: ids of the register, or the beginning of ids up to a dot ("entry",
    "trigger.person"). Raises StudyError for one that matches nothing here.
    """
    from soundergate.scenario.assumptions import defaults_used

    places: dict[str, tuple[Entry, list[str]]] = {}
    for path, entry in defaults_used(scenario):
        uncertain = entry.low is not None and entry.low != entry.high
        if uncertain and path.split(".")[0] not in NO_NIGHT:
            places.setdefault(entry.id, (entry, []))[1].append(path)
    found = [Input(name, tuple(paths), entry) for name, (entry, paths) in places.items()]
    return found if only is None else _kept(found, [only] if isinstance(only, str) else list(only))


def _kept(found: list[Input], only: Sequence[str]) -> list[Input]:
    for name in only:
        if not any(matches(one.id, name) for one in found):
            raise StudyError(
                "no uncertain default of this scenario",
                key=name,
                hint=f"its tables are {', '.join(sorted({one.id.split('.')[0] for one in found}))}",
            )
    return [one for one in found if any(matches(one.id, name) for name in only)]


def matches(known: str, name: str) -> bool:
    """Whether an id of the register is ``name`` or begins with it, up to a dot."""
    return known == name or known.startswith(f"{name}.")


def moved(scenario: Scenario, shares: Mapping[Input, float]) -> Scenario:
    """The scenario with some inputs at shares of their plausible distributions (`Input.at`).

    Values that are relative to others (a bait distance to the corral's diameter) follow those
    others first. Raises ScenarioError when such a trap cannot be built.
    """
    from soundergate.scenario.assumptions import value_at
    from soundergate.scenario.loading import with_values

    plain = {
        path: value_at(scenario, path, one.entry, one.at(share))
        for one, share in shares.items()
        if not one.entry.of
        for path in one.paths
    }
    # A quantity before the parameters of its scatter, which would else be lost with it.
    ordered = dict(sorted(plain.items(), key=lambda item: item[0].count(".")))
    changed = with_values(scenario, ordered) if plain else scenario
    for one, share in shares.items():
        if one.entry.of:
            values = {path: value_at(changed, path, one.entry, one.at(share)) for path in one.paths}
            changed = with_values(changed, values)
    return changed
