"""Parts of the kernel are not compiled twice, and it does not show in the nights."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from soundergate.engine.compiled import parts as compiled_parts
from soundergate.engine.compiled.decorators import compiled, inlined

PLAY = """
import hashlib
from soundergate.engine import compiled_parts
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


def test_numba_has_what_is_overridden() -> None:
    assert compiled_parts.OF_PART
    assert compiled_parts.OF_WHOLE


@inlined
def part(x: float) -> float:
    return x + 1.0


@compiled
def whole(x: float) -> float:
    return 2.0 * part(x)


def test_a_part_has_no_machine_code_of_its_own() -> None:
    part.compile("f8(f8)")
    (result,) = part.overloads.values()
    assert result.library.get_pointer_to_function(result.fndesc.llvm_func_name) == 0
    assert whole(2.0) == 6.0
    (result,) = whole.overloads.values()
    assert result.library.get_pointer_to_function(result.fndesc.llvm_func_name) != 0


def test_a_part_called_from_python_says_so() -> None:
    for _ in range(2):  # compiled by now or not
        with pytest.raises(TypeError, match="part is a part of compiled code"):
            part(1.0)
        assert whole(2.0) == 6.0


@pytest.mark.slow
def test_nights_are_the_same_where_parts_are_compiled_like_any_function(tmp_path) -> None:
    def played(change: str) -> str:
        environment = os.environ | {"XDG_CACHE_HOME": str(tmp_path / (change and "plain"))}
        command = [sys.executable, "-c", PLAY.format(change=change)]
        return subprocess.run(
            command, env=environment, capture_output=True, text=True, check=True
        ).stdout

    assert played("") == played("compiled_parts.OF_PART = compiled_parts.OF_WHOLE = {}") != ""
