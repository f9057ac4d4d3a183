"""Study files: a question written down as arms to compare, so that anyone can ask it again.

    title = "Does a wider opening help?"
    base = "alder.toml"
    nights = 20000

    [[arm]]
    name = "narrow"
    set = {"opening.width" = "4 ft"}

    [[arm]]
    name = "wide"
    set = {"opening.width" = "8 ft"}

`soundergate keys study` says what every key means (`scenario/meanings.toml`), and
`soundergate keys study --template` prints a file with all of them.

``circumstances`` names the factors that nobody decides, such as how many pigs there are:
``circumstances = ["sounder.juveniles"]``, before the tables. "across" names all of ``[[across]]``,
"arm" all of ``[[arm]]``. Setups are then compared, the best one is chosen, and what it is worth to
know something is reckoned among those that meet the same circumstances, never across.

``against`` may also name an ``[[arm]]`` or an ``[[across]]`` that stands in several crossed arms:
each is then compared with the one that differs from it in nothing else.

An arm that makes no scenario, or whose steel cannot be solved, is reported by name and the rest of
the study is played.
"""

from __future__ import annotations

import difflib
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from soundergate.scenario.errors import Problem
from soundergate.scenario.given import FROM_DICT, path_of, table_of
from soundergate.scenario.loading import check_depth, tables_of, text_of
from soundergate.scenario.messages import said
from soundergate.studies.crossed import plans
from soundergate.studies.errors import StudyError
from soundergate.studies.repeat import AskedStudy, Record
from soundergate.studies.study_schema import ArmEntry, RobustEntry, SensitivityEntry, StudyFile


def load(study: StudyFile | Mapping[str, Any] | str | os.PathLike[str]) -> StudyFile:
    """Read a study file, or a dict of its tables, whose relative names start from here.

    Raises StudyError naming the file ("<dict>" for a dict), the key and what would do.
    """
    if isinstance(study, StudyFile):
        return study
    if isinstance(study, Mapping):
        check_depth(study, FROM_DICT, StudyError)
        return _validated(table_of(study, FROM_DICT, StudyError), FROM_DICT)
    path = path_of(study, "study", StudyError)
    return loads(text_of(path, "study", StudyError), path)


def loads(text: str, path: str | os.PathLike[str] = "<text>") -> StudyFile:
    """The same from text; ``path`` is where relative names start and what errors name."""
    return _validated(tables_of(text, str(path), StudyError), path)


def _validated(raw: dict[str, Any], path: str | os.PathLike[str]) -> StudyFile:
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
    message = said(first)
    return StudyError(message[0].lower() + message[1:], file=file, key=key, value=first["input"])


def _unknown(file: str, key: str, value: Any) -> StudyError:
    lead = key.split(".")[0] if "." in key else ""
    models: dict[str, type[BaseModel]] = {
        "arm": ArmEntry,
        "across": ArmEntry,
        "robust": RobustEntry,
        "sensitivity": SensitivityEntry,
    }
    model = models.get(lead, StudyFile)
    known = [name for name in model.model_fields if name != "path"]
    near = difflib.get_close_matches(key.rsplit(".", 1)[-1], known, 1)
    hint = f"did you mean {near[0]}?" if near else f"the keys are {', '.join(known)}"
    return StudyError("unknown key", file=file, key=key, value=value, hint=hint)
