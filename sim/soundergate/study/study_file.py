"""Study files: a question written down as arms to compare, so that anyone can ask it again.

    title = "Does a wider opening help?"
    base = "alder.toml"              # a scenario file, found from the study file's folder
    nights = 20000                   # or precision = 0.005, or precision = {caught = 0.05}
    seed = 1
    level = 0.95
    against = "narrow"               # compare all with this arm; left out: every pair
    measures = ["caught", "whole_group"]
    save_nights = false

    [[arm]]
    name = "narrow"
    set = {"opening.width" = "4 ft"}

    [[arm]]
    name = "someone else's"
    file = "other.toml"              # in place of base

    [factors]                        # crossed with every arm, or with base if there are no arms
    "trigger.distance" = ["12 ft", "22 ft"]

An arm that makes no scenario, or whose steel cannot be solved, is reported by name and the rest of
the study is played.
"""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from soundergate.study.arms import Arm, check_arms, cross, name_of
from soundergate.study.compare import Comparison, compare_players
from soundergate.study.errors import StudyError
from soundergate.study.pairs import COMPARED
from soundergate.study.players import Player, player
from soundergate.study.record import write_comparison
from soundergate.study.stopping import Progress

if TYPE_CHECKING:
    from soundergate.engine.executors import Executor

_VALUE_KEYS = {"dist", "kind", "median", "any", "all"}


class ArmEntry(BaseModel):
    """One ``[[arm]]`` of a study file."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    name: str = Field(min_length=1)
    file: str | None = None
    set: dict[str, Any] = {}


class StudyFile(BaseModel):
    """A study file as read; ``path`` is where from."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    path: Path = Path("<text>")
    title: str = ""
    base: str | None = None
    nights: int | None = None
    precision: float | dict[str, float] | None = None
    seed: int = 1
    level: float = 0.95
    against: str | None = None
    measures: list[str] = list(COMPARED)
    save_nights: bool = False
    arm: list[ArmEntry] = []
    factors: dict[str, Any] = {}


@dataclass(frozen=True)
class ArmPlan:
    """An arm yet to be built: its name, scenario file and dotted values."""

    name: str
    file: Path
    set: dict[str, Any]


@dataclass(frozen=True)
class StudyResult:
    """A study played: the comparison of the arms that could be played, and why others could not."""

    study: StudyFile
    comparison: Comparison
    failed: dict[str, str] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """The comparison's dict with the study's title and the failed arms."""
        failed = [{"name": name, "error": error} for name, error in self.failed.items()]
        return {"title": self.study.title, **self.comparison.to_json(), "failed": failed}

    def write(self, out: str | os.PathLike[str]) -> list[Path]:
        """Write summary.csv, differences.csv and run.json (and nights if kept) into a folder."""
        extra = {"command": "study", **self.to_json(), "study": self.study.path.name}
        return write_comparison(Path(out), self.comparison, extra)


def load(path: str | os.PathLike[str]) -> StudyFile:
    """Read a study file. Raises StudyError naming the file, the key and what would do."""
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a name or not UTF-8 text"
        raise StudyError(f"cannot be read: {reason}", file=str(path)) from None
    return loads(text, path)


def loads(text: str, path: str | os.PathLike[str] = "<text>") -> StudyFile:
    """The same from text; ``path`` is where relative names start and what errors name."""
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers too long, tables too deep
        raise StudyError(f"not valid TOML: {error}", file=str(path)) from None
    if "path" in raw:
        raise _unknown(str(path), "path", raw["path"])
    try:
        study = StudyFile(path=Path(path), **raw)
    except ValidationError as error:
        raise _explained(str(path), error) from None
    plans(study)
    return study


def plans(study: StudyFile) -> list[ArmPlan]:
    """Every arm of a study, crossed with its factors. Raises StudyError for a wrong set of arms."""
    file = str(study.path)
    factors = flat_lists(study.factors, file)
    if not study.arm and not factors:
        raise StudyError("no arms", file=file, hint="give [[arm]] entries or [factors]")
    entries = study.arm or [ArmEntry.model_construct(name="", file=None, set={})]
    found = []
    for entry in entries:
        source = entry.file or study.base
        if source is None:
            raise StudyError("no scenario file", file=file, hint='give base = "scenario.toml"')
        own = flat_values(entry.set)
        for key in own.keys() & factors.keys():
            raise StudyError(f"both arm {entry.name!r} and factors give it", file=file, key=key)
        for values in cross(factors):
            name = ", ".join(part for part in (entry.name, name_of(values)) if part)
            found.append(ArmPlan(name, study.path.parent / source, own | values))
    try:
        check_arms([plan.name for plan in found], study.against)
    except StudyError as error:
        raise StudyError(error.problem, file=file) from None
    return found


def run_study(
    study: StudyFile | str | os.PathLike[str],
    *,
    nights: int | None = None,
    precision: float | Mapping[str, float] | str | None = None,
    seed: int | None = None,
    workers: int | None = None,
    engine: str = "batch",
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> StudyResult:
    """Play a study. Arguments that are given stand in place of the file's.

    Raises StudyError if the file is wrong or no arm can be played.
    """
    settled = study if isinstance(study, StudyFile) else load(study)
    if nights is None and precision is None:
        nights, precision = settled.nights, settled.precision
    players, failed = _players(plans(settled), engine, workers, executor)
    while players:
        against = settled.against if settled.against not in failed else None
        try:
            comparison = compare_players(
                players,
                nights,
                precision,
                settled.seed if seed is None else seed,
                settled.save_nights,
                progress,
                level=settled.level,
                measures=settled.measures,
                against=against,
            )
        except _ArmFailed as stop:
            failed[stop.arm] = str(stop)
            players = [(arm, play) for arm, play in players if arm.name != stop.arm]
            continue
        return StudyResult(settled, comparison, failed)
    reasons = "; ".join(f"{name}: {error}" for name, error in failed.items())
    raise StudyError(f"no arm could be played ({reasons})", file=str(settled.path))


def flat_values(table: Mapping[str, Any], lead: str = "") -> dict[str, Any]:
    """Dotted values from nested tables, as TOML makes of unquoted dotted keys.

    A table with dist, kind, median, any or all is a value; any other table is a path.
    """
    flat: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict) and value and not _VALUE_KEYS & value.keys():
            flat |= flat_values(value, f"{lead}{key}.")
        else:
            flat[f"{lead}{key}"] = value
    return flat


def flat_lists(table: Mapping[str, Any], file: str, lead: str = "") -> dict[str, list[Any]]:
    """Dotted factors from nested tables. Raises StudyError for a factor that is not a list."""
    flat: dict[str, list[Any]] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            flat |= flat_lists(value, file, f"{lead}{key}.")
        elif isinstance(value, list):
            flat[f"{lead}{key}"] = value
        else:
            raise StudyError(
                "a factor is a list of values",
                file=file,
                key=f"factors.{lead}{key}",
                value=value,
                hint='wanted such as ["4 ft", "8 ft"]',
            )
    return flat


class _ArmFailed(Exception):
    def __init__(self, arm: str, error: Exception) -> None:
        super().__init__(_reason(error))
        self.arm = arm


def _players(
    planned: list[ArmPlan], engine: str, workers: int | None, executor: Executor | None
) -> tuple[list[tuple[Arm, Player]], dict[str, str]]:
    from soundergate.scenario.loading import load as load_scenario
    from soundergate.scenario.loading import with_values

    players, failed = [], {}
    for plan in planned:
        try:
            base = load_scenario(plan.file)
            arm = Arm(plan.name, with_values(base, plan.set) if plan.set else base, plan.set)
            play = player(arm.scenario, engine, workers, executor)
            players.append((arm, _guarded(plan.name, play)))
        except StudyError:
            raise  # a wrong engine or number of workers is nobody's arm
        except Exception as error:  # whatever is wrong with one arm, the others can be played
            failed[plan.name] = _reason(error)
    return players, failed


def _guarded(name: str, play: Player) -> Player:
    def guarded(seed: int, first: int, count: int) -> Any:
        try:
            return play(seed, first, count)
        except Exception as error:
            raise _ArmFailed(name, error) from error

    return guarded


def _reason(error: Exception) -> str:
    from soundergate.scenario.errors import ScenarioError

    return str(error) if isinstance(error, ScenarioError) else f"{type(error).__name__}: {error}"


def _explained(file: str, error: ValidationError) -> StudyError:
    first = error.errors()[0]
    key = ".".join(str(part) for part in first["loc"] if part not in ("float", "dict[str,float]"))
    if first["type"] == "extra_forbidden":
        return _unknown(file, key, first["input"])
    if first["type"] == "missing":
        return StudyError("missing", file=file, key=key)
    return StudyError(
        first["msg"][0].lower() + first["msg"][1:], file=file, key=key, value=first["input"]
    )


def _unknown(file: str, key: str, value: Any) -> StudyError:
    model = ArmEntry if key.startswith("arm.") else StudyFile
    known = [name for name in model.model_fields if name != "path"]
    near = difflib.get_close_matches(key.rsplit(".", 1)[-1], known, 1)
    hint = f"did you mean {near[0]}?" if near else f"the keys are {', '.join(known)}"
    return StudyError("unknown key", file=file, key=key, value=value, hint=hint)
