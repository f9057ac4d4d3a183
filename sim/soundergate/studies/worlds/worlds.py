"""Plausible worlds: one value for everything that nobody knows, drawn from what is plausible.

The register says how plausible values of each unknown lie. Each unknown has its own stream of the
run's seed, so that another one beside it, or more worlds, leave the first worlds as they were.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.inputs import Input, Moving, inputs_of, matches

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario


def unknowns(
    scenarios: Iterable[Scenario], only: Sequence[str] | None = None, campaign: bool = False
) -> list[Input]:
    """What nobody knows of any of the scenarios: of pigs, triggers, people and rust.

    A value stated in a scenario file is taken as known, unless as ``{about = ...}``. ``only`` keeps
    some, by id or leading parts of ids; with ``campaign``, what nobody knows of campaigns is among
    them. Raises StudyError for one that leads to nothing unknown.
    """
    found: dict[str, Input] = {}
    for scenario in scenarios:
        for one in inputs_of(scenario, campaign=campaign):
            found.setdefault(one.id, one)
    for key in only or ():
        if not any(matches(name, key) for name in found):
            raise StudyError(
                "nothing unknown that these setups rest on is called that",
                key=key,
                hint="`soundergate sources` lists them; a value that a file states counts as known",
            )
    if only is None:
        return list(found.values())
    return [one for name, one in found.items() if any(matches(name, key) for key in only)]


def draw(what: Sequence[Input], worlds: int, seed: int, apart: str = "") -> np.ndarray:
    """float[worlds, unknowns], uniform on (0, 1): where in its range each unknown lies.

    ``apart`` names worlds that have nothing to do with those of the same seed without it.
    """
    columns = []
    for one in what:
        name = hashlib.sha256(f"{apart}{one.id}".encode()).digest()[:8]
        bits = np.random.Philox(key=[seed, int.from_bytes(name, "little")])
        columns.append(np.random.Generator(bits).random(worlds))
    return np.column_stack(columns) if columns else np.empty((worlds, 0))


def worlds_of(scenario: Scenario, what: Sequence[Input]) -> Callable[[Sequence[float]], Scenario]:
    """What makes the scenario as it is in a world: from the place of each unknown, 0 to 1.

    Raises ScenarioError if such a scenario cannot be.
    """
    number = {one.id: column for column, one in enumerate(what)}
    own = [one for one in inputs_of(scenario, campaign=True) if one.id in number]
    columns, moving = [number[one.id] for one in own], Moving(scenario, own)

    def world(u: Sequence[float]) -> Scenario:
        return moving.at([u[column] for column in columns])

    return world


def in_world(scenario: Scenario, what: Sequence[Input], u: Sequence[float]) -> Scenario:
    """The scenario with each unknown that it rests on at its place ``u`` (0 to 1) in its range.

    Raises ScenarioError if such a scenario cannot be.
    """
    return worlds_of(scenario, what)(u)
