"""Study files: a question written down as arms to compare, so that anyone can ask it again.

    title = "Does a wider opening help?"
    base = "alder.toml"              # a scenario file, found from the study file's folder
    set = {training.nights = 10}     # for every arm that does not say otherwise
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

    [robust]                         # left out: nothing but the defaults is played
    worlds = 200                     # plausible worlds, all arms on common nights in each
    nights = 200                     # in each world; one arm alone is played in them as well
    only = ["entry", "leaving"]      # what to draw; left out: what pigs are and do

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
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from soundergate.engine.folding import ArmFailed, in_words
from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import Text
from soundergate.scenario.loading import tables_of, text_of
from soundergate.scenario.messages import said
from soundergate.study.arms import Arm
from soundergate.study.compare import Comparison, Pair, compare_players
from soundergate.study.crossed import ArmEntry, ArmPlan, pairs_of, plans
from soundergate.study.errors import StudyError
from soundergate.study.estimate import check_level
from soundergate.study.identity import about_run, settings_of
from soundergate.study.intervals import Interval
from soundergate.study.pairs import COMPARED, check_measures
from soundergate.study.players import PlanPlayer, Player, player
from soundergate.study.record import write_comparison
from soundergate.study.repeat import AskedStudy, Record
from soundergate.study.robust import DEFAULT_NIGHTS, DEFAULT_WORLDS, robust
from soundergate.study.robust_result import RobustComparison
from soundergate.study.seeds import check_seed
from soundergate.study.stopping import Progress, check_nights, check_precision
from soundergate.study.worlds import BEHAVIOUR

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.executors import Executor
    from soundergate.study.store import Store


def _precision(precision: Any) -> Any:
    check_precision(precision)
    return precision


def _measures(names: list[str]) -> list[str]:
    check_measures(names)
    return names


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
    robust: RobustEntry | None = None


@dataclass(frozen=True)
class StudyResult:
    """A study played: the comparison of the arms that could be played, and why others could not.

    ``robust`` is the same over plausible worlds, if the file asks for it.
    """

    study: StudyFile
    comparison: Comparison
    failed: dict[str, str] = field(default_factory=dict)
    robust: RobustComparison | None = None

    def to_json(self) -> dict[str, Any]:
        """The comparison's dict with the study's title, the failed arms and the worlds."""
        failed = [{"name": name, "error": error} for name, error in self.failed.items()]
        told = {"title": self.study.title, **self.comparison.to_json(), "failed": failed}
        return told if self.robust is None else told | {"robust": self.robust.to_json()}

    @property
    def table(self) -> pd.DataFrame:
        """One row a difference."""
        return self.comparison.table

    def interval(self, a: str, b: str, measure: str = "fraction_caught") -> Interval:
        """Interval of the difference of two arms, one of all that hold together."""
        return self.comparison.interval(a, b, measure)

    def plot(self, measure: str = "fraction_caught", ax: Any = None) -> Any:
        """Draw the differences of one measure with their intervals; returns the axes."""
        return self.comparison.plot(measure, ax)

    def _repr_html_(self) -> str:
        return self.comparison._repr_html_()

    def write(self, out: str | os.PathLike[str], engine: str = "batch") -> list[Path]:
        """Write summary.csv, differences.csv and run.json into a folder.

        With them nights if they were kept; if worlds were played robust_arms.csv (every arm over
        them), worlds.csv (a row a world) and, of two arms or more, robust.csv (every difference)
        and unknowns.csv (what is worth knowing). ``engine`` is what played them.
        """
        asked = {"engine": engine, "study": self.study.model_dump(mode="json", exclude={"path"})}
        name = self.study.path.name
        extra = {"command": "study", **self.to_json(), "study": name, "asked": asked}
        written = write_comparison(Path(out), self.comparison, extra)
        if self.robust is not None:
            writers = {"robust_arms": self.robust.to_arms_csv, "worlds": self.robust.to_worlds_csv}
            if len(self.robust.arms) > 1:
                writers["robust"] = self.robust.to_differences_csv
                writers["unknowns"] = self.robust.to_unknowns_csv
            for name, write in writers.items():
                written.append(Path(out) / f"{name}.csv")
                write(written[-1])
        return written


def load(path: str | os.PathLike[str]) -> StudyFile:
    """Read a study file. Raises StudyError naming the file, the key and what would do."""
    return loads(text_of(path, "study", StudyError), path)


def loads(text: str, path: str | os.PathLike[str] = "<text>") -> StudyFile:
    """The same from text; ``path`` is where relative names start and what errors name."""
    raw = tables_of(text, str(path), StudyError)
    if "path" in raw:
        raise _unknown(str(path), "path", raw["path"])
    try:
        study = StudyFile(path=Path(path), **raw)
    except ValidationError as error:
        raise _explained(str(path), error) from None
    plans(study)
    return study


def repeated(record: Record) -> StudyFile:
    """The study that a record says was played. Raises StudyError if it is none."""
    assert isinstance(record.asked, AskedStudy)
    raw = record.asked.study
    if "path" in raw:
        raise _unknown(record.file, "asked.study.path", raw["path"])
    try:
        study = StudyFile(path=Path(record.file), **raw)
    except ValidationError as error:
        raise _explained(record.file, error) from None
    missing = [one.name for one in plans(study)
               if one.name not in record.setups and one.name not in record.failed]  # fmt: skip
    if missing:
        raise StudyError(f"holds no setup of the arm {missing[0]!r}", file=record.file)
    return study.model_copy(update={"path": Path(record.study_file)})


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
    store: Store | None = None,
    record: Record | None = None,
) -> StudyResult:
    """Play a study. Arguments that are given stand in place of the file's.

    Setups come from a ``record``, if the study does (`repeated`), and else from files. A ``store``
    takes every finished chunk, and gives those that it holds already. Raises StudyError if the file
    is wrong or no arm can be played.
    """
    settled = study if isinstance(study, StudyFile) else load(study)
    given = nights is not None or precision is not None
    changes = {"nights": nights, "precision": precision} if given else {}
    settled = settled.model_copy(update=changes | ({} if seed is None else {"seed": seed}))
    planned = plans(settled)
    players, failed = _players(planned, engine, workers, executor, record)
    if store is not None:
        _take_up(store, settled, players)
        failed |= store.failed
        players = [(arm, play) for arm, play in players if arm.name not in failed]
    steps = _Steps(progress, settled.robust)
    while players:
        pairs = _left(pairs_of(planned, settled.against), failed)
        try:
            comparison = compare_players(
                [(arm, _guarded(number, play)) for number, (arm, play) in enumerate(players)],
                settled.nights,
                settled.precision,
                settled.seed,
                settled.save_nights,
                steps.nights,
                level=settled.level,
                measures=settled.measures,
                pairs=pairs,
                store=store,
            )
        except ArmFailed as stop:
            name = players.pop(stop.arm)[0].name
            failed[name] = stop.reason
            if store is not None:
                others = pairs is not None and not _left(pairs, failed)
                store.fail(name, stop.reason, forget=others or settled.precision is not None)
            continue
        worlds = None
        if settled.robust is not None and not comparison.interrupted:
            worlds = _robust(settled, [arm for arm, _ in players], pairs, engine, steps.worlds)
        return StudyResult(settled, comparison, failed, worlds)
    reasons = "; ".join(f"{name}: {error}" for name, error in failed.items())
    raise StudyError(f"no arm could be played ({reasons})", file=str(settled.path))


def _robust(
    study: StudyFile,
    arms: list[Arm],
    pairs: list[Pair] | None,
    engine: str,
    progress: Progress,
) -> RobustComparison:
    asked = study.robust
    assert asked is not None
    try:
        return robust(
            arms,
            asked.worlds,
            asked.nights,
            study.seed,
            engine,
            progress,
            only=asked.only,
            level=study.level,
            measures=study.measures,
            pairs=pairs,
        )
    except StudyError as error:
        key = f"robust.only.{error.key}" if error.key else "robust"
        raise StudyError(error.problem, file=str(study.path), key=key, hint=error.hint) from None


@dataclass
class _Steps:
    """Nights of the comparison, then those of the worlds, as one count for whoever waits."""

    progress: Progress | None
    robust: RobustEntry | None
    played: int = 0

    def nights(self, done: int, planned: int) -> None:
        self.played = done
        to_come = self.robust.worlds * self.robust.nights if self.robust else 0
        if self.progress is not None:
            self.progress(done, planned + to_come)

    def worlds(self, done: int, planned: int) -> None:
        if self.progress is not None:
            self.progress(self.played + done, self.played + planned)


def _left(pairs: list[Pair] | None, failed: Mapping[str, str]) -> list[Pair] | None:
    """The pairs of which both can be played; every pair of the others if none is left."""
    left = [pair for pair in pairs or () if not failed.keys() & set(pair)]
    return left or None


def _take_up(store: Store, study: StudyFile, players: list[tuple[Arm, Player]]) -> None:
    settings = settings_of(study.precision, study.nights, study.level, study.save_nights)
    compared = {"measures": study.measures, "compared with": study.against or "each other"}
    about = about_run(players, check_seed(study.seed), settings | compared)
    store.begin(about, check_nights(study.nights))


def _players(
    planned: list[ArmPlan],
    engine: str,
    workers: int | None,
    executor: Executor | None,
    record: Record | None,
) -> tuple[list[tuple[Arm, Player]], dict[str, str]]:
    players: list[tuple[Arm, Player]] = []
    failed: dict[str, str] = {}
    for plan in planned:
        if record is not None and plan.name in record.failed:
            failed[plan.name] = record.failed[plan.name]
            continue
        try:
            arm = _arm(plan, record)
            play = player(arm.scenario, engine, workers, executor)
            players.append((arm, play))
        except StudyError:
            raise  # a wrong engine or number of workers is nobody's arm
        except Exception as error:  # whatever is wrong with one arm, the others can be played
            failed[plan.name] = in_words(error)
    return players, failed


def _arm(plan: ArmPlan, record: Record | None) -> Arm:
    from soundergate.scenario.loading import load as load_scenario
    from soundergate.scenario.loading import with_values

    if record is not None:
        return Arm(plan.name, record.setups[plan.name].scenario, plan.set)
    base = load_scenario(plan.file)
    return Arm(plan.name, with_values(base, plan.set) if plan.set else base, plan.set)


def _guarded(number: int, play: Player) -> Player:
    """A player that says which arm it was, as night plans do of themselves."""
    if isinstance(play, PlanPlayer):
        return play

    def guarded(seed: int, first: int, count: int) -> Any:
        try:
            return play(seed, first, count)
        except Exception as error:
            raise ArmFailed(number, in_words(error)) from error

    return guarded


def _explained(file: str, error: ValidationError) -> StudyError:
    first = error.errors()[0]
    key = ".".join(str(part) for part in first["loc"] if part not in ("float", "dict[str,float]"))
    if first["type"] == "extra_forbidden":
        return _unknown(file, key, first["input"])
    if first["type"] == "missing":
        return StudyError("missing", file=file, key=key)
    problem = first.get("ctx", {}).get("error")
    if isinstance(problem, Problem):
        hint, value = problem.hint, first["input"]
        return StudyError(problem.text, file=file, key=key, value=value, hint=hint)
    told = said(first)
    return StudyError(told[0].lower() + told[1:], file=file, key=key, value=first["input"])


def _unknown(file: str, key: str, value: Any) -> StudyError:
    lead = key.split(".")[0] if "." in key else ""
    models: dict[str, type[BaseModel]] = {
        "arm": ArmEntry,
        "across": ArmEntry,
        "robust": RobustEntry,
    }
    model = models.get(lead, StudyFile)
    known = [name for name in model.model_fields if name != "path"]
    near = difflib.get_close_matches(key.rsplit(".", 1)[-1], known, 1)
    hint = f"did you mean {near[0]}?" if near else f"the keys are {', '.join(known)}"
    return StudyError("unknown key", file=file, key=key, value=value, hint=hint)
