"""What is said of a value that an option does not take."""

from __future__ import annotations

import typer

_WANTED = {
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number with fewer digits",
    "int_from_float": "a whole number",
    "float_parsing": "a number",
}
"""Pydantic's kind of error -> what would do."""


def plain(error: typer.BadParameter) -> str:
    """The reason without what only programmers know; as it was if no validator gave it."""
    from pydantic import ValidationError

    from soundergate.scenario.messages import said

    cause = error.__cause__
    if not isinstance(cause, ValidationError):
        return error.message
    first = cause.errors(include_url=False)[0]
    wanted = _WANTED.get(first["type"])
    return said(first) if wanted is None else f"{first['input']!r} is not {wanted}."
