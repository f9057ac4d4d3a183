"""The house stands as described: one direction of imports, agreed names, nothing that leaks."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

from shared.sources import MODULES, PACKAGE, parsed

REPO = Path(__file__).parents[1]
ROOMS = (
    "scenario",
    "mechanics",
    "behavior",
    "triggers",
    "engine",
    "studies",
    "seasons",
    "fit",
    "report",
)
GROUND = ("files", "kinds")
"""What every room may import, and which imports none."""
FRONT = ("api", "commands", "cli", "__main__", "__init__")
"""What faces the user may import every room; no room may import it."""
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "sim",
    "experiments",
    "tests",
    "results_demo",
}
UPWARD = {"plot", "_repr_html_"}
"""Methods of results that may call up, to `report`, by an import of their own."""


def imports(tree: ast.AST, inside: str = "") -> Iterator[tuple[str, str, int]]:
    """(imported module, name of the innermost function around it, line) of every import."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, inside, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            yield from ((f"{module}.{alias.name}", inside, node.lineno) for alias in node.names)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield from imports(node, node.name)
        else:
            yield from imports(node, inside)


def faults(module_tree: ast.Module, room: str) -> list[str]:
    """The imports of a module in ``room`` that go the wrong way."""
    found = []
    for module, function, line in imports(module_tree):
        if module.startswith("."):
            found.append(f"line {line}: relative import {module}")
        if not module.startswith("soundergate.") and module != "soundergate":
            continue
        target = [*module.split("."), "__init__"][1]
        if room in FRONT or target == room or (target in GROUND and room not in GROUND):
            continue
        if target == "report" and function in UPWARD:
            continue
        if room in GROUND or target not in ROOMS or ROOMS.index(target) > ROOMS.index(room):
            found.append(f"line {line}: {room} imports {module}")
    return found


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_a_room_imports_only_from_rooms_above_it() -> None:
    found = {
        str(path.relative_to(PACKAGE)): faults(parsed(path), room_of(path)) for path in MODULES
    }
    assert len(found) > 100
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize(
    ("source", "room", "wrong"),
    [
        ("from soundergate.studies import estimate", "engine", True),
        ("import soundergate.report.style", "studies", True),
        ("def draw():\n    from soundergate.report import style", "studies", True),
        ("def plot():\n    from soundergate.report import style", "studies", False),
        ("def plot():\n    from soundergate.seasons import costs", "studies", True),
        ("if TYPE_CHECKING:\n    from soundergate.studies import tally", "engine", True),
        ("from soundergate import run", "studies", True),
        ("from soundergate.cli import app", "report", True),
        ("from . import style", "report", True),
        ("from soundergate.scenario import units", "report", False),
        ("from soundergate.report import style", "commands", False),
        ("from soundergate.files import writing", "engine", False),
        ("from soundergate.scenario import units", "files", True),
    ],
)
def test_the_rule_itself(source: str, room: str, wrong: bool) -> None:
    assert bool(faults(ast.parse(source), room)) is wrong


def inner_room(module: str) -> str:
    """The part of a room that a module stands in: a folder of it, or itself beside the folders."""
    return ".".join(module.split(".")[:3])


def inner_imports() -> dict[str, set[str]]:
    """Which parts of the package's rooms import which; calls up from `UPWARD` left out."""
    modules = {
        ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts): path
        for path in MODULES
        if path.name != "__init__.py"
    }
    found: dict[str, set[str]] = {}
    for name, path in modules.items():
        for imported, function, _ in imports(parsed(path)):
            target = imported if imported in modules else imported.rpartition(".")[0]
            other = inner_room(target)
            if target in modules and other != inner_room(name) and function not in UPWARD:
                found.setdefault(inner_room(name), set()).add(other)
    return found


def test_no_import_runs_back_up_between_folders() -> None:
    """Folders and the files beside them can be put on floors; a circle would name itself here."""
    graph = inner_imports()
    assert "soundergate.engine.luck" in graph["soundergate.engine.kernel"]
    tuple(TopologicalSorter(graph).static_order())


def test_every_folder_of_the_package_is_a_known_room() -> None:
    folders = {path.parent for path in MODULES} - {PACKAGE}
    rooms = {path.relative_to(PACKAGE).parts[0] for path in folders}
    assert rooms <= {*ROOMS, *FRONT}


def test_numba_is_named_in_one_place() -> None:
    """Everything compiled shares one wrapper, so that one cache rule and one set of flags hold."""
    naming = {
        str(path.relative_to(PACKAGE))
        for path in MODULES
        for module, _, _ in imports(parsed(path))
        if module.split(".")[0] == "numba"
    }
    assert naming == {
        "engine/compiled/decorators.py",
    }


def tracked() -> list[Path]:
    if not (REPO / ".git").exists():
        pytest.skip("not a git checkout: what is tracked is unknown")
    command = ["git", "-C", str(REPO), "ls-files", "-z"]
    listed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return [REPO / name for name in listed.split("\0") if name and (REPO / name).is_file()]


def test_the_top_level_is_as_agreed() -> None:
    names = {path.relative_to(REPO).parts[0] for path in tracked()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "sim", "tests"} <= names


LEAKS = {
    "a path of somebody's machine": r"(?<![\w.~/$}])/(?:root|work|home|Users|opt)/[\w.-]+",
    "a package-registry host": r"\b(?:pypi|pythonhosted|anaconda)\.(?:org|com)\b|-index-url",
    "a document that is not here": r"\b[A-Z]{5,}\.md\b",
    "a numbered ticket": r"\b[Ii]ssue #?\d",
}
DOCUMENTS = {"README.md", "DEVELOPERS.md", "MODEL.md"}


def leaks(text: str) -> list[str]:
    return [
        f"{what}: {match.group()}"
        for what, pattern in LEAKS.items()
        for match in re.finditer(pattern, text)
        if match.group() not in DOCUMENTS
    ]


def test_nothing_tracked_leaks() -> None:
    found = []
    for path in tracked():
        data = path.read_bytes()
        if b"\0" in data or path == Path(__file__):  # pictures and archives; these patterns
            continue
        found += [f"{path.relative_to(REPO)}: {leak}" for leak in leaks(data.decode())]
    assert found == []


@pytest.mark.parametrize("what", LEAKS)
def test_every_leak_would_be_seen(what: str) -> None:
    samples = {
        "a path of somebody's machine": "see /" + "home/somebody/trap.toml",
        "a package-registry host": "from pypi" + ".org",
        "a document that is not here": "as ROAD" + "MAP.md says",
        "a numbered ticket": "closes issue" + " 12",
    }
    assert [leak.split(":")[0] for leak in leaks(samples[what])] == [what]


def test_no_tracked_file_is_large() -> None:
    large = [str(path.relative_to(REPO)) for path in tracked() if path.stat().st_size > 1_500_000]
    assert large == []
