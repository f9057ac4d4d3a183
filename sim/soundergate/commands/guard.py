"""How a command ends: bad input in one sentence with exit code 2, and no traceback for it."""

from __future__ import annotations

import errno
import functools
import sys
from collections.abc import Callable
from typing import Any

import typer

from soundergate import files
from soundergate.commands import interrupts, surroundings

COMPUTED, NOT_SURE, BAD_INPUT = 0, 1, 2
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


def guarded(command: Callable[..., int | None]) -> Callable[..., None]:
    """Run a command and turn what it returns, or the user's mistake, into an exit code."""

    @functools.wraps(command)
    def run(*args: Any, **options: Any) -> None:
        raise typer.Exit(_code(command, *args, **options))

    return run


def _code(command: Callable[..., int | None], *args: Any, **options: Any) -> int:
    try:
        with interrupts.heeded():
            code = _ended(command, *args, **options)
            interrupts.keeps(interrupts.DONE)
        files.tidy()
        return code if not interrupts.came() else interrupts.stopped(_tell)
    except BaseException as error:
        files.tidy()
        # libraries make something else of what is raised inside them
        if not interrupts.came() and not isinstance(error, KeyboardInterrupt):
            raise
        return interrupts.stopped(_tell)


def _ended(command: Callable[..., int | None], *args: Any, **options: Any) -> int:
    try:
        surroundings.check()
        code = command(*args, **options) or COMPUTED
        sys.stdout.flush()
        return code
    except BrokenPipeError:  # whoever reads has seen enough; nothing more can be written
        surroundings.let_go_of_broken()
        return COMPUTED
    except OSError as error:
        return failed(error)
    except Exception as error:
        from soundergate.scenario.errors import ScenarioError

        if not isinstance(error, ScenarioError):
            raise
        _tell(f"Error: {error}")
        return BAD_INPUT


def failed(error: OSError) -> int:
    """Say what could not be read or written."""
    reason = error.strerror or error
    surroundings.let_go_of_broken()  # it may be the very stream that cannot be written to
    if error.filename is None and error.errno in _FULL:  # whatever else is written has a name
        reason = f"standard output: cannot be written: {reason}"
    where = f"{error.filename}: " if error.filename else ""
    _tell(f"Error: {where}{reason}")
    return BAD_INPUT


def _tell(text: str) -> None:
    from soundergate.commands.console import tell

    tell(text)
