"""Every key that a study file may hold, in the order of a file: as `scenario.keys` of a scenario.

Fields, types and defaults are those of `study_schema`; meanings stand in `scenario/meanings.toml`.
"""

from __future__ import annotations

import typing
from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from soundergate.scenario.keys import Key
from soundergate.scenario.meanings import meaning, moved_by
from soundergate.studies.estimates.paired import COMPARED
from soundergate.studies.study_schema import StudyFile

STUDY = "study"
"""What the ids of these keys begin with."""
_CHOICES = {"sensitivity.method": ("morris", "sobol"), "measures": tuple(COMPARED)}
_TAKES = {str: "text in quotes", int: "a whole number", float: "a plain number",
          bool: "true or false", dict: "a table of values by dotted key"}  # fmt: skip


@cache
def study_keys() -> tuple[Key, ...]:
    """All keys of a study file, each once."""
    return tuple(_of(StudyFile, ""))


def _of(model: type[BaseModel], path: str) -> Iterator[Key]:
    for name, field in model.model_fields.items():
        if not path and name == "path":
            continue  # where the file was read from: nothing that it says
        full = f"{path}.{name}".lstrip(".")
        known = f"{STUDY}.{full}"
        inner = list(_models(field.annotation))
        several = list in _origins(field.annotation) or tuple in _origins(field.annotation)
        head = (f"[[{full}]]" if several else f"[{full}]") if inner else ""
        if full == "factors":
            head = f"[{full}]"
        default = None if field.default in (PydanticUndefined, None) else field.default
        yield Key(
            id=known,
            path=full,
            means=meaning(known) or "",
            takes=head or _takes(field.annotation, several),
            choices=_CHOICES.get(full, ()),
            required=field.is_required(),
            table=head,
            moves=moved_by(known),
            default=None if default in ({}, [], "") else default,
            several=several,
        )
        for one in inner:
            yield from _of(one, full)


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in typing.get_args(annotation):
        yield from _models(part)


def _origins(annotation: Any) -> list[Any]:
    parts = (annotation, *typing.get_args(annotation))
    return [typing.get_origin(part) for part in parts]


def _takes(annotation: Any, several: bool) -> str:
    plain = [part for part in _plain(annotation) if part in _TAKES]
    one = " or ".join(dict.fromkeys(_TAKES[part] for part in plain))
    return f"{one}, or a list of such" if several and one else one


def _plain(annotation: Any) -> Iterator[Any]:
    origin = typing.get_origin(annotation)
    if origin is dict:
        yield dict
    elif isinstance(annotation, type):
        yield annotation
    else:
        for part in typing.get_args(annotation):
            yield from _plain(part)
