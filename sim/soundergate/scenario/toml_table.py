"""The base of every table of the scenario: closed, frozen, and helpful about a misspelt key."""

from __future__ import annotations

import difflib
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict, model_validator
from pydantic.fields import FieldInfo

from soundergate.scenario.about import centre_of
from soundergate.scenario.errors import Problem, as_written
from soundergate.scenario.register import Stated, form, registered_id, scatter_id


class Table(BaseModel):
    """A TOML table. Values are SI; an unknown key is refused with the nearest known one."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    family: ClassVar[str] = ""  # a further word for tables of this kind in paths, beside the kind

    @model_validator(mode="before")
    @classmethod
    def _known_keys(cls, data: Any) -> Any:
        if isinstance(data, cls):
            return data
        if not isinstance(data, dict):
            raise Problem("must be a table of keys and values")
        for key in data:
            if key not in cls.model_fields:
                raise _unknown(key, data[key], tuple(cls.model_fields), cls.elsewhere(key))
        return {key: _read_as(key, cls.model_fields[key], value) for key, value in data.items()}

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        """A remark for a key that would be right under another choice; None when there is none."""
        return None

    def settle(self, **values: Any) -> None:
        """Set fields that the user left open and whose default depends on another table.

        Only for use while loading. The fields still count as not given by the user, so that a
        report can tell defaults from statements; pydantic's own ways of copying would not.
        """
        self.__dict__.update(values)


def _read_as(key: str, field: FieldInfo, said: Any) -> Any:
    """A value as written; beside it, where it varies, how it does so by the register.

    Of what is only stated about, the middle is read: the night has that and worlds the range.
    """
    scatters = scatter_id(field)
    how = form(scatters) if scatters else None
    said = centre_of(key, said, registered_id(field), how)
    return said if how is None else Stated(said, how)


def _unknown(key: str, value: Any, known: tuple[str, ...], remark: str | None) -> Problem:
    near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.5)
    if remark:
        hint = remark
    elif near:
        hint = f"did you mean {near[0]!r}?"
    else:
        hint = f"known keys here: {', '.join(known)}"
    return Problem("unknown key", hint=hint, key=as_written(str(key)), value=value)
