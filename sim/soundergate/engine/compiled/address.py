"""Named tuples handed on by their address, so that a part of the kernel takes one number for each.

Numba hands a tuple on by value: every array in it as seven numbers or more, and a night has dozens
of arrays and a hundred parts to hand them to. To write all that down in every part, and to read it
again, would take nearly half of the kernel's compiling. By its address a tuple is one number. Once
all parts stand in the kernel, the compiler sees through the address and keeps what it points at in
registers, so the machine code is the same.

A tuple within the tuple is handed on by its address likewise. An address is good until the function
that called `handed` returns, and must not be given to a part that is `called`: the compiler would
have to keep the tuple in memory for it. In plain Python a tuple is itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba.core import cgutils, types
from numba.core.imputils import lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import intrinsic, models, register_model

from soundergate.engine.compiled.decorators import PLAIN

T = TypeVar("T", bound=tuple[Any, ...])


_Type: Any = types.Type
_Attributes: Any = AttributeTemplate
_Model: Any = models.PrimitiveModel


class Handed(_Type):
    """Numba's type of a named tuple that is handed on by its address."""

    def __init__(self, by_value: Any) -> None:
        self.by_value = by_value
        super().__init__(name=f"address of {by_value}")

    @property
    def key(self) -> Any:
        """What makes two of these types one."""
        return self.by_value

    @property
    def mangling_args(self) -> tuple[str, tuple[Any, ...]]:
        """A short name for symbols of the compiled code."""
        return type(self).__name__, (self._code,)


@register_model(Handed)
class _Address(_Model):
    def __init__(self, manager: Any, typed: Any) -> None:
        super().__init__(manager, typed, cgutils.voidptr_t)


@infer_getattr
class _Members(_Attributes):
    key = Handed

    def generic_resolve(self, handed_on: Any, name: str) -> Any:
        """Type of a member, None if there is none of that name."""
        tuple_type = handed_on.by_value
        if name not in tuple_type.fields:
            return None
        member = tuple_type[tuple_type.fields.index(name)]
        return Handed(member) if isinstance(member, types.BaseNamedTuple) else member


@lower_getattr_generic(Handed)
def _member(context: Any, builder: Any, handed_on: Any, address: Any, name: str) -> Any:
    tuple_type = handed_on.by_value
    index = tuple_type.fields.index(name)
    place = builder.gep(
        address, [context.get_constant(types.intp, _offset(context, tuple_type, index))]
    )
    member = tuple_type[index]
    if isinstance(member, types.BaseNamedTuple):
        return place
    return builder.load(builder.bitcast(place, context.get_value_type(member).as_pointer()))


def _offset(context: Any, tuple_type: Any, index: int) -> int:
    """Where a member begins, in bytes."""
    layout = context.get_value_type(tuple_type)
    if isinstance(tuple_type, types.NamedUniTuple):  # an array, since all are of one type
        return index * cast(int, layout.element.get_abi_size(context.target_data))
    return cast(int, layout.get_element_offset(context.target_data, index))


def _put_aside(_: Any, by_value: Any) -> tuple[Any, Callable[..., Any]]:
    def generate(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.bitcast(cgutils.alloca_once_value(builder, values[0]), cgutils.voidptr_t)

    return Handed(by_value)(by_value), generate


def _itself(by_value: T) -> T:
    return by_value


handed: Callable[[T], T] = _itself if PLAIN else cast(Any, intrinsic(_put_aside))
"""The named tuple, by its address from here on."""
