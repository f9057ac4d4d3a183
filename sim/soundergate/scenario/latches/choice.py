"""Which class of latch a table as written calls for, and the field that holds it.

The keys of a latch and of its puller lie flat in one table, so that there is one class for each
pair, such as `PinSolenoid`; ask `isinstance(latch, Pin)` and `isinstance(latch, Solenoid)`.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any

from pydantic import create_model

from soundergate.scenario.latches.base import LATCHES, PULLERS, Latch
from soundergate.scenario.register import default
from soundergate.scenario.variants import all_classes, chosen, kinds_in, one_of


def _paired(latch: type[Latch], puller: type[Latch]) -> type[Latch]:
    name = f"{latch.__name__}{puller.__name__}"
    return create_model(name, __base__=(latch, puller), __module__=__name__)


PAIRS: dict[tuple[type[Latch], type[Latch]], type[Latch]] = {
    pair: _paired(*pair)
    for pair in product(all_classes(LATCHES), all_classes(PULLERS, key="puller"))
}
LATCH_CLASSES: tuple[type[Latch], ...] = tuple(PAIRS.values())
globals().update({cls.__name__: cls for cls in LATCH_CLASSES})  # a pickle finds a class by its name


def latch_class(table: dict[str, Any]) -> type[Latch]:
    """The class that a latch table as written calls for."""
    latches, pullers = kinds_in(LATCHES), kinds_in(PULLERS, key="puller")
    kind = chosen(table, "kind", tuple(latches), default("opening.latch.kind"))
    puller = chosen(table, "puller", tuple(pullers), default("opening.latch.puller"))
    return PAIRS[latches[kind].CLASSES[0], pullers[puller].CLASSES[0]]


def common_keys() -> set[str]:
    """The keys that every latch has."""
    return set(Latch.model_fields)


def latch_keys() -> set[str]:
    """The keys that a latch has by its kind, the key "kind" among them."""
    return {key for cls in all_classes(LATCHES) for key in cls.model_fields} - common_keys()


def puller_keys() -> set[str]:
    """The keys that a latch has by what pulls it, the key "puller" among them."""
    classes = all_classes(PULLERS, key="puller")
    return {key for cls in classes for key in cls.model_fields} - common_keys()


if TYPE_CHECKING:
    LatchField = Latch
else:
    LatchField = one_of(latch_class, LATCH_CLASSES)
