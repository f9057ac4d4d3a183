"""Functions of both engines: a part where compiled code calls them, a whole where Python does.

Each has one signature. Without it Numba would compile them anew for every constant that they are
called with. Neither form is compiled before somebody calls it: whoever only plays batches never
waits for what the reference engine calls.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

from numba.core import types
from numba.core.compiler_lock import global_compiler_lock

from soundergate.engine.compiled.parts import Dispatcher, Part, dispatcher


def shared(
    function: Callable[..., Any],
    signature: str,
    whole: dict[str, Any],
    part: dict[str, Any],
    meanwhile: Callable[[], AbstractContextManager[None]],
) -> Any:
    """A function of both engines.

    Parameters
    ----------
    function : callable
    signature : str
        Such as "f8(i8, f8)".
    whole, part : dict
        Options of `numba.njit` for either form.
    meanwhile : callable
        Makes the context in which it is compiled.

    Returns
    -------
    callable from Python and from compiled code
    """
    made = dispatcher(_OfOneSignature, function, whole)
    made.part = dispatcher(_PartOfOneSignature, function, part)
    for form in (made, made.part):
        form.of, form.meanwhile = signature, meanwhile
    return made


class _OfOneSignature(Dispatcher):
    """Compiles for its own signature, whatever it is called with, and only once."""

    of: str
    part: _OfOneSignature | None = None
    meanwhile: Callable[[], AbstractContextManager[None]]

    def compile(self, sig: Any) -> Any:
        """Numba's hook; ``sig`` is what it was called with. Threads may come at once."""
        with global_compiler_lock, self.meanwhile():
            if not self.signatures:
                super().compile(self.of)
                self.disable_compile()
        (made,) = self.overloads.values()
        return made.entry_point

    @property
    def _numba_type_(self) -> Any:
        """What compiled code takes this for."""
        return types.Dispatcher(self.part or self)


class _PartOfOneSignature(_OfOneSignature, Part):
    """The form for compiled code."""
