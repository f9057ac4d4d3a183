"""The example scenarios that come with the package: small, invented, complete.

Each is a file `examples/NAME.toml` whose first line says that it is invented and whose second
says what it shows.
"""

from __future__ import annotations

import tomllib
from importlib import resources
from importlib.resources.abc import Traversable
from typing import TypedDict

from soundergate.scenario.errors import ScenarioError

_SHOWS = "# Shows: "


class Example(TypedDict):
    """One line of the catalogue."""

    name: str
    title: str
    shows: str


def names() -> list[str]:
    """Names of the examples, in alphabetical order."""
    return sorted(item.name.removesuffix(".toml") for item in _files())


def text(name: str) -> str:
    """The TOML text of an example. Raises ScenarioError, listing the names, for another name."""
    for item in _files():
        if item.name == f"{name}.toml":
            return item.read_text(encoding="utf-8")
    raise ScenarioError(
        f"there is no example called {name!r}", hint=f"choose one of: {', '.join(names())}"
    )


def catalogue() -> list[Example]:
    """Name, title and what it shows, of every example."""
    return [_line(name) for name in names()]


def _line(name: str) -> Example:
    content = text(name)
    shows = next(line for line in content.splitlines() if line.startswith(_SHOWS))
    title = tomllib.loads(content)["title"]
    return {"name": name, "title": title, "shows": shows.removeprefix(_SHOWS)}


def _files() -> list[Traversable]:
    folder = resources.files("soundergate.scenario") / "examples"
    return [item for item in folder.iterdir() if item.name.endswith(".toml")]
