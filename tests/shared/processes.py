"""Python in a process of its own, and scripts of this repository taken as modules."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any


def python(*arguments: object, **options: Any) -> subprocess.CompletedProcess[str]:
    """`python ARGUMENTS...`, its output caught as text; options as of `subprocess.run`."""
    command = [sys.executable, *(str(argument) for argument in arguments)]
    usual = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.run(command, **usual | options)


def module_at(path: Path) -> ModuleType:
    """The script at ``path``, imported without being run as a script."""
    spec = importlib.util.spec_from_file_location(f"script_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
