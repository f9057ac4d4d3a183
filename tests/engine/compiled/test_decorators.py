"""What Numba compiles, when, and that nights are the same with and without options of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from soundergate.engine.compiled import decorators
from soundergate.engine.compiled.decorators import compiled, compiled_as, inlined_as

COMPILED_BY_IMPORTS = """
import soundergate.engine.kernel.batch, soundergate.engine.reference.night
from soundergate.engine.compiled import decorators
print(len(decorators._shared), sum(len(made.signatures) for made, _ in decorators._shared))
"""

PLAY = """
import hashlib
import numba
{change}
from soundergate.engine.kernel.batch import play_batch
from soundergate.engine.build import build
from soundergate.mechanics.setup import solve
from soundergate.scenario.examples import text
from soundergate.scenario.loading import loads

scenario = loads(text("line"))
nights = play_batch(build(scenario, solve(scenario)), 3, 0, 2000)
print(hashlib.sha256(b"".join(nights[name].tobytes() for name in nights)).hexdigest())
"""
WITHOUT_OPTIONS = """
njit, documented = numba.njit, {"nogil", "error_model", "cache"}
def refusing(function=None, **options):
    if options.keys() - documented:
        raise KeyError("unrecognized options")
    return njit(function, **options) if function else njit(**options)
numba.njit = refusing
"""


def test_nothing_is_compiled_before_it_is_called() -> None:
    command = [sys.executable, "-c", COMPILED_BY_IMPORTS]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    shared, signatures = map(int, ran.stdout.split())
    assert shared >= 25
    assert signatures == 0


@pytest.mark.parametrize("decorator", [compiled_as, inlined_as])
def test_a_shared_function_has_one_signature_whatever_it_is_called_with(decorator: Any) -> None:
    @decorator("f8(f8, i8)")
    def power(x: float, n: int) -> float:
        return x if n == 1 else x * x

    @compiled
    def from_compiled_code(x: float, made: Any) -> None:
        made[0] = power(x, 2) + power(2, 1) + power(True, 2)

    decorators.settle_signatures()
    assert power(3, 2) == 9.0
    assert power(np.float32(0.5), True) == 0.5
    made = np.zeros(1)
    from_compiled_code(3.0, made)
    assert made[0] == 12.0
    assert [str(s) for s in power.nopython_signatures] == ["(float64, int64) -> float64"]


def test_progress_is_a_share_of_the_functions_that_the_engine_has(monkeypatch) -> None:
    """Each once, however often it is compiled, and none that is not the engine's."""
    told: list[float] = []
    monkeypatch.setattr(decorators, "_told", [told.append])
    monkeypatch.setattr(decorators, "_functions", {len, abs, min, max})
    listener = decorators._Listener()
    for function in (len, abs, len, print, min):
        ended = SimpleNamespace(data={"dispatcher": SimpleNamespace(py_func=function)})
        listener.on_end(ended)
    assert told == [0.25, 0.5, 0.75]


@pytest.mark.slow
def test_nights_are_the_same_where_numba_knows_no_option_of_ours(tmp_path) -> None:
    """With ours from the cache of whoever runs this, so that the engine is compiled once and not
    twice."""

    def played(change: str) -> str:
        environment = os.environ | ({"XDG_CACHE_HOME": str(tmp_path)} if change else {})
        command = [sys.executable, "-c", PLAY.format(change=change)]
        return subprocess.run(
            command, env=environment, capture_output=True, text=True, check=True
        ).stdout

    compiled = played("")
    for _ in ("compiling", "from what was compiled"):
        assert played(WITHOUT_OPTIONS) == compiled != ""
