"""How the parts of the kernel are compiled: lowered, and linked once, into what Python calls.

Numba makes finished machine code of every function, also of one that is only ever laid into its
callers, which took a third of the kernel's compiling; and a part that was optimised by itself
leaves less to be gained where it ends up. It also links all that a function calls into it, so that
a part would be copied into every part above it on the way to the kernel. Parts skip all three,
through Numba's own hook for custom compilers (`CompilerBase.define_pipelines`), and a whole links
every part below it. Should Numba rename what is overridden here, parts are compiled like any other
function: slower to compile, the same results.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, NoReturn, TypeVar

from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler, CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.registry import CPUDispatcher
from numba.core.untyped_passes import TranslateByteCode

_OVERRIDDEN = (
    "finalize",
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
    """The code of one part and of nothing that it calls."""

    def finalize(self) -> None:
        self._finalize_dynamic_globals()
        self._finalized = True

    def get_pointer_to_function(self, name: str) -> int:
        return 0

    @property
    def codegen(self) -> _NoMachineCode:
        return _NoMachineCode()


class _WholeLibrary(JITCodeLibrary):
    """The code of a function with all parts below it."""

    def finalize(self) -> None:
        self._linking_libraries = list(_with_all_below(self._linking_libraries))
        super().finalize()


def _with_all_below(libraries: Iterable[Any]) -> dict[Any, None]:
    """Each library once, in the order in which they are met."""
    met: dict[Any, None] = {}
    ahead = list(libraries)[::-1]
    while ahead:
        library = ahead.pop()
        if library not in met:
            met[library] = None
            if isinstance(library, _PartLibrary):
                ahead.extend(library._linking_libraries[::-1])
    return met


class _IntoLibrary(FunctionPass):
    """Let the function be lowered into a library of a kind."""

    kind: type[JITCodeLibrary]

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        state.library = self.kind(state.targetctx.codegen(), state.func_id.func_qualname)
        state.library.enable_object_caching()
        return False


@register_pass(mutates_CFG=False, analysis_only=True)
class _AsPart(_IntoLibrary):
    _name = "soundergate_part"
    kind = _PartLibrary


@register_pass(mutates_CFG=False, analysis_only=True)
class _AsWhole(_IntoLibrary):
    _name = "soundergate_whole"
    kind = _WholeLibrary


class _PartCompiler(CompilerBase):
    """Numba's own compiler, but for where the code goes."""

    into: type[_IntoLibrary] = _AsPart

    def define_pipelines(self) -> list[Any]:
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(self.into, TranslateByteCode)
        passes.finalize()
        return [passes]


class _WholeCompiler(_PartCompiler):
    into = _AsWhole


_KNOWN = all(hasattr(JITCodeLibrary, name) for name in _OVERRIDDEN)

OF_PART: dict[str, Any] = {"pipeline_class": _PartCompiler} if _KNOWN else {}
"""For `numba.njit` of a part."""
OF_WHOLE: dict[str, Any] = {"pipeline_class": _WholeCompiler} if _KNOWN else {}
"""For `numba.njit` of what calls parts and is no part."""

Dispatcher: Any = CPUDispatcher
"""Numba's: what compiles a function for the types that it is called with."""

D = TypeVar("D", bound=Dispatcher)


class Part(Dispatcher):
    """Of a part, which has no entry for Python."""

    def __call__(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError(f"{self.__name__} is a part of compiled code: call it from there")


def dispatcher(kind: type[D], function: Callable[..., Any], options: dict[str, Any]) -> D:
    """What `numba.njit` makes of a function, of another kind."""
    known = ("cache", "pipeline_class")
    of_target = {name: value for name, value in options.items() if name not in known}
    made: Any = kind(
        function,
        targetoptions={"nopython": True} | of_target,
        pipeline_class=options.get("pipeline_class", Compiler),
    )
    if options["cache"]:
        made.enable_caching()
    return made
