"""Compiled code is kept where nobody else can put any; an edit elsewhere compiles nothing anew."""

from __future__ import annotations

import ast
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from shared.sources import MODULES, PACKAGE, nodes
from soundergate.engine.compiled import cache as compiled_cache
from soundergate.engine.compiled import decorators as compiled
from soundergate.engine.compiled.cache import NotPrivate, fingerprint, folder, sources

KERNEL = PACKAGE / "engine" / "kernel" / "stacked.py"
DECORATORS = {"compiled", "compiled_as", "inlined", "inlined_as", "called"}
NOBODY = 65534

needs_root = pytest.mark.skipif(
    not hasattr(os, "getuid") or os.getuid() != 0, reason="only root can give files away"
)


def imports(path: Path) -> set[Path]:
    """What Python's own parser says that a module imports of this package."""
    found = set()
    for node in nodes(path):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative imports are not followed"
            names = [f"{node.module}.{name.name}" for name in node.names] + [str(node.module)]
        elif isinstance(node, ast.Import):
            names = [name.name for name in node.names]
        for name in names:
            module = PACKAGE.parent.joinpath(*name.split(".")).with_suffix(".py")
            if name.startswith("soundergate.") and module.exists():
                found.add(module)
    return found


def test_every_source_of_the_kernel_is_found() -> None:
    met, ahead = set(), {KERNEL}
    while ahead:
        met |= ahead
        ahead = set().union(*map(imports, ahead)) - met
    assert met <= set(sources(KERNEL))


def test_every_module_with_compiled_functions_is_a_source() -> None:
    """Whatever is kept compiled, in this package, is kept under the name of its own source."""
    found = set(sources(KERNEL))
    for path in MODULES:
        for node in nodes(path):
            for decorator in getattr(node, "decorator_list", ()):
                name = getattr(getattr(decorator, "func", decorator), "id", "")
                assert name not in DECORATORS or path in found, path.name


@pytest.mark.slow
def test_what_else_the_engine_holds_compiles_nothing_anew(tmp_path, monkeypatch) -> None:
    copy = tmp_path / "soundergate"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(compiled_cache, "_PACKAGE", copy)
    kernel = copy / "engine" / "kernel" / "night.py"
    used = sources(kernel)
    before = fingerprint(used, "0.1")
    assert fingerprint(used, "0.2") != before
    for path in sorted(copy.rglob("*.py")):
        text = path.read_bytes()
        path.write_bytes(text + b"\n# another line\n")
        assert (fingerprint(sources(kernel), "0.1") != before) == (path in used), path
        path.write_bytes(text)
    others = ("work/cluster", "trace/labels", "reference/night", "work/processes", "outcomes")
    for name in others:
        assert copy / "engine" / f"{name}.py" not in used


@pytest.mark.parametrize(
    "line",
    [
        "from soundergate.engine import codes, plan",
        "from soundergate.engine import (\n    codes,  # numbers\n    plan as p,\n)",
        "    from soundergate.engine.codes import A\nfrom soundergate.engine.plan import (\nB)",
        "import soundergate.engine.codes\nimport soundergate.engine.plan as plan",
    ],
)
def test_imports_in_every_form_are_followed(line) -> None:
    found = {path.name for path in compiled_cache._imported(f"import os\n{line}\nx = 1\n")}
    assert found == {"codes.py", "plan.py"}


# ---- the folder -----------------------------------------------------------------------------


@pytest.fixture
def root(tmp_path, monkeypatch):
    place = tmp_path / "cache"
    monkeypatch.setenv("XDG_CACHE_HOME", str(place))
    return place


def test_it_is_closed_to_others_whatever_the_mask(root) -> None:
    before = os.umask(0o022)
    try:
        made = folder("abc")
    finally:
        os.umask(before)
    assert made == root.resolve() / "soundergate" / "abc"
    for path in (made, made.parent):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700
    assert folder("abc") == made


def test_one_of_ours_that_others_could_read_is_closed(root) -> None:
    made = folder("abc")
    made.chmod(0o755)
    made.parent.chmod(0o755)
    (made / "inside").mkdir(mode=0o755)
    assert folder("abc") == made
    assert stat.S_IMODE(made.stat().st_mode) == stat.S_IMODE(made.parent.stat().st_mode) == 0o700


PLACES = {
    "the way to it": "..",
    "ours": ".",
    "the folder": "abc",
    "inside": "abc/in",
    "a file": "abc/in/x",
}


@pytest.fixture
def places(root) -> dict[str, Path]:
    made = folder("abc")
    (made / "in").mkdir()
    (made / "in" / "x").write_bytes(b"code")
    return {name: (made.parent / path).resolve() for name, path in PLACES.items()}


@pytest.mark.parametrize("name", PLACES)
def test_what_others_may_write_to_is_refused(places, name) -> None:
    places[name].chmod(0o777)
    with pytest.raises(NotPrivate, match=f"others may write to .*{places[name].name}"):
        folder("abc")


@needs_root
@pytest.mark.parametrize("name", PLACES)
def test_what_is_another_users_is_refused(places, name) -> None:
    os.chown(places[name], NOBODY, -1)
    with pytest.raises(NotPrivate, match=f"{places[name].name} is another user's"):
        folder("abc")


@needs_root
@pytest.mark.parametrize("name", ["the way to it", "ours", "the folder"])
def test_what_another_group_may_write_to_is_refused(places, name) -> None:
    places[name].chmod(0o775)
    folder("abc")  # its own group: root's
    places[name].chmod(0o775)
    os.chown(places[name], -1, NOBODY)
    with pytest.raises(NotPrivate, match="others may write to"):
        folder("abc")


@pytest.mark.parametrize("name", ["the folder", "inside", "a file"])
def test_links_in_it_are_refused(places, tmp_path, name) -> None:
    moved = tmp_path / "elsewhere"
    places[name].rename(moved)
    places[name].symlink_to(moved)
    with pytest.raises(NotPrivate, match=f"{places[name].name} is a link"):
        folder("abc")


def test_a_link_to_a_private_place_is_followed_and_one_to_an_open_place_refused(
    tmp_path, monkeypatch
) -> None:
    for name in ("mine", "open"):
        (tmp_path / name).mkdir()
        (tmp_path / f"to {name}").symlink_to(tmp_path / name)
    (tmp_path / "open").chmod(0o777)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "to mine"))
    assert folder("abc") == (tmp_path / "mine").resolve() / "soundergate" / "abc"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "to open"))
    with pytest.raises(NotPrivate):
        folder("abc")


def test_a_folder_that_cannot_be_made_is_done_without(tmp_path, monkeypatch) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert folder("abc") is None


def test_code_that_may_be_planted_is_not_run_and_that_is_said(tmp_path) -> None:
    """In a process of its own: what would be loaded is neither read nor written."""
    shared = tmp_path / "shared"
    planted = shared / "soundergate" / compiled_name()
    planted.mkdir(parents=True)
    shared.chmod(0o777)
    script = (
        "import numba\n"
        "from soundergate.engine.compiled import decorators\n"
        "from soundergate.engine.luck.elementary import exp\n"
        "assert decorators.CACHE is None and exp(0.0) == 1.0\n"
        f"assert {str(shared)!r} not in str(numba.config.CACHE_DIR)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        env=os.environ | {"XDG_CACHE_HOME": str(shared)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    told = f"Compiled code is not kept, nor taken from what is there: others may write to {shared}."
    assert done.stderr.splitlines() == [told + " XDG_CACHE_HOME may name a folder of your own."]
    assert list(planted.iterdir()) == []


def compiled_name() -> str:
    import numba

    return fingerprint(sources(compiled._KERNEL), numba.__version__)
