"""Exact numbers of events: a change that plays other nights is no speed-up.

``events.json`` holds how many events the batch engine plays in the first nights of a fixed seed.
The counts are whole numbers of a repeatable model, so they are compared exactly. They change only
when the model does, and are then written anew by ``bench.py --update``.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import demo

from soundergate.engine.kernel.batch import play_counted
from soundergate.engine.plan import NightPlan

FILE = Path(__file__).parent / "events.json"


class OtherNights(AssertionError):
    """The engine plays other nights than those whose events were counted."""


def plans() -> dict[str, tuple[Callable[[], NightPlan], int]]:
    """Name of each counted night: how to build its plan, and how many nights are counted."""
    counted: dict[str, tuple[Callable[[], NightPlan], int]] = {
        name: (lambda name=name: demo.demo_plan(name), 2000)  # type: ignore[misc]
        for name in demo.TRIGGERS
    }
    counted["plain night"] = (demo.plain_plan, 2000)
    for size in demo.SIZES:
        counted[f"{size} animals"] = (
            lambda size=size: demo.grown_plan(size),  # type: ignore[misc]
            200,
        )
    return counted


def count() -> dict[str, int]:
    """Events in all, by name."""
    found = {}
    for name, (plan, nights) in plans().items():
        _, events = play_counted(plan(), demo.SEED, 0, nights)
        found[name] = int(events.sum())
    return found


def check(found: dict[str, int]) -> None:
    """Compare with the committed counts.

    Raises
    ------
    OtherNights
        Naming each count that differs.
    """
    wanted = json.loads(FILE.read_text(encoding="utf-8"))
    wrong = [
        f"  {name}: {found.get(name)} events, {wanted.get(name)} in {FILE.name}"
        for name in sorted(found.keys() | wanted.keys())
        if found.get(name) != wanted.get(name)
    ]
    if wrong:
        raise OtherNights(
            "the batch engine plays other nights than those whose events were counted:\n"
            + "\n".join(wrong)
            + "\nIf the model, a default or a draw was changed on purpose, and the twin tests"
            " pass, run\nbench.py --update and commit the new counts with that change. If only"
            " speed was worked on,\nthe change altered the nights: find out why."
        )


def update(found: dict[str, int]) -> None:
    """Write the counts as they are now."""
    FILE.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")
