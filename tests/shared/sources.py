"""The package's own source files, each read and parsed once for all tests that look at them."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "sim" / "soundergate"
MODULES = tuple(sorted(PACKAGE.rglob("*.py")))


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All nodes of a module."""
    return tuple(ast.walk(parsed(path)))
