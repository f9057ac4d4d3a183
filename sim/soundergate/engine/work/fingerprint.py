"""Work done in another process, perhaps on another machine: that it gives the very same bits.

Whoever works for us must run the same sources on the same versions, and its compiled code must
round as ours does. Every answer carries a fingerprint of that, and one that differs is refused, so
that a cluster of unlike machines cannot give a result that depends on who did what. A plan is made
here and handed over, so the mathematical library of a worker does not matter.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from soundergate.engine.work.chunks import Chunk, Work
from soundergate.scenario.errors import ScenarioError

_VERSIONS = ("soundergate", "numpy", "numba", "simpy")
_PROBES = 2_000
SOURCES = "soundergate source code"
REMEDY = "install the same versions on every worker and start the workers anew"


class Answer(NamedTuple):
    """A result and what it was computed with."""

    made_with: dict[str, str]
    result: Any


@cache
def made_with() -> dict[str, str]:
    """What the bits of a night depend on: versions, sources, and how functions round here."""
    return {
        "python": ".".join(platform.python_version_tuple()[:2]),
        **{name: version(name) for name in _VERSIONS},
        SOURCES: _sources(Path(str(files("soundergate")))),
        "rounding of compiled functions": _rounding(),
    }


def _sources(package: Path) -> str:
    """A digest of the whole package: nights are also summed up where they are played."""
    digest = hashlib.sha256()
    for source in sorted(package.rglob("*.py")):
        digest.update(source.relative_to(package).as_posix().encode() + source.read_bytes())
    return digest.hexdigest()[:16]


def _rounding() -> str:
    """A digest of what the compiled functions that make a night's numbers give here."""
    from soundergate.engine.luck.draws import gamma_sample
    from soundergate.engine.luck.elementary import exp, ln
    from soundergate.engine.luck.normal import normal_quantile

    values = hashlib.sha256()
    for step in range(1, _PROBES):
        x = step * 0.731 % 7.0 + 1e-3
        gamma = gamma_sample(x, 1.0, 0, step, 1, 0, 0)
        row = (ln(x), exp(-x), exp(x), normal_quantile(step / _PROBES), gamma)
        values.update(repr(row).encode())
    return values.hexdigest()[:16]


def do(job: Work[Any], chunk: Chunk) -> Answer:
    """Done by the worker."""
    return Answer(made_with(), job(chunk))


def differences(theirs: Mapping[str, str]) -> list[str]:
    """In words, each thing in which what somebody computes with differs from what we have here.

    Where a version differs, sources and rounding may well do so too, which is not said.
    """
    here = made_with()
    unlike = [name for name in here if theirs.get(name) != here[name]]
    versions = [name for name in unlike if name in ("python", *_VERSIONS)]
    return [f"its {name} is {theirs.get(name)}, here {here[name]}" for name in versions or unlike]


def checked(answer: Answer) -> Any:
    """The result, if it was computed with what we have here.

    Raises
    ------
    ScenarioError
        Naming what differs.
    """
    if unlike := differences(answer.made_with):
        raise ScenarioError(
            f"a worker does not compute as this machine does: {', '.join(unlike)}", hint=REMEDY
        )
    return answer.result
