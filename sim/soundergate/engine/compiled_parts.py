"""How the parts of the kernel are compiled: lowered and linked into their callers, and no further.

Numba makes finished machine code of every function, also of one that is only ever laid into its
callers, which took a third of the kernel's compiling; and a part that was optimised by itself
leaves less to be gained where it ends up. Parts skip both, through Numba's own hook for custom
compilers (`CompilerBase.define_pipelines`). Should Numba rename what is overridden here, parts are
compiled like any other function: slower to compile, the same results.
"""

from __future__ import annotations

from typing import Any

from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.untyped_passes import TranslateByteCode

_OVERRIDDEN = (
    "_optimize_final_module",
    "_finalize_final_module",
    "_finalize_dynamic_globals",
    "get_pointer_to_function",
    "codegen",
)


class _NoMachineCode:
    """Stands for the code generator where a finished function would be given its environment."""

    def set_env(self, name: str, environment: Any) -> None:
        pass


class _PartLibrary(JITCodeLibrary):
    """The code of one part, to be linked into others."""

    def _optimize_final_module(self) -> None:
        pass

    def _finalize_final_module(self) -> None:
        self._finalize_dynamic_globals()
        self._finalized = True

    def get_pointer_to_function(self, name: str) -> int:
        return 0

    @property
    def codegen(self) -> _NoMachineCode:
        return _NoMachineCode()


@register_pass(mutates_CFG=False, analysis_only=True)
class _AsPart(FunctionPass):
    """Let the function be lowered into a library of a part."""

    _name = "soundergate_part"

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        state.library = _PartLibrary(state.targetctx.codegen(), state.func_id.func_qualname)
        state.library.enable_object_caching()
        return False


class _PartCompiler(CompilerBase):
    """Numba's own compiler, but for where the code goes."""

    def define_pipelines(self) -> list[Any]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(_AsPart, TranslateByteCode)
        passes.finalize()
        return [passes]


OPTIONS: dict[str, Any] = (
    {"pipeline_class": _PartCompiler}
    if all(hasattr(JITCodeLibrary, name) for name in _OVERRIDDEN)
    else {}
)
"""For `numba.njit` of a part."""
