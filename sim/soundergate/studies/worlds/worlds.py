"""Plausible worlds: one value for every default that is not known, drawn from its range.

The register gives each uncertain default a range and says how plausible values lie in it. Each
default has its own stream of the run's seed, so that another one beside it, or more worlds, leave
the first worlds as they were.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.inputs import Input, inputs_of, matches, moved

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario

BEHAVIOUR = (
    "arrival",
    "bait.intake",
    "bait.levels_appetite",
    "body",
    "entry",
    "holding",
    "leaving",
    "movement",
    "sounder.mass",
    "startle",
    "strike",
    "visit.patience",
)
"""Leading parts of the keys that say what pigs are and do; what a trapper decides is not here."""


def unknowns(scenarios: Iterable[Scenario], only: Sequence[str] = BEHAVIOUR) -> list[Input]:
    """The uncertain defaults that any of the scenarios rests on, under the keys of ``only``.

    A value stated in the scenario file is taken as known. Raises StudyError if a key of ``only``
    leads to no such default.
    """
    found: dict[str, Input] = {}
    for scenario in scenarios:
        for one in inputs_of(scenario):
            if not _of_nobody(scenario, one.id):
                found.setdefault(one.id, one)
    for key in only:
        if tuple(only) != BEHAVIOUR and not any(matches(name, key) for name in found):
            raise StudyError(
                "no uncertain default that these setups rest on is called that",
                key=key,
                hint="`soundergate sources` lists them; a value that a file states counts as known",
            )
    return [one for name, one in found.items() if any(matches(name, key) for key in only)]


def draw(what: Sequence[Input], worlds: int, seed: int) -> np.ndarray:
    """float[worlds, unknowns], uniform on (0, 1): where in its range each unknown lies."""
    columns = []
    for one in what:
        name = hashlib.sha256(one.id.encode()).digest()[:8]
        bits = np.random.Philox(key=[seed, int.from_bytes(name, "little")])
        columns.append(np.random.Generator(bits).random(worlds))
    return np.column_stack(columns) if columns else np.empty((worlds, 0))


def in_world(scenario: Scenario, what: Sequence[Input], u: Sequence[float]) -> Scenario:
    """The scenario with each unknown that it rests on at its place ``u`` (0 to 1) in its range.

    Raises ScenarioError if such a scenario cannot be.
    """
    own = {one.id: one for one in inputs_of(scenario)}
    places = {own[one.id]: place for one, place in zip(what, u, strict=True) if one.id in own}
    return moved(scenario, places)


def _of_nobody(scenario: Scenario, name: str) -> bool:
    """Whether a mass is that of a class of which this sounder has none."""
    if not name.startswith("sounder.mass."):
        return False
    return getattr(scenario.sounder, name.split(".")[2] + "s") == 0
