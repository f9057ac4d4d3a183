"""The one place that uses Numba: how shared functions and kernels are compiled and cached.

Numba keys its on-disk cache by the file a function stands in and does not notice an edit in
another file that the function calls. The cache folder therefore carries a hash of every source
that the kernel is compiled from and of the versions that shape the machine code, so an edit can
never meet a stale binary, and an edit elsewhere compiles nothing.
"""

from __future__ import annotations

import gc
import multiprocessing
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from soundergate.engine.compiled import cache as compiled_cache
from soundergate.engine.compiled import parts as compiled_parts
from soundergate.engine.compiled.parts import Part, dispatcher
from soundergate.engine.compiled.shared import shared

F = TypeVar("F", bound=Callable[..., Any])

PLAIN: bool = numba.config.DISABLE_JIT  # type: ignore[attr-defined]
"""Whether everything runs as plain Python: NUMBA_DISABLE_JIT=1."""

_KERNEL = Path(__file__).parents[1] / "kernel" / "night.py"


def _prepare_cache() -> Path | None:
    """A folder for code of these very sources, or None: then it is compiled for this run alone."""
    name = compiled_cache.fingerprint(compiled_cache.sources(_KERNEL), numba.__version__)
    try:
        return compiled_cache.folder(name)
    except compiled_cache.NotPrivate as why:
        if multiprocessing.parent_process() is None:  # said once, and not by every worker
            print(
                f"Compiled code is not kept, nor taken from what is there: {why}. "
                "XDG_CACHE_HOME may name a folder of your own.",
                file=sys.stderr,
            )
        return None


CACHE = _prepare_cache()
if CACHE is not None:
    numba.config.CACHE_DIR = str(CACHE)  # type: ignore[attr-defined]


def compiled(function: F) -> F:
    """Compile on first call. No fastmath and no parallel loops: both would change the bits.

    Compiled code never allocates, so Numba's reference counting is left out: its atomic counts
    at every array handed to a helper would cost more than the night itself.
    """
    return cast(F, numba.njit(**_OPTIONS)(function))


def compiled_as(signature: str) -> Callable[[F], F]:
    """For a function of both engines, of one signature such as "f8(i8, f8)"."""
    return lambda function: _of_both_engines(function, signature, inline=False)


def inlined_as(signature: str) -> Callable[[F], F]:
    """The same, always laid into its caller, so that a loop over it can work on several at once."""
    return lambda function: _of_both_engines(function, signature, inline=True)


def _of_both_engines(function: F, signature: str, inline: bool) -> F:
    if PLAIN:
        return function
    whole, part = (options | {"forceinline": inline} for options in (_OPTIONS, _INNER))
    return cast(F, shared(function, signature, whole, part, _collecting_nothing))


def called(function: F) -> F:
    """For a part of the kernel, which only compiled code calls.

    Left without the wrappers by which Python would call it, it compiles in a fraction of the time.
    """
    return _part(function, inline=False)


def inlined(function: F) -> F:
    """The same, always laid into its caller: the kernel reads as many parts and runs as one."""
    return _part(function, inline=True)


def _part(function: F, inline: bool) -> F:
    if PLAIN:
        return function
    return cast(F, dispatcher(Part, function, _INNER | {"forceinline": inline}))


_OPTIONS: dict[str, Any] = {
    "nogil": True,
    "cache": CACHE is not None,
    "error_model": "numpy",
    "no_cfunc_wrapper": True,
    "_nrt": False,
    **compiled_parts.OF_WHOLE,
}
_INNER = _OPTIONS | {"cache": False, "no_cpython_wrapper": True, **compiled_parts.OF_PART}


def call(function: Callable[..., None], *arguments: Any) -> None:
    """Call what `compiled` made, and compile it if this is the first time."""
    if getattr(function, "signatures", ()):
        function(*arguments)
        return
    with _collecting_nothing():
        function(*arguments)


@contextmanager
def _collecting_nothing() -> Iterator[None]:
    """Compiling makes millions of small objects that all stay; to look through them for garbage
    again and again would take a sixth of the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def cache_is_warm() -> bool:
    """Whether an earlier process left the batch kernel compiled in the cache."""
    return CACHE is not None and any(CACHE.rglob("night.*.nbi"))
