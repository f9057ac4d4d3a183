"""Every kind has a module of its name in each room that it concerns, and no room knows more."""

from __future__ import annotations

import ast
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from pkgutil import iter_modules

import pytest

from soundergate.engine import build
from soundergate.engine.codes import TRIGGER_CODES
from soundergate.kinds import module_name, module_of
from soundergate.scenario.gates.choice import GATE_CLASSES, GATES
from soundergate.scenario.latches.base import LATCHES, PULLERS
from soundergate.scenario.triggers.base import TRIGGERS
from soundergate.scenario.variants import kinds_in, value_of

KEYS = ((GATES, "kind"), (LATCHES, "kind"), (PULLERS, "puller"), (TRIGGERS, "kind"))
MECHANICS, FIGURES = "soundergate.mechanics", "soundergate.report.figures"
DRAWN = [kind for kind, module in kinds_in(TRIGGERS).items() if module.CLASSES[0].releases]


def offering(folder: str, name: str) -> set[str]:
    """The modules of a folder that define ``name``, shared parts of kinds apart."""
    package = import_module(folder)
    modules = {found.name for found in iter_modules(package.__path__)} - {"entrance"}
    return {one for one in modules if hasattr(import_module(f"{folder}.{one}"), name)}


def names(folder: str, key: str = "kind") -> set[str]:
    return {module_name(kind) for kind in kinds_in(folder, key)}


@pytest.mark.parametrize(("folder", "key"), KEYS)
def test_a_kind_is_called_as_its_module_and_stands_in_its_own_place(folder: str, key: str) -> None:
    found = kinds_in(folder, key)
    for kind, module in found.items():
        assert module is module_of(folder, kind)
        assert {value_of(cls, key) for cls in module.CLASSES} == {kind}
        assert all(cls.__module__ == module.__name__ for cls in module.CLASSES)
        assert len(module.CLASSES) == 1 or hasattr(module, "CHOICE")
    assert [module.PLACE for module in found.values()] == list(range(1, len(found) + 1))


@pytest.mark.parametrize(
    ("keys", "key", "room", "offers"),
    [
        (GATES, "kind", f"{MECHANICS}.gates", "solve"),
        (LATCHES, "kind", f"{MECHANICS}.latches", "solve"),
        (PULLERS, "puller", f"{MECHANICS}.pullers", "solve"),
        (GATES, "kind", f"{FIGURES}.gates", "draw"),
        (TRIGGERS, "kind", "soundergate.triggers", "row"),
        (TRIGGERS, "kind", "soundergate.triggers", "durations"),
    ],
)
def test_what_has_keys_has_a_solver_and_a_picture(
    keys: str, key: str, room: str, offers: str
) -> None:
    assert offering(room, offers) == names(keys, key)


def test_every_trigger_that_releases_has_a_picture_and_every_one_a_code() -> None:
    pictures = f"{FIGURES}.triggers"
    drawn = {module_name(kind) for kind in DRAWN}
    assert offering(pictures, "draw") == offering(pictures, "CAPTION") == drawn
    assert set(TRIGGER_CODES) == set(kinds_in(TRIGGERS))


def test_the_builder_of_plans_knows_no_kind_of_trigger_by_name() -> None:
    tree = ast.parse(Path(build.__file__).read_text(encoding="utf-8"))
    froms = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not [name for name in froms if "triggers" in name.split(".")]
    texts = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)}
    assert not texts & set(TRIGGER_CODES)


def test_only_gates_that_have_a_latch_say_what_would_load_it() -> None:
    latched = {module_name(value_of(cls, "kind")) for cls in GATE_CLASSES if not cls.one_way}
    assert offering(f"{MECHANICS}.gates", "unloaded") == latched


@pytest.mark.parametrize(
    ("keys", "key", "folder"),
    [(GATES, "kind", "gates"), (LATCHES, "kind", "latches"), (PULLERS, "puller", "pullers")],
)
def test_advice_is_about_kinds_that_there_are(keys: str, key: str, folder: str) -> None:
    package = import_module(f"{MECHANICS}.advice.{folder}")
    assert {found.name for found in iter_modules(package.__path__)} <= names(keys, key)


def test_a_kind_that_is_not_there_has_no_module() -> None:
    assert find_spec(f"{GATES}.drop") is not None
    with pytest.raises(ModuleNotFoundError):
        module_of(GATES, "portcullis")
