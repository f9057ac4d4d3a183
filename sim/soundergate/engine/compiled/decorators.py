"""The one place that uses Numba: how shared functions and kernels are compiled and cached.

Numba keeps compiled code by the file a function stands in and does not notice an edit in another
file that the function calls. The cache folder therefore carries a hash of every source that the
kernel is compiled from and of the versions that shape the machine code, so an edit can never meet
a stale binary, and an edit elsewhere compiles nothing.
"""

from __future__ import annotations

import multiprocessing
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.core import event
from numba.extending import register_jitable

from soundergate.engine.compiled import cache

F = TypeVar("F", bound=Callable[..., Any])

PLAIN: bool = numba.config.DISABLE_JIT  # type: ignore[attr-defined]
"""Whether everything runs as plain Python: NUMBA_DISABLE_JIT=1."""

_KERNEL = Path(__file__).parents[1].joinpath("kernel", "night.py")
_STACKED = _KERNEL.with_name("stacked.py")
"""What calls the kernel in compiled code, and so stands on all that it is compiled from."""


def _prepare_cache() -> Path | None:
    """A folder for code of these very sources, or None: then it is compiled for this run alone."""
    name = cache.fingerprint(cache.sources(_STACKED), numba.__version__)
    try:
        return cache.folder(name)
    except cache.NotPrivate as why:
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

_DOCUMENTED: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
"""No fastmath and no parallel loops: both would change the bits."""


def cache_is_warm() -> bool:
    """Whether an earlier process left the batch kernel compiled in the cache."""
    return CACHE is not None and any(CACHE.rglob(f"{_KERNEL.stem}.*.nbi"))


_COUNTS_NOTHING: dict[str, Any] = {"_nrt": False}
"""Compiled code never allocates, and to count references to every array that is handed on would
cost six times the night itself."""
_INLINE: dict[str, Any] = {"forceinline": True}
"""Into its caller, so that the kernel reads as many parts and runs as one loop."""


def _numba_has_them() -> bool:
    """Whether this Numba has these options, which its documentation does not list.

    Without them it is slower to compile and to run, and the nights are the same. To try them takes
    a quarter of a second, so it is done once for each cache: what lies there was compiled with
    them, unless a file says otherwise.
    """
    without = CACHE / "documented-options-only" if CACHE is not None else None
    if cache_is_warm() and without is not None:
        return not without.exists()
    try:
        numba.njit(**_COUNTS_NOTHING, **_INLINE)(lambda x: x).compile("f8(f8)")
    except Exception:  # whatever a Numba to come says of an option that is gone
        if without is not None:
            without.touch()
        return False
    return True


if not PLAIN and not _numba_has_them():
    _COUNTS_NOTHING, _INLINE = {}, {}

_functions: set[Callable[..., Any]] = set()
_shared: list[tuple[Any, str]] = []
_settling = threading.Lock()
_told: list[Callable[[float], None]] = []


def _made(function: F, **options: Any) -> F:
    _functions.add(function)
    return cast(F, numba.njit(**_DOCUMENTED, **_COUNTS_NOTHING, **options)(function))


def compiled(function: F) -> F:
    """Compiled when first called, and kept on disk."""
    return _made(function, cache=CACHE is not None)


def compiled_as(signature: str) -> Callable[[F], F]:
    """For a function of both engines, of one signature such as "f8(i8, f8)"."""
    return lambda function: _of_both_engines(function, signature, {})


def inlined_as(signature: str) -> Callable[[F], F]:
    """The same, always inlined into its caller, so that a loop can work on several at once."""
    return lambda function: _of_both_engines(function, signature, _INLINE)


def _of_both_engines(function: F, signature: str, options: dict[str, Any]) -> F:
    made = _made(function, cache=CACHE is not None, **options)
    if not PLAIN:
        _shared.append((made, signature))
    return made


def called(function: F) -> F:
    """For a part of the kernel: plain Python for Python, compiled for compiled code."""
    return _part(function, {})


def inlined(function: F) -> F:
    """The same, always inlined into its compiled caller."""
    return _part(function, _INLINE)


def _part(function: F, options: dict[str, Any]) -> F:
    _functions.add(function)
    return register_jitable(**_DOCUMENTED, **_COUNTS_NOTHING, **options)(function)


def settle_signatures() -> None:
    """Compile every shared function for its own signature, and for no other from then on.

    Otherwise Numba would compile it anew for every constant that compiled code calls it with.
    """
    with _settling:
        while _shared:
            function, signature = _shared[0]
            function.compile(signature)
            function.disable_compile()
            del _shared[0]


def call(function: Callable[..., None], *arguments: Any) -> None:
    """Call what `compiled` made, and compile it if this is the first time."""
    if not getattr(function, "signatures", True) and not cache_is_warm():
        for tell in _told:
            tell(0.0)
        settle_signatures()
    function(*arguments)


def on_progress(tell: Callable[[float], None]) -> None:
    """Have ``tell`` called with 0 before anything is compiled that takes long, and then with the
    share of functions compiled, up to 1, as each is done."""
    if not _told:
        event.register("numba:compile", _Listener())
    _told.append(tell)


class _Listener(event.Listener):
    def __init__(self) -> None:
        self.done: set[Callable[..., Any]] = set()

    def on_start(self, _: Any) -> None:
        pass

    def on_end(self, ended: Any) -> None:
        function = ended.data["dispatcher"].py_func
        if function in _functions and function not in self.done:
            self.done.add(function)
            for tell in _told:
                tell(len(self.done) / len(_functions))
