"""Reading back the run.json that a run left, so that the very same run can be played again.

A run.json holds the setups as they were written, with their units, and as they were resolved; what
was asked (seed, nights or precision, level, engine, whether nights are kept); and the versions it
was played with. Setups are built anew from what was written. Where that no longer gives what was
resolved then, or where versions differ, it is said: the nights may then be others.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, NoReturn

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from soundergate.engine import ENGINES
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table
from soundergate.scenario.messages import said
from soundergate.scenario.schema import Scenario
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import check_level
from soundergate.studies.estimates.stopping import check_nights, check_precision
from soundergate.studies.record import own_digest, plain
from soundergate.studies.seeds import check_seed
from soundergate.studies.store.identity import as_texts, changes, in_short
from soundergate.studies.store.versions import register_digest, versions
from soundergate.studies.trial_size import check_power
from soundergate.studies.worlds.negligible import NEGLIGIBLE
from soundergate.studies.worlds.robust import check_worlds
from soundergate.studies.worlds.verdicts import check_negligible

LARGEST_FILE = 200_000_000  # bytes; a study of 200 arms over 1000 worlds has a tenth of it
COMMANDS = ("run", "compare", "study")
"""Commands that repeat what they left."""
_OTHERS = {"season": "scenario files", "rule": "scenario file"}
"""Commands that leave a record too, and what they are repeated from."""


def _power(power: float | None) -> float | None:
    if power is not None:
        check_power(power)
    return power


def _worlds(number: int) -> int:
    if number:
        check_worlds(number)
    return number


def _engine(name: str) -> str:
    if name not in ENGINES:
        raise ValueError(f"engine is {name!r}; it must be one of {', '.join(ENGINES)}")
    return name


Engine = Annotated[str, AfterValidator(_engine)]


class Asked(BaseModel):
    """What `run` or `compare` was asked; ``nights`` is the most to play where there is a precision.

    ``worlds`` is how many plausible ones; ``against``,
    ``trial_power`` and ``negligible`` are of `compare` alone.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    seed: Annotated[int, AfterValidator(check_seed)]
    nights: Annotated[int | None, AfterValidator(check_nights)]
    precision: Annotated[dict[str, float] | None, AfterValidator(check_precision)]
    level: Annotated[float, AfterValidator(check_level)]
    engine: Engine
    keep_nights: bool
    worlds: Annotated[int, AfterValidator(_worlds)] = 0
    negligible: Annotated[float, AfterValidator(check_negligible)] = NEGLIGIBLE
    against: str | None = None
    trial_power: Annotated[float | None, AfterValidator(_power)] = None


class AskedStudy(BaseModel):
    """What `study` was asked: the file's keys, with what was given in their place; the engine."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    engine: Engine
    study: dict[str, Any]


@dataclass(frozen=True)
class SetupThen:
    """One setup of a record: the values in which it differs from its base, and what it is."""

    set: dict[str, Any]
    scenario: Scenario


@dataclass(frozen=True)
class Record:
    """A run.json as read. ``setups`` by name, "" in a run of one; ``failed`` those not played."""

    file: str
    asked: Asked | AskedStudy
    setups: dict[str, SetupThen]
    failed: dict[str, str]
    stopped_after: int | None
    """Nights played when it was stopped by hand, None if it was not."""
    study_file: str
    """Name of the study file, "" for what is no study."""
    edited: bool
    """Whether it says something else than what was written."""
    differs: list[str]
    """What is not as it was then, in sentences."""


def is_record(path: str | os.PathLike[str]) -> bool:
    """Whether a file, by its name, is the record of a run and not a scenario or study file."""
    return Path(path).suffix.lower() == ".json"


def read(path: str | os.PathLike[str], command: str) -> Record:
    """The record in a file, to be repeated by ``command``, one of `COMMANDS`.

    Raises StudyError for a file that cannot be read, that is damaged or no record, or that another
    command repeats; ScenarioError where a setup in it makes no scenario any more.
    """
    name = str(path)
    data = _json(path, name)
    _check_command(data, command, name)
    asked = _asked(data, command, name)
    setups = _setups(data, command, name)
    edited = "digest" in data and data["digest"] != own_digest(data)
    return Record(
        file=name,
        asked=asked,
        setups=setups,
        failed=_failed(data, name),
        stopped_after=_part(data, "nights", int, name) if data.get("interrupted") else None,
        study_file=_part(data, "study", str, name) if command == "study" else "",
        edited=edited,
        differs=_differs(data, {} if edited else setups, command),
    )


def _json(path: str | os.PathLike[str], name: str) -> dict[str, Any]:
    try:
        if not Path(path).is_file():
            raise StudyError("there is no such file", file=name)
        if Path(path).stat().st_size > LARGEST_FILE:
            raise StudyError(f"larger than {LARGEST_FILE:,} bytes: no record of a run", file=name)
        data = json.loads(Path(path).read_bytes().decode("utf-8"), parse_constant=_no_number)
    except OSError as error:
        raise StudyError(f"cannot be read: {error.strerror or error}", file=name) from None
    except UnicodeDecodeError:
        raise StudyError("not UTF-8 text: it is damaged, or no JSON", file=name) from None
    except RecursionError:
        raise StudyError("not a record of a run: nested too deeply", file=name) from None
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise StudyError(
            f"not valid JSON: {error.msg[0].lower()}{error.msg[1:]} ({where})",
            file=name,
            hint="it is damaged, or not whole; play the scenario file again",
        ) from None
    except StudyError:
        raise
    except ValueError as error:  # a number of too many digits, or one that JSON does not have
        raise StudyError(f"not valid JSON: {error}", file=name) from None
    if not isinstance(data, dict) or not isinstance(data.get("command"), str):
        raise StudyError(
            "is no record of a run",
            file=name,
            hint="wanted the run.json that --out left in a folder, or a scenario file (TOML)",
        )
    return data


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _check_command(data: Mapping[str, Any], command: str, name: str) -> None:
    found = data["command"]
    if found == command:
        return
    if found in COMMANDS:
        raise StudyError(
            f"is what `{found}` left, not `{command}`",
            file=name,
            hint=f"`soundergate {found} {name}` repeats it",
        )
    hint = f"`soundergate {found}` repeats it from its {_OTHERS[found]}" if found in _OTHERS else ""
    raise StudyError(f"is no record that `{command}` left", file=name, hint=hint or None)


def _asked(data: Mapping[str, Any], command: str, name: str) -> Asked | AskedStudy:
    if "asked" not in data:
        raise StudyError(
            "does not say what was asked: an older version wrote it, or it is damaged",
            file=name,
            hint="play the scenario or study file again",
        )
    try:
        kind = AskedStudy if command == "study" else Asked
        return kind.model_validate(data["asked"])
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(["asked", *(str(part) for part in first["loc"])])
        message = said(first)
        raise StudyError(
            f"{message[0].lower()}{message[1:]}", file=name, key=key, hint="the record is damaged"
        ) from None


def _setups(data: Mapping[str, Any], command: str, name: str) -> dict[str, SetupThen]:
    if command == "run":
        part = _part(data, "scenario", dict, name)
        return {"": SetupThen({}, _scenario(part, "scenario", name))}
    parts = _part(data, "scenarios", dict, name)
    arms = _part(data, "arms", list, name)
    setups = {}
    for number, arm in enumerate(arms):
        if not isinstance(arm, dict) or not isinstance(arm.get("name"), str):
            raise _damaged(name, f"arms.{number}")
        changed = _part(arm, "set", dict, name)
        key = f"scenarios.{arm['name']}"
        setups[arm["name"]] = SetupThen(changed, _scenario(parts.get(arm["name"]), key, name))
    return setups


def _scenario(part: Any, key: str, name: str) -> Scenario:
    """The scenario from what was written, under the name of the file it came from."""
    if not isinstance(part, dict):
        raise _damaged(name, key)
    written = _part(part, "as_written", dict, name)
    source = _part(part, "source", str, name)
    try:
        return from_table(written, source)
    except ScenarioError as error:
        more = {"value": error.value} if error.value is not None else {}
        raise ScenarioError(
            error.problem, file=f"{name}: {source}", key=error.key, hint=error.hint, **more
        ) from None


def _part(data: Mapping[str, Any], key: str, kind: type, name: str, otherwise: Any = None) -> Any:
    found = data.get(key, otherwise)
    if not isinstance(found, kind) or isinstance(found, bool):
        raise _damaged(name, key)
    return found


def _failed(data: Mapping[str, Any], name: str) -> dict[str, str]:
    """Arms that could not be played, and why."""
    failed: dict[str, str] = {}
    for number, one in enumerate(_part(data, "failed", list, name, [])):
        if not isinstance(one, dict):
            raise _damaged(name, f"failed.{number}")
        failed[_part(one, "name", str, name)] = _part(one, "error", str, name)
    return failed


def _damaged(name: str, key: str) -> StudyError:
    return StudyError(
        "is missing or not as `--out` writes it: the record is damaged", file=name, key=key
    )


def _differs(data: Mapping[str, Any], setups: Mapping[str, SetupThen], command: str) -> list[str]:
    differences = []
    if "digest" not in data:
        differences.append("It has no digest of itself, so whether it was edited cannot be said.")
    then, now = data.get("versions"), versions()
    then = then if isinstance(then, dict) else {}
    others = [
        f"{name} {then.get(name, 'not named')}, now {version}"
        for name, version in now.items()
        if then.get(name) != version
    ]
    if others:
        differences.append(f"It was played with {', '.join(others)}; nights may differ.")
    if data.get("register") != register_digest():
        differences.append(
            "The register of defaults and their ranges is another than it was played with."
        )
    for name, setup in setups.items():
        part = data["scenario"] if command == "run" else data["scenarios"][name]
        resolved = part.get("resolved")
        before = as_texts(resolved if isinstance(resolved, dict) else {})
        moved = changes(before, as_texts(plain(setup.scenario.resolved())))
        if moved:
            lead = f"Of {name}, defaults" if name else "Defaults"
            differences.append(f"{lead} have changed since: {in_short(moved)}.")
    return differences
