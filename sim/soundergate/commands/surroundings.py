"""What lies in the folder where a command is given, and must not change what it computes."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soundergate.scenario.errors import ScenarioError

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
