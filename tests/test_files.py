"""Files appear whole or not at all, and never through a link."""

from __future__ import annotations

import ast
import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from shared.sources import MODULES, PACKAGE, nodes
from soundergate import files
from soundergate.files import together, write_bytes, write_text, writing

WRITING = {"write_text", "write_bytes", "savefig", "to_csv", "to_json", "to_html", "tofile", "save"}
"""Methods of others that write to a path: called on what they write to in no module but one."""
IN_MEMORY = {"savefig": {"buffer", "drawn"}}


def writes_by_itself(call: ast.Call) -> bool:
    """Whether a call may write a file in another way than ours."""
    of, arguments = call.func, [ast.unparse(argument) for argument in call.args]
    if ast.unparse(of) in ("open", "io.open", "os.fdopen"):
        mode = [*arguments[1:2], *(ast.unparse(k.value) for k in call.keywords if k.arg == "mode")]
        if arguments[:1] == ["os.devnull"]:  # no file
            return False
        return any(set(how) & set("wax+") for how in mode)
    if not isinstance(of, ast.Attribute) or of.attr not in WRITING or not arguments:
        return False
    if ast.unparse(of.value) in ("style", "json"):
        return False
    return arguments[0] not in IN_MEMORY.get(of.attr, set())


def test_no_module_writes_in_another_way() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{node.lineno}"
        for path in MODULES
        if path.name != "files.py"
        for node in nodes(path)
        if isinstance(node, ast.Call) and writes_by_itself(node)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("code", "seen"),
    [
        ("open(path, 'w')", True),
        ("open(path, mode='ab')", True),
        ("open(os.devnull, 'w')", False),
        ("open(path)", False),
        ("open(path, 'rb')", False),
        ("path.write_text(text)", True),
        ("figure.savefig(path, format='png')", True),
        ("figure.savefig(buffer, format='svg')", False),
        ("table.to_csv(out / 'x.csv', index=False)", True),
        ("table.to_csv(index=False)", False),
    ],
)
def test_what_would_be_seen(code: str, seen: bool) -> None:
    call = ast.parse(code, mode="eval").body
    assert isinstance(call, ast.Call)
    assert writes_by_itself(call) is seen


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_it_stands_there_once_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("old")
    with writing(path) as file:
        file.write(b"new")
        file.flush()
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert names(tmp_path) == ["table.csv"]


def test_it_can_be_read_by_whom_other_new_files_can(tmp_path: Path) -> None:
    (tmp_path / "other").touch()
    path = write_text(tmp_path / "table.csv", "é\n")
    assert path.read_bytes() == "é\n".encode()
    assert path.stat().st_mode == (tmp_path / "other").stat().st_mode


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
def test_whatever_stops_it_leaves_what_was_there(tmp_path: Path, error) -> None:
    path = tmp_path / "table.csv"
    path.write_text("old")

    def half() -> None:
        with writing(path) as file:
            file.write(b"half")
            raise error

    with pytest.raises(error):
        half()
    assert path.read_text() == "old"
    assert names(tmp_path) == ["table.csv"]


@pytest.mark.parametrize("step", ["open", "fsync", "replace"])
def test_a_failure_names_the_file(tmp_path: Path, monkeypatch, step: str) -> None:
    def fails(*arguments, **options):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "some other name")

    monkeypatch.setattr(os, step, fails)
    path = tmp_path / "table.csv"
    with pytest.raises(OSError, match="cannot be written: No space left on device") as failed:
        write_bytes(path, b"data")
    monkeypatch.undo()
    assert failed.value.filename == str(path)
    assert failed.value.errno == errno.ENOSPC
    assert names(tmp_path) == []


@pytest.mark.parametrize("name", ["table.csv", "table.csv.tmp"])
def test_a_link_is_replaced_and_what_it_leads_to_is_not(tmp_path: Path, name: str) -> None:
    other, folder = tmp_path / "other", tmp_path / "out"
    other.write_text("somebody else's")
    folder.mkdir()
    for target in (other, tmp_path / "nowhere", Path("/dev/full")):
        (folder / name).symlink_to(target)
        path = write_text(folder / "table.csv", "ours")
        assert not path.is_symlink()
        assert path.read_text() == "ours"
        assert names(folder) == ["table.csv"]
        path.unlink()
    assert other.read_text() == "somebody else's"
    assert not (tmp_path / "nowhere").exists()


def test_a_hard_link_keeps_what_it_had(tmp_path: Path) -> None:
    (tmp_path / "other").write_text("somebody else's")
    os.link(tmp_path / "other", tmp_path / "table.csv")
    write_text(tmp_path / "table.csv", "ours")
    assert (tmp_path / "other").read_text() == "somebody else's"


def test_what_a_killed_run_left_is_no_hindrance(tmp_path: Path) -> None:
    script = (
        "import os, sys\nfrom soundergate.files import writing\n"
        "with writing(sys.argv[1]) as file:\n file.write(b'half'); file.flush(); os._exit(9)\n"
    )
    path = tmp_path / "table.csv"
    assert subprocess.run([sys.executable, "-c", script, str(path)]).returncode == 9
    assert names(tmp_path) == ["table.csv.tmp"]
    write_text(path, "whole")
    assert names(tmp_path) == ["table.csv"]


def test_two_writers_do_not_mix(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    path = tmp_path / "table.csv"
    with writing(path) as file:
        file.write(b"first")
        with pytest.raises(OSError, match="cannot be written: another run is writing it; wait"):
            write_text(path, "second")
    assert path.read_text() == "first"


@pytest.mark.parametrize("place", ["a folder", "nowhere/table.csv", "a file/table.csv"])
def test_places_that_cannot_be(tmp_path: Path, place: str) -> None:
    (tmp_path / "a folder").mkdir()
    (tmp_path / "a file").touch()
    with pytest.raises(OSError, match="cannot be written: ") as failed:
        write_text(tmp_path / place, "data")
    assert failed.value.filename == str(tmp_path / place)
    assert names(tmp_path) == ["a file", "a folder"]


# ---- files that belong together, and steps that are not cut in two ----------------------------


def write_three(folder: Path, ends_with: BaseException | None = None) -> None:
    with together():
        write_text(folder / "a", "a")
        write_text(folder / "b", "b")
        assert {"a.tmp", "b.tmp"} <= set(names(folder))
        if ends_with is not None:
            raise ends_with
        write_text(folder / "c", "c")


def test_files_that_belong_together_appear_together(tmp_path: Path) -> None:
    write_three(tmp_path)
    assert names(tmp_path) == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("error", "left"), [(KeyboardInterrupt(), []), (OSError("the disk is full"), ["a", "b"])]
)
def test_after_an_interrupt_none_are_left_and_after_an_error_those_that_are_whole(
    tmp_path: Path, error: BaseException, left: list[str]
) -> None:
    with pytest.raises(type(error)):
        write_three(tmp_path, error)
    assert names(tmp_path) == left
    write_three(tmp_path)
    assert names(tmp_path) == ["a", "b", "c"]


def test_one_that_cannot_be_moved_is_named_and_leaves_nothing_unfinished(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "full").touch()

    def write() -> None:
        with together():
            for name in "abc":
                write_text(tmp_path / name, name)

    with pytest.raises(OSError, match="cannot be written") as failed:
        write()
    assert failed.value.filename == str(tmp_path / "b")
    assert names(tmp_path) == ["a", "b"]


def test_another_run_cannot_take_a_file_that_waits_for_others(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    script = "import sys\nfrom soundergate.files import write_text\nwrite_text(sys.argv[1], 'x')\n"
    with together():
        write_text(tmp_path / "a", "ours")
        other = [sys.executable, "-c", script, str(tmp_path / "a")]
        done = subprocess.run(other, capture_output=True, text=True)
        assert done.returncode == 1
        assert "another run is writing it" in done.stderr
    assert (tmp_path / "a").read_text() == "ours"


def test_an_interrupt_waits_for_a_step_that_is_not_divided() -> None:
    assert files.may_stop()
    steps = []

    def step(error: Exception | None = None) -> None:
        with files.undivided():
            with files.undivided():
                assert not files.may_stop()  # as a signal handler asks it
            steps.append("done")
            if error is not None:
                raise error

    for error in (None, RuntimeError("on the way")):
        with pytest.raises(KeyboardInterrupt):
            step(error)
    assert steps == ["done", "done"]
    assert files.may_stop()
    with files.undivided():
        pass  # what was raised once is not raised again


def test_a_process_that_ends_at_once_removes_what_is_unfinished(tmp_path: Path) -> None:
    script = (
        "import os, sys\nfrom soundergate import files\n"
        "with files.together():\n files.write_text(sys.argv[1], 'whole')\n"
        " with files.writing(sys.argv[2]) as file:\n  file.write(b'half'); file.flush()\n"
        "  assert len(os.listdir(sys.argv[3])) == 2; files.give_up(); os._exit(9)\n"
    )
    named = [str(tmp_path / "a"), str(tmp_path / "b"), str(tmp_path)]
    assert subprocess.run([sys.executable, "-c", script, *named]).returncode == 9
    assert names(tmp_path) == []
