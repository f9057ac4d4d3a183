"""A page to hand on: what it holds, and how it becomes one self-contained HTML file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soundergate.files import write_text
from soundergate.report.contents import Picture, Source
from soundergate.report.pages.cautions import cautions
from soundergate.report.pages.inline_svg import inline_svg
from soundergate.report.tables.table import Table
from soundergate.report.templating import fill, source

if TYPE_CHECKING:
    from markupsafe import Markup


SOURCES_SHOWN = 12
"""Sources that stand open in a page; the others are folded away."""

TOLD, TOLD_WHOLE = 4, 6
"""Sentences of a long answer that stand open, and the most that do without folding any."""

BESIDE_DPI = 120
"""Dots an inch of the pictures beside a page: legible in print, small enough to keep many."""


@dataclass
class Page:
    """Everything on one page, in the order in which it stands there.

    answer: the answer in a sentence, then sentences that qualify it. added_cautions: what this
    setup adds to the standing cautions. data: what is embedded for other programs to read.
    made: (name, value) pairs that say how the numbers were made.
    """

    title: str
    kind: str
    answer: Sequence[str]
    pictures: Sequence[Picture] = ()
    replay: Markup | None = None
    replay_title: str = "One night, played again"
    replay_intro: str = ""
    tables: Sequence[Table] = ()
    leans_pictures: Sequence[Picture] = ()
    leans_on: Sequence[Source] = ()
    leans_intro: str = ""
    added_cautions: Sequence[str] = ()
    made: Sequence[tuple[str, str]] = ()
    scenario_text: str = ""
    data: Any = field(default=None, repr=False)

    @property
    def told(self) -> int:
        """Sentences of the answer that stand open: all of a few, else the first of them."""
        return len(self.answer) if len(self.answer) <= TOLD_WHOLE else TOLD


def render(page: Page) -> str:
    """The page as HTML text: nothing in it is fetched, and no text of the user's is markup."""
    drawn = [
        {
            "number": number,
            "svg": inline_svg(picture.figure, f"picture{number}", picture.alt),
            "caption": picture.caption,
        }
        for number, picture in enumerate([*page.pictures, *page.leans_pictures], 1)
    ]
    return str(
        fill(
            "page.html.j2",
            page=page,
            pictures=drawn[: len(page.pictures)],
            leans_pictures=drawn[len(page.pictures) :],
            cautions=cautions(page.added_cautions),
            shown=SOURCES_SHOWN,
            css=source("page.css"),
            script=source("replay.js") if page.replay is not None else None,
            version=_version(),
        )
    )


def write(page: Page, path: str | os.PathLike[str]) -> Path:
    """Write the page to a file (UTF-8) and return its path."""
    return write_text(path, render(page))


def save_pictures(
    page: Page, folder: str | os.PathLike[str], formats: Sequence[str] = ("png",)
) -> list[Path]:
    """Save the pictures of a page that have a name of their own, and return their paths."""
    from soundergate.report import style

    return [
        path
        for picture in [*page.pictures, *page.leans_pictures]
        if picture.name
        for path in style.save(picture.figure, Path(folder) / picture.name, formats, BESIDE_DPI)
    ]


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("soundergate")
    except PackageNotFoundError:
        return "not installed"
