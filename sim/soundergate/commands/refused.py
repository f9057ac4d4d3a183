"""What is said of a value that an option does not take."""

from __future__ import annotations

from typing import Any

import typer

_WANTED = {
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number with fewer digits",
    "int_from_float": "a whole number",
    "float_parsing": "a number",
}
"""Pydantic's kind of error -> what would do."""


def plain(error: Any) -> str:
    """What an error of the option parser says, in our words and no longer than fits a screen."""
    from soundergate.scenario.errors import LONGEST, shortened

    reason = _reason(error) if isinstance(error, typer.BadParameter) else error.message
    return shortened(printed(reason), LONGEST)


def printed(text: str) -> str:
    """Signs that break lines or repaint a terminal, as Python writes them."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def _reason(error: typer.BadParameter) -> str:
    """The reason without what only programmers know; as it was if no validator gave it."""
    from pydantic import ValidationError

    from soundergate.scenario.messages import said

    cause = error.__cause__
    if not isinstance(cause, ValidationError):
        return error.message
    first = cause.errors(include_url=False)[0]
    wanted = _WANTED.get(first["type"])
    return said(first) if wanted is None else f"{first['input']!r} is not {wanted}."
