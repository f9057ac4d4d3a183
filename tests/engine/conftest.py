"""The named nights of `nights.toml`, and a plain recorder of what the reference engine tells."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from shared.tiers import few_first
from soundergate.engine.reference.facts import Facts
from soundergate.engine.reference.night import Night

NIGHTS = tomllib.loads((Path(__file__).parent / "nights.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class NamedNight:
    """One scenario of `nights.toml` and what its nights must show."""

    name: str
    hits: tuple[str, ...]
    events: tuple[str, ...] = ()
    nights: int = 200
    departures: int = 0
    ties: bool = False
    change: dict[str, Any] = field(default_factory=dict)


NAMED = {
    night["name"]: NamedNight(
        **{key: tuple(v) if isinstance(v, list) else v for key, v in night.items()}
    )
    for night in NIGHTS["night"]
}


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that asks for `named_night` meets them all, for `sampled_night` every third: the rest
    in the second tier, as the twin of the first has met them."""
    if "named_night" in metafunc.fixturenames:
        metafunc.parametrize("named_night", NAMED.values(), ids=NAMED)
    if "sampled_night" in metafunc.fixturenames:
        metafunc.parametrize("sampled_night", few_first(NAMED.values(), 3), ids=NAMED)


@pytest.fixture(scope="session")
def night_named() -> Callable[[str], NamedNight]:
    """A named night by its name."""
    return NAMED.__getitem__


@pytest.fixture(scope="session")
def all_named() -> list[NamedNight]:
    """Every named night."""
    return list(NAMED.values())


@pytest.fixture(scope="session")
def base_table() -> dict[str, Any]:
    """The scenario that the named nights share, as a table."""
    return NIGHTS["base"]


@pytest.fixture(scope="session")
def plan_named(base_table, plan_of) -> Callable[[NamedNight], Any]:
    """The plan of a named night."""
    return lambda night: plan_of(base_table, **night.change)


@dataclass
class Recorder:
    """Stands in for a trace: keeps what is told and judges nothing."""

    told: list[tuple[float, str, int | None, int | None]] = field(default_factory=list)

    def record(
        self, time: float, kind: str, animal: int | None = None, opening: int | None = None, *_: Any
    ) -> None:
        self.told.append((time, kind, animal, opening))

    def walk(self, *_: Any) -> None:
        """Ways are not told."""


@pytest.fixture(scope="session")
def tell() -> Callable[..., list[tuple[float, str, int | None, int | None]]]:
    """``tell(plan, seed, number)``: (time, kind, animal, opening) of all that happens."""
    from soundergate.engine.reference.facts import Facts
    from soundergate.engine.reference.night import Night

    def told(plan: Any, seed: int, number: int) -> list[tuple[float, str, int | None, int | None]]:
        recorder = Recorder()
        Night(Facts(plan), seed, number, recorder).play()
        return recorder.told

    return told


@pytest.fixture(scope="session")
def events_in_reference() -> Callable[[Any, int, int], list[int]]:
    """``events_in_reference(plan, seed, nights)``: how many the reference counts each night."""

    def counted(plan: Any, seed: int, nights: int) -> list[int]:
        played = [Night(Facts(plan), seed, number) for number in range(nights)]
        for night in played:
            night.play()
        return [night.events for night in played]

    return counted
