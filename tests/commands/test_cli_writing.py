"""What every command writes: whole or not at all, never through a link, and by one way of writing.

Each command runs three times: as it should; into a folder in which every name that it writes is a
link; and on disks that are full when the first or the last file is written.
"""

from __future__ import annotations

import errno
import os
import re
import sys
from pathlib import Path

import pytest

from shared.processes import python
from shared.studies import near_and_far
from soundergate.studies.store.store import NAME

STUDY = near_and_far('base = "trap.toml"\nnights = 60', near="20 ft", worlds=(20, 10))
COMMANDS = {
    "check": ["check", "trap.toml"],
    "night": ["night", "trap.toml"],
    "run": ["run", "trap.toml", "--nights", "60"],
    "compare": ["compare", "trap.toml", "--nights", "60", "--vary", "trigger.distance=20 ft,22 ft"],
    "study": ["study", "study.toml"],
    "rule": ["rule", "watched.toml", "--nights", "60", "--worlds", "0"],
    "season": ["season", "trap.toml", "--campaigns", "20", "--worlds", "20"],
}
opened: list[str] | None = None


def _listen(event: str, arguments: tuple[object, ...]) -> None:
    if event == "open" and opened is not None:
        path, mode, flags = arguments
        writes = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR)
        if writes or any(sign in str(mode or "") for sign in "wax+"):
            opened.append(str(path))


sys.addaudithook(_listen)


@pytest.fixture
def listening():
    """Names of all files that Python opens to write to."""
    global opened
    opened = []
    yield opened
    opened = None


@pytest.fixture
def into(invoke, trap, monkeypatch):
    """Run a command with its files in the folder where it is run, and return what it said."""
    monkeypatch.chdir(trap.parent)
    monkeypatch.setattr("soundergate.studies.store.database._SYNCHRONOUS", "OFF")
    (trap.parent / "study.toml").write_text(STUDY)
    watched = re.sub(r"\[trigger\][^[]*", '[trigger]\nkind = "person"\n', trap.read_text())
    watched = watched.replace('puller = "animal"', 'puller = "solenoid", pull = "25 lbf"')
    (trap.parent / "watched.toml").write_text(watched)
    return lambda command, out, *more: invoke(*command, "--out", out, *more)


def contents(folder: Path) -> dict[str, bytes]:
    """All that is written but the store, in which the rows may be cut elsewhere; nothing where
    there is not even a folder."""
    if not folder.exists():
        return {}
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.name != NAME}


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_every_output_of(command, into, tmp_path, monkeypatch, listening) -> None:
    out = tmp_path / "out"
    said = into(command, out)
    assert said.code in (0, 1), said.err
    there = contents(out)
    assert len(there) >= 2
    direct = [Path(path).name for path in listening if Path(path).parent == out]
    assert {name.removesuffix(".tmp") for name in direct} == set(there)
    assert [name for name in direct if not name.endswith(".tmp")] == []

    linked, other = tmp_path / "linked", tmp_path / "other"
    linked.mkdir()
    other.write_text("somebody else's")
    for name in there:
        (linked / name).symlink_to(other)
    into(command, linked, "--force")
    assert contents(linked) == there
    assert other.read_text() == "somebody else's"
    assert not any(path.is_symlink() for path in linked.iterdir())

    order = [name.removesuffix(".tmp") for name in direct]
    for place in (0, len(order) - 1):
        full = tmp_path / f"full {place}"
        with monkeypatch.context() as patched:
            patched.setattr(os, "fsync", breaks_at(place))
            said = into(command, full)
        assert said.code == 2
        assert f"{full / order[place]}: cannot be written: No space left on device" in said.err
        assert "Traceback" not in said.err
        assert contents(full) == {name: there[name] for name in sorted(order[:place])}


def breaks_at(place: int):
    """Stands for the system's call that makes a file last, of which one finds the disk full."""
    real, left = os.fsync, [place]

    def fsync(file: int) -> None:
        if os.path.isdir(f"/proc/self/fd/{file}"):
            return
        if left[0] == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        left[0] -= 1
        real(file)

    return fsync


def test_a_drawing_beside_the_scenario_replaces_a_link(invoke, trap) -> None:
    other = trap.parent.parent / "other"
    other.write_text("somebody else's")
    beside = trap.parent / "trap_night_0_seed_1.png"
    beside.symlink_to(other)
    assert invoke("night", trap).code == 0
    assert beside.read_bytes().startswith(b"\x89PNG")
    assert not beside.is_symlink()
    assert other.read_text() == "somebody else's"


@pytest.mark.parametrize(
    "command",
    [
        ["sources", "trap.toml"],
        *(pytest.param(c, marks=pytest.mark.slow) for c in (["schema"], ["--help"])),
    ],
)
def test_standard_output_that_is_full(trap, command) -> None:
    import subprocess

    if not os.path.exists("/dev/full"):
        pytest.skip("this system has no device that is always full")
    with open("/dev/full", "w") as full:
        done = python(
            "-m", "soundergate", *command, stdout=full, stderr=subprocess.PIPE, cwd=trap.parent
        )
    assert done.returncode == 2
    told = "Error: standard output: cannot be written: No space left on device"
    assert done.stderr.splitlines()[-1] == told
    assert "Traceback" not in done.stderr
