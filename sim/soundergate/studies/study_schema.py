"""What a study file holds: its keys, their types and defaults."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from soundergate.scenario.fields import Text
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.paired import COMPARED, check_measures
from soundergate.studies.estimates.stopping import check_nights, check_precision
from soundergate.studies.seeds import check_seed
from soundergate.studies.worlds import sensitivity
from soundergate.studies.worlds.robust import DEFAULT_NIGHTS, DEFAULT_WORLDS


def _precision(precision: Any) -> Any:
    check_precision(precision)
    return precision


def _measures(names: list[str]) -> list[str]:
    check_measures(names)
    return names


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
    only: tuple[str, ...] | None = Field(None, strict=False)


class SensitivityEntry(BaseModel):
    """``[sensitivity]`` of a study file; keys are those of `worlds.sensitivity.sensitivity`."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    method: str = "morris"
    arm: str = ""
    less: str = ""
    samples: int | None = None
    nights: Annotated[int, AfterValidator(check_nights)] = sensitivity.DEFAULT_NIGHTS
    only: tuple[str, ...] | None = Field(None, strict=False)

    @model_validator(mode="after")
    def _design(self) -> SensitivityEntry:
        sensitivity.check_design(self.method, self.samples)
        return self


class StudyFile(BaseModel):
    """A study file as read; ``path`` is where from."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    path: Path = Path("<text>")
    title: Annotated[str, AfterValidator(Text().read)] = ""
    base: str | None = None
    set: dict[str, Any] = {}
    nights: Annotated[int | None, AfterValidator(check_nights)] = None
    precision: Annotated[float | dict[str, float] | None, AfterValidator(_precision)] = None
    seed: Annotated[int, AfterValidator(check_seed)] = 1
    level: Annotated[float, AfterValidator(check_level)] = 0.95
    against: str | list[str] | None = None
    measures: Annotated[list[str], AfterValidator(_measures)] = list(COMPARED)
    save_nights: bool = False
    arm: list[ArmEntry] = []
    across: list[ArmEntry] = []
    factors: dict[str, Any] = {}
    circumstances: list[str] = []
    robust: RobustEntry | None = None
    sensitivity: SensitivityEntry | None = None
