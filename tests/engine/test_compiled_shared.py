"""A function of both engines is compiled when first called, for one signature, in two forms."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import Any, cast

import numpy as np
import pytest

from soundergate.engine.compiled.decorators import (
    called,
    compiled,
    compiled_as,
    inlined,
    inlined_as,
)

COMPILED_BY_IMPORTS = """
import soundergate.engine.kernel.batch, soundergate.engine.reference
from soundergate.engine import breakout, clocks, draws, elementary, normal, philox
rooms = (breakout, clocks, draws, elementary, normal, philox)
shared = {id(f): f for room in rooms for f in vars(room).values() if hasattr(f, "part")}
forms = [form for f in shared.values() for form in (f, f.part)]
print(len(forms), sum(len(form.signatures) for form in forms))
"""


def test_nothing_is_compiled_before_it_is_called() -> None:
    command = [sys.executable, "-c", COMPILED_BY_IMPORTS]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    forms, signatures = map(int, ran.stdout.split())
    assert forms >= 40
    assert signatures == 0


@pytest.mark.parametrize("decorator", [compiled_as, inlined_as])
def test_it_has_one_signature_whatever_it_is_called_with(decorator) -> None:
    @decorator("f8(f8, i8)")
    def power(x: float, n: int) -> float:
        return x if n == 1 else x * x

    @compiled
    def from_compiled_code(x: float, made: Any) -> None:
        made[0] = power(x, 2) + power(2, 1) + power(True, 2)

    assert power(3, 2) == 9.0
    assert power(3.0, np.int64(1)) == 3.0
    assert power(np.float32(0.5), True) == 0.5
    made = np.zeros(1)
    from_compiled_code(3.0, made)
    assert made[0] == 12.0
    for form in (power, cast(Any, power).part):
        assert [str(s) for s in form.nopython_signatures] == ["(float64, int64) -> float64"]


def test_threads_may_call_it_first_all_at_once() -> None:
    @compiled_as("f8(f8)")
    def twice(x: float) -> float:
        return x + x

    with ThreadPoolExecutor(8) as threads:
        assert list(threads.map(twice, range(64))) == [2.0 * x for x in range(64)]


def test_compiled_code_takes_the_part() -> None:
    @compiled_as("f8(f8)")
    def half(x: float) -> float:
        return 0.5 * x

    @compiled
    def quarter(x: float) -> float:
        return half(half(x))

    assert quarter(8.0) == 2.0
    assert cast(Any, half).part.signatures
    assert not cast(Any, half).signatures


def test_what_is_called_is_not_laid_into_an_inlined_caller_for_that() -> None:
    """Numba hands flags down to what is compiled meanwhile, if it has none of its own."""

    @called
    def below(x: float) -> float:
        return x + 1.0

    @inlined
    def above(x: float) -> float:
        return below(x)

    @compiled
    def whole(x: float) -> float:
        return above(x)

    assert whole(1.0) == 2.0
    for function, laid_in in ((below, False), (above, True)):
        ((result,),) = (cast(Any, function).overloads.values(),)
        name = result.fndesc.llvm_func_name
        kept = result.library.get_function(name)
        assert ("alwaysinline" in {str(a.decode()) for a in kept.attributes}) is laid_in
