"""The digest of a plan, by which a store knows whose nights it holds, covers every value."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from soundergate.engine.plan import NightPlan
from soundergate.scenario.examples import text
from soundergate.studies.store.identity import digest


def _numbers(values: np.ndarray, name: str = "") -> Iterator[tuple[str, np.ndarray]]:
    """The numbers of an array, or of each field of its records; views, to be changed."""
    if values.dtype.names is None:
        yield name, values
        return
    for part in values.dtype.names:
        yield from _numbers(values[part], f"{name}.{part}")


def test_a_change_of_any_number_of_a_plan_changes_its_digest(plan_of) -> None:
    plan: NightPlan = plan_of(text("line"))
    before, changed = digest(plan), set()
    for array, values in plan._asdict().items():
        for name, numbers in _numbers(values, array):
            first = (0,) * numbers.ndim
            kept = numbers[first].copy()
            numbers[first] = 1234567.0
            assert digest(plan) != before, name
            changed.add(name)
            numbers[first] = kept
    assert digest(plan) == before
    assert {
        "openings.width",
        "triggers.container_pull",
        "behaviour.check",
        "combine_all",
    } <= changed


def test_fields_that_change_places_change_the_digest(plan_of) -> None:
    plan: NightPlan = plan_of(text("line"))
    swapped = plan.openings.copy()
    swapped.dtype = np.dtype([(f"other_{n}", plan.openings.dtype[n]) for n in swapped.dtype.names])
    assert digest(plan._replace(openings=swapped)) != digest(plan)
