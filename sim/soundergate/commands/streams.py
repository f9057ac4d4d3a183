"""Standard output and standard error as they are found: closed, full, broken, or very narrow."""

from __future__ import annotations

import os
import sys
from typing import IO

NARROWEST = 60
"""Columns below which no table can be read; a terminal that claims fewer gets so many."""


def ready() -> None:
    """Make both streams fit to be written to, whatever they are, and forget an absurd width."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed by whoever started us: nobody reads it
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        stream = getattr(sys, name)
        if hasattr(stream, "reconfigure"):  # a sign that the terminal cannot show ends no run
            stream.reconfigure(errors="replace")
    columns = os.environ.get("COLUMNS", "").strip()
    if not columns.isdecimal() or int(columns) == 0:
        os.environ.pop("COLUMNS", None)
    elif int(columns) < NARROWEST:
        os.environ["COLUMNS"] = str(NARROWEST)


def let_go(stream: IO[str]) -> None:
    """Write to nowhere from now on: nobody reads the stream any more, and the run goes on."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError):  # a stream without a file, such as one of a test
        pass


def let_go_of_broken() -> None:
    """The same for each stream that cannot take what is still to be written to it."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            let_go(stream)
