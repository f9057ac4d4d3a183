"""How a command ends: bad input in one sentence with exit code 2, and no traceback for it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import typer

from soundergate.commands import streams, surroundings

COMPUTED, NOT_SURE, BAD_INPUT, STOPPED = 0, 1, 2, 130


def guarded(command: Callable[..., int | None]) -> Callable[..., None]:
    """Run a command and turn what it returns, or the user's mistake, into an exit code."""

    @functools.wraps(command)
    def run(*args: Any, **options: Any) -> None:
        raise typer.Exit(_code(command, *args, **options))

    return run


def _code(command: Callable[..., int | None], *args: Any, **options: Any) -> int:
    try:
        surroundings.check()
        return command(*args, **options) or COMPUTED
    except KeyboardInterrupt:
        _tell("Stopped by hand before anything was computed.")
        return STOPPED
    except OSError as error:
        streams.let_go_of_broken()  # it may be the very stream that cannot be written to
        where = f"{error.filename}: " if error.filename else ""
        _tell(f"Error: {where}{error.strerror or error}")
        return BAD_INPUT
    except Exception as error:
        from soundergate.scenario.errors import ScenarioError

        if not isinstance(error, ScenarioError):
            raise
        _tell(f"Error: {error}")
        return BAD_INPUT


def _tell(text: str) -> None:
    from soundergate.commands.console import tell

    tell(text)
