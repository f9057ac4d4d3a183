"""What a command finds where it is given: its streams, and files in the folder.

Streams may be closed, full, broken, or very narrow. What lies in the folder must not change what a
command computes.
"""

from __future__ import annotations

import logging
import os
import sys
from pathlib import Path
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from soundergate.scenario.errors import ScenarioError

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


NUMBA, MATPLOTLIB = ".numba_config.yaml", "matplotlibrc"


def check() -> None:
    """Raise ScenarioError for a file of settings that would be followed before it can be ignored.

    Pictures are drawn by this package's own style whatever a matplotlibrc says; only one that is no
    text cannot be passed over, as it is read when Matplotlib is imported. A .numba_config.yaml is
    read again at every compilation.
    """
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # a matplotlibrc is not followed
    if Path(NUMBA).is_file():
        raise _refused(NUMBA, "changes how nights are compiled, for every program in this folder")
    try:
        if Path(MATPLOTLIB).is_file():
            Path(MATPLOTLIB).read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError):
        problem = "is no UTF-8 text, so that Matplotlib cannot start in this folder"
        raise _refused(MATPLOTLIB, problem) from None


def _refused(name: str, problem: str) -> ScenarioError:
    from soundergate.scenario.errors import ScenarioError

    return ScenarioError(problem, file=name, hint="move it, or give the command in another folder")
