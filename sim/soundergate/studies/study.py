"""`study`: a study file played, arm by arm on common nights, and what it leaves in a folder."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.engine.work.folding import ArmFailed, in_words
from soundergate.studies.arms import Arm
from soundergate.studies.compare import Comparison, Pair, compare_players
from soundergate.studies.crossed import ArmPlan, circumstances_of, pairs_of, plans, within
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import Interval
from soundergate.studies.estimates.stopping import Progress, check_nights
from soundergate.studies.options import checked
from soundergate.studies.players import PlanPlayer, Player, player
from soundergate.studies.record import write_comparison
from soundergate.studies.repeat import Record
from soundergate.studies.seeds import check_seed
from soundergate.studies.store.identity import about_run, settings_of
from soundergate.studies.study_file import load
from soundergate.studies.study_schema import RobustEntry, StudyFile
from soundergate.studies.worlds.robust import robust
from soundergate.studies.worlds.robust_result import RobustComparison
from soundergate.studies.worlds.sensitivity import Sensitivity, sensitivity

if TYPE_CHECKING:
    import pandas as pd

    from soundergate.engine.work.chunks import Executor
    from soundergate.studies.store.store import Store


@dataclass(frozen=True)
class StudyResult:
    """A study played: the comparison of the arms that could be played, and why others could not.

    ``robust`` is the same over plausible worlds, and ``sensitivity`` what the answer leans on with
    all unknowns moving at once, if the file asks for them.
    """

    study: StudyFile
    comparison: Comparison
    failed: dict[str, str] = field(default_factory=dict)
    robust: RobustComparison | None = None
    sensitivity: Sensitivity | None = None

    @property
    def interrupted(self) -> bool:
        """Whether it was stopped by hand before every night and world was played."""
        of_worlds = self.robust is not None and self.robust.interrupted
        return self.comparison.interrupted or of_worlds

    def to_json(self) -> dict[str, Any]:
        """The comparison's dict with the study's title, the failed arms and the worlds."""
        failed = [{"name": name, "error": error} for name, error in self.failed.items()]
        data = {"title": self.study.title, **self.comparison.to_json(), "failed": failed}
        if self.robust is not None:
            data["robust"] = self.robust.to_json()
        if self.sensitivity is not None:
            data["sensitivity"] = self.sensitivity.to_json()
        return data

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
        robust = "" if self.robust is None else self.robust._repr_html_()
        return self.comparison._repr_html_() + robust

    def write(self, out: str | os.PathLike[str], engine: str = "batch") -> list[Path]:
        """Write summary.csv, differences.csv and run.json into a folder.

        With them nights if they were kept; if worlds were played robust_arms.csv (every arm over
        them), worlds.csv (a row a world) and, of two arms or more, robust.csv (every difference),
        choices.csv (the best of what one can decide, and what each costs beside it) and
        unknowns.csv (what is worth knowing); sensitivity.csv if it was asked for. ``engine`` is
        what played them.
        """
        asked = {"engine": engine, "study": self.study.model_dump(mode="json", exclude={"path"})}
        name = self.study.path.name
        extra = {"command": "study", **self.to_json(), "study": name, "asked": asked}
        written = write_comparison(Path(out), self.comparison, extra)
        if self.robust is not None:
            writers = {"robust_arms": self.robust.to_arms_csv, "worlds": self.robust.to_worlds_csv}
            if len(self.robust.arms) > 1:
                writers["robust"] = self.robust.to_differences_csv
                writers["choices"] = self.robust.to_choices_csv
                writers["unknowns"] = self.robust.to_unknowns_csv
            for name, write in writers.items():
                written.append(Path(out) / f"{name}.csv")
                write(written[-1])
        if self.sensitivity is not None:
            written.append(Path(out) / "sensitivity.csv")
            self.sensitivity.to_table_csv(written[-1])
        return written


@checked
def study(
    file: StudyFile | Mapping[str, Any] | str | os.PathLike[str],
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

    Parameters
    ----------
    file : path, dict or StudyFile
        The path of a study file or a dict of its tables, which is not changed; the scenario files
        that a dict names are found from the current folder.
    nights, precision, seed, workers, engine, progress, executor, store : as for `run`
    record : what a run left behind, from which its setups come in place of files

    Returns
    -------
    StudyResult

    Raises
    ------
    StudyError
        If the file is wrong or no arm can be played.

    Example
    -------
    >>> import soundergate
    >>> found = soundergate.study({"base": "trap.toml", "nights": 50,
    ...                            "factors": {"opening.width": ["4 ft", "8 ft"]}})
    >>> len(found.comparison.arms)
    2
    """
    settled = load(file)
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
    leans = _sensitivity(settled, players, failed, engine, steps.sensitivity)
    met = circumstances_of(planned)
    while players:
        pairs = _left(pairs_of(planned, settled.against), failed)
        if pairs is None:
            pairs = within([arm.name for arm, _ in players], met)
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
            worlds = _robust(
                settled, [arm for arm, _ in players], pairs, engine, workers, steps.worlds
            )
        if met:
            comparison = replace(comparison, circumstances=met)
            worlds = None if worlds is None else replace(worlds, circumstances=met)
        return StudyResult(settled, comparison, failed, worlds, leans)
    reasons = "; ".join(f"{name}: {error}" for name, error in failed.items())
    raise StudyError(f"no arm could be played ({reasons})", file=str(settled.path))


def _robust(
    study: StudyFile,
    arms: list[Arm],
    pairs: list[Pair] | None,
    engine: str,
    workers: int | None,
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
            workers=workers,
        )
    except StudyError as error:
        key = f"robust.only.{error.key}" if error.key else "robust"
        raise StudyError(error.problem, file=str(study.path), key=key, hint=error.hint) from None


def _sensitivity(
    study: StudyFile,
    players: Sequence[tuple[Arm, Player]],
    failed: Mapping[str, str],
    engine: str,
    progress: Progress,
) -> Sensitivity | None:
    """Played before all else, so that what is wrong with it costs no night of the comparison."""
    asked = study.sensitivity
    if asked is None or not players:
        return None
    arms = {arm.name: arm for arm, _ in players}
    if missing := [name for name in (asked.arm, asked.less) if name in failed]:
        reason = f"the arm {missing[0]!r} cannot be played ({failed[missing[0]]})"
        raise StudyError(reason, file=str(study.path), key="sensitivity")
    try:
        return sensitivity(
            arms[asked.arm or next(iter(arms))],
            arms[asked.less] if asked.less else None,
            asked.method,
            asked.samples,
            asked.nights,
            study.seed,
            engine,
            progress,
            only=asked.only,
            measure=study.measures[0],
            level=study.level,
        )
    except StudyError as error:
        key = f"sensitivity.only.{error.key}" if error.key else "sensitivity"
        raise StudyError(error.problem, file=str(study.path), key=key, hint=error.hint) from None


@dataclass
class _Steps:
    """Nights of all parts of a study, one after the other, as one count for whoever waits."""

    progress: Progress | None
    robust: RobustEntry | None
    before: int = 0
    played: int = 0

    def sensitivity(self, done: int, planned: int) -> None:
        self.before = self.played = done
        if self.progress is not None:
            self.progress(done, planned)

    def nights(self, done: int, planned: int) -> None:
        self.played = self.before + done
        to_come = self.robust.worlds * self.robust.nights if self.robust else 0
        if self.progress is not None:
            self.progress(self.played, self.before + planned + to_come)

    def worlds(self, done: int, planned: int) -> None:
        if self.progress is not None:
            self.progress(self.played + done, self.played + planned)


def _left(pairs: list[Pair] | None, failed: Mapping[str, str]) -> list[Pair] | None:
    """The pairs of which both can be played; every pair of the others if none is left."""
    left = [pair for pair in pairs or () if not failed.keys() & set(pair)]
    return left or None


def _take_up(store: Store, study: StudyFile, players: list[tuple[Arm, Player]]) -> None:
    settings = settings_of(
        study.precision,
        study.nights,
        study.level,
        study.save_nights,
        study.measures,
        study.against,
    )
    store.begin(about_run(players, check_seed(study.seed), settings), check_nights(study.nights))


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
