"""Kinds found by name: what concerns one kind stands in a module of its name, in every room.

The module is called as a scenario file calls the kind, with an underscore for a space or a hyphen:
"top-hinged" is `scenario/gates/top_hinged.py` (its keys), `mechanics/gates/top_hinged.py` (its
motion) and `report/figures/gates/top_hinged.py` (its sketch).
"""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Any


def module_name(kind: str) -> str:
    """The name of the modules of a kind: "push panel" gives "push_panel"."""
    return kind.replace(" ", "_").replace("-", "_")


def module_of(folder: str, kind: str) -> ModuleType:
    """The module of a kind in a folder such as "soundergate.mechanics.gates", imported when asked.

    Raises ModuleNotFoundError where the folder has no module of that name.
    """
    return import_module(f"{folder}.{module_name(kind)}")


def offered(folder: str, kind: str, name: str, otherwise: Any) -> Any:
    """What the module of a kind offers under a name, where not every kind has a module there."""
    if find_spec(f"{folder}.{module_name(kind)}") is None:
        return otherwise
    return getattr(module_of(folder, kind), name, otherwise)
