"""Where words go: tables and JSON to standard output, everything else to standard error.

Text is printed as it is: what a user writes in a file is never markup, a link or a control code.
"""

from __future__ import annotations

import json
import os
import sys
from typing import TYPE_CHECKING, Any, TextIO

from rich import box
from rich.console import Console

from soundergate.commands.surroundings import let_go
from soundergate.scenario.errors import on_a_screen

if TYPE_CHECKING:
    from soundergate.report.tables.table import Table

_PIPED_WIDTH = 4000
"""Columns to lay a table out in where nobody looks through a window: no cell is folded."""


class _Plain(Console):
    def on_broken_pipe(self) -> None:
        """A reader that has seen enough, such as `head`: files are written all the same."""
        let_go(self.file)


def console(stream: TextIO) -> Console:
    """A console on standard output or standard error as they are now."""
    free = stream.isatty() or "COLUMNS" in os.environ
    width = None if free else _PIPED_WIDTH
    return _Plain(file=stream, width=width, markup=False, highlight=False, emoji=False)


def tell(*lines: str) -> None:
    """Sentences to standard error, one a line, none longer than a screen."""
    shown = console(sys.stderr)
    try:
        for line in lines:
            shown.print(printable(on_a_screen(line)), soft_wrap=not sys.stderr.isatty())
        sys.stderr.flush()
    except OSError:
        let_go(sys.stderr)


def printable(text: str) -> str:
    """The text without control codes, which could repaint a terminal."""
    return "".join(sign if sign.isprintable() or sign == "\n" else "�" for sign in text)


def print_table(table: Table, tight: bool = False) -> None:
    """A table to standard output; a ``tight`` one keeps its columns one blank closer."""
    from rich import table as rich_table

    shown = rich_table.Table(
        title=table.caption or None,
        title_justify="left",
        box=box.SIMPLE,
        pad_edge=False,
        padding=(0, 1, 0, 0) if tight else (0, 1),
    )
    for place, name in enumerate(table.columns):
        shown.add_column(
            printable(name),
            justify="right" if place in table.numeric else "left",
            overflow="fold",
            no_wrap=place in table.unbroken,
        )
    for row in table.rows:
        shown.add_row(*(printable(cell) for cell in row))
    console(sys.stdout).print(shown)


def print_text(text: str) -> None:
    """Text to standard output as it is, ending in a line break."""
    try:
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        let_go(sys.stdout)


def print_json(data: Any) -> None:
    """Strict JSON to standard output, in ASCII so that no terminal's encoding can break it."""
    from soundergate.studies.record import plain

    print_text(json.dumps(plain(data), indent=2, allow_nan=False))
