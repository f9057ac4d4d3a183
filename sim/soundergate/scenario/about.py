"""`{about = "45 s"}`: a value that is known only roughly, with the register's own relative range.

The night as stated has the value itself; plausible worlds draw it from the range around it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from soundergate.scenario.errors import Problem, as_written
from soundergate.scenario.register import UNKNOWN, Form, register

ABOUT = "about"


def is_about(said: Any) -> bool:
    """Whether a value as written is one that is known only roughly."""
    return isinstance(said, Mapping) and ABOUT in said


def centre_of(key: str, said: Any, known: str | None, how: Form | None) -> Any:
    """What a value as written says of the night itself: of `{about = x}` it is x.

    ``known`` is the register's id of the key, if it has a default there, and ``how`` the way in
    which it varies. Raises Problem where nothing may be said so.
    """
    if not is_about(said):
        return said
    entry = register().get(known) if known else None
    if entry is None or entry.role != UNKNOWN:
        raise Problem(
            "about is for what nobody knows, and this is something to decide or to look up",
            key=as_written(key), value=said[ABOUT],
            hint=f"write the value itself: {key} = {said[ABOUT]!r}"
            if isinstance(said[ABOUT], int | float)
            else "write the value itself, without {about = ...}",
        )  # fmt: skip
    shapes = dict(how.shapes) if how else {}
    for other in said:
        if other != ABOUT and other not in shapes:
            raise Problem(
                "does not go with about",
                key=f"{as_written(key)}.{as_written(str(other))}", value=said[other],
                hint=f"beside it may stand {' or '.join(shapes)}" if shapes else "leave it out",
            )  # fmt: skip
    if isinstance(said[ABOUT], Mapping):
        raise Problem("takes a plain value", key=f"{as_written(key)}.{ABOUT}", value=said[ABOUT])
    if len(said) == 1 or how is None:
        return said[ABOUT]
    return {how.key: said[ABOUT], **{name: said[name] for name in said if name != ABOUT}}
