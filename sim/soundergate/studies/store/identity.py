"""What makes two runs the same run, so that one may go on where the other stopped.

Everything that a number in the result depends on: setups as resolved, the plan of the
night, seed, what is compared and how precisely, versions. Not the number of workers, nor
where they are.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soundergate.studies.estimates.stopping import check_precision
from soundergate.studies.players import PlanPlayer, Player
from soundergate.studies.store.versions import versions

if TYPE_CHECKING:
    from soundergate.engine.plan import NightPlan
    from soundergate.studies.arms import Arm

_SHOWN, _LONGEST = 3, 60
ABSENT = "absent"
_SOLVED = "solved mechanics and behaviour"


def about_run(
    arms: Sequence[tuple[Arm, Player]], seed: int, settings: Mapping[str, Any]
) -> dict[str, str]:
    """What a run is, as dotted keys and texts; ``settings`` is what else to hold it to."""
    found: dict[str, Any] = {"seed": seed, "version": versions(), **settings}
    for arm, play in arms:
        lead = f"arm {arm.name}: " if arm.name else ""
        scenario = {} if arm.scenario is None else arm.scenario.resolved()
        found |= {f"{lead}{key}": value for key, value in _flat(scenario)}
        if isinstance(play, PlanPlayer):
            found["engine"] = play.engine
            found[f"{lead}{_SOLVED}"] = digest(play.plan)
    return {key: _text(value) for key, value in _flat(found)}


def as_texts(scenario: Mapping[str, Any]) -> dict[str, str]:
    """A resolved scenario as dotted keys and texts, for `changes`."""
    return {key: _text(value) for key, value in _flat(scenario)}


def settings_of(
    precision: float | Mapping[str, float] | str | None,
    nights: int | None,
    level: float,
    keep: bool,
    measures: Sequence[str] = (),
    against: object = None,
) -> dict[str, Any]:
    """What else a run is held to. Where the number of nights is fixed, it may grow.

    ``measures`` and ``against`` are of a comparison.
    """
    targets = check_precision(precision)
    settings: dict[str, Any] = {"nights kept": keep}
    if targets is not None:
        settings |= {"precision": targets, "nights": nights, "level": level}
    if measures:
        settings |= {"measures": list(measures), "compared with": against or "each other"}
    return settings


def changes(before: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """What is not as it was, in words, such as "seed was 1, is now 2".

    That the solved steel differs is said only where nothing else does.
    """
    keys = [key for key in {**now, **before} if before.get(key) != now.get(key)]
    causes = [key for key in keys if not key.endswith(_SOLVED)]
    return [
        f"{key} was {_cut(before.get(key, ABSENT))}, is now {_cut(now.get(key, ABSENT))}"
        for key in causes or keys
    ]


def in_short(found: Sequence[str]) -> str:
    """The first few changes, and how many more there are."""
    more = len(found) - _SHOWN
    return "; ".join(found[:_SHOWN]) + (f"; and {more} more" if more > 0 else "")


def digest(plan: NightPlan) -> str:
    """A short text that differs for plans whose nights may differ."""
    whole = hashlib.sha256()
    for name, values in plan._asdict().items():
        whole.update(f"{name} {values.dtype.descr} {values.shape} ".encode())
        whole.update(values.tobytes())
    return whole.hexdigest()[:16]


def digest_of(*values: str | int | bytes | None) -> str:
    """A text that differs if any of the values, their kinds or their order differs."""
    whole = hashlib.sha256()
    for value in values:
        data = value if isinstance(value, bytes) else str(value).encode()
        whole.update(f"{type(value).__name__} {len(data)} ".encode())
        whole.update(data)
    return whole.hexdigest()


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def _flat(value: Any, lead: str = "") -> list[tuple[str, Any]]:
    """Dotted keys, entries of lists by number, as scenario errors name them."""
    if isinstance(value, Mapping) and value:
        items: Any = value.items()
    elif isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value):
        items = enumerate(value, 1)
    else:
        return [(lead, value)]
    return [pair for key, item in items for pair in _flat(item, f"{lead}.{key}" if lead else key)]


def _text(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value)
