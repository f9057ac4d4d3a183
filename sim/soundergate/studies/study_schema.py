"""What a study file holds: its keys, their types and defaults."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from soundergate.scenario.fields import Text
from soundergate.studies.estimates.paired import COMPARED
from soundergate.studies.worlds.robust import DEFAULT_NIGHTS, DEFAULT_WORLDS
from soundergate.studies.worlds.worlds import BEHAVIOUR


class ArmEntry(BaseModel):
    """One ``[[arm]]`` or ``[[across]]`` of a study file; only an arm may have a ``file``."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    name: Annotated[str, Field(min_length=1), AfterValidator(Text().read)]
    file: str | None = None
    set: dict[str, Any] = {}


class RobustEntry(BaseModel):
    """``[robust]`` of a study file."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    worlds: int = DEFAULT_WORLDS
    nights: int = DEFAULT_NIGHTS
    only: tuple[str, ...] = Field(BEHAVIOUR, strict=False)


class StudyFile(BaseModel):
    """A study file as read; ``path`` is where from."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    path: Path = Path("<text>")
    title: Annotated[str, AfterValidator(Text().read)] = ""
    base: str | None = None
    set: dict[str, Any] = {}
    nights: int | None = None
    precision: float | dict[str, float] | None = None
    seed: int = 1
    level: float = 0.95
    against: str | list[str] | None = None
    measures: list[str] = list(COMPARED)
    save_nights: bool = False
    arm: list[ArmEntry] = []
    across: list[ArmEntry] = []
    factors: dict[str, Any] = {}
    robust: RobustEntry | None = None
