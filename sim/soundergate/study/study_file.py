"""Study files: a question written down as arms to compare, so that anyone can ask it again.

    title = "Does a wider opening help?"
    base = "alder.toml"              # a scenario file, found from the study file's folder
    nights = 20000                   # or precision = 0.005, or precision = {caught = 0.05}
    seed = 1
    level = 0.95
    against = "narrow"               # compare all with this arm; left out: every pair
                                     # a list compares with each; see below for crossed arms
    measures = ["caught", "whole_group"]
    save_nights = false

    [[arm]]
    name = "narrow"
    set = {"opening.width" = "4 ft"}

    [[arm]]
    name = "someone else's"
    file = "other.toml"              # in place of base

    [[across]]                       # every arm again under each of these, named "arm, across"
    name = "counterweighted"
    set = {"opening.gate.counterweight" = "10 lb"}

    [factors]                        # crossed with every arm, or with base if there are no arms
    "trigger.distance" = ["12 ft", "22 ft"]

``against`` may also name an ``[[arm]]`` or an ``[[across]]`` that stands in several crossed arms:
each is then compared with the one that differs from it in nothing else.

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

from pydantic import BaseModel, ConfigDict, ValidationError

from soundergate.study.arms import Arm
from soundergate.study.compare import Comparison, Pair, compare_players
from soundergate.study.crossed import ArmEntry, ArmPlan, pairs_of, plans
from soundergate.study.errors import StudyError
from soundergate.study.pairs import COMPARED
from soundergate.study.players import Player, player
from soundergate.study.record import write_comparison
from soundergate.study.stopping import Progress

if TYPE_CHECKING:
    from soundergate.engine.executors import Executor


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
    against: str | list[str] | None = None
    measures: list[str] = list(COMPARED)
    save_nights: bool = False
    arm: list[ArmEntry] = []
    across: list[ArmEntry] = []
    factors: dict[str, Any] = {}


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
    planned = plans(settled)
    pairs = pairs_of(planned, settled.against)
    players, failed = _players(planned, engine, workers, executor)
    while players:
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
                pairs=_left(pairs, failed),
            )
        except _ArmFailed as stop:
            failed[stop.arm] = str(stop)
            players = [(arm, play) for arm, play in players if arm.name != stop.arm]
            continue
        return StudyResult(settled, comparison, failed)
    reasons = "; ".join(f"{name}: {error}" for name, error in failed.items())
    raise StudyError(f"no arm could be played ({reasons})", file=str(settled.path))


def _left(pairs: list[Pair] | None, failed: Mapping[str, str]) -> list[Pair] | None:
    """The pairs of which both can be played; every pair of the others if none is left."""
    left = [pair for pair in pairs or () if not failed.keys() & set(pair)]
    return left or None


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
    model = ArmEntry if key.startswith(("arm.", "across.")) else StudyFile
    known = [name for name in model.model_fields if name != "path"]
    near = difflib.get_close_matches(key.rsplit(".", 1)[-1], known, 1)
    hint = f"did you mean {near[0]}?" if near else f"the keys are {', '.join(known)}"
    return StudyError("unknown key", file=file, key=key, value=value, hint=hint)
