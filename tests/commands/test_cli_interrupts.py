"""Ctrl-C and SIGTERM: every command ends, says so in one line, and leaves all or nothing.

The tests wait for an event and not for a time. That commands end *soon* is measured by
`experiments/benchmarks/interrupts`; here a long limit only keeps a test from hanging.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from soundergate.studies.store.store import NAME

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

LIMIT = 600.0
"""Seconds after which a test gives up."""
BOTH = pytest.mark.parametrize("one", [signal.SIGINT, signal.SIGTERM], ids=lambda s: s.name)
BY = {signal.SIGINT: (130, "by hand"), signal.SIGTERM: (143, "by another program")}
STUDY = """
base = "trap.toml"
nights = 300
[factors]
trigger.distance = ["12 ft", "20 ft"]
[robust]
worlds = 25
nights = 20
"""
LONG = ["--nights", "900000000", "--sums-only"]
WRITERS = {
    "run": ["run", "trap.toml", "--nights", "300"],
    "compare": ["compare", "trap.toml", "--nights", "300", "--vary", "sounder.sows=1,2"],
    "study": ["study", "study.toml"],
    "season": ["season", "trap.toml", "--campaigns", "50", "--worlds", "20"],
    "rule": ["rule", "watched.toml", "--nights", "100", "--worlds", "0"],
    "check": ["check", "trap.toml"],
    "night": ["night", "trap.toml"],
}
STORES = ("run", "compare", "study")


class Command:
    """`soundergate` in a process of its own, and in a session, as a terminal starts it."""

    def __init__(self, folder: Path, *arguments: str, cache: Path | None = None) -> None:
        number = len([*folder.glob("told*")])
        self.out, self.told = folder / "out", folder / f"told{number}"
        environment = dict(os.environ)
        if cache is not None:
            environment["XDG_CACHE_HOME"] = str(cache)
        with open(self.told, "w") as told, open(folder / f"said{number}", "w") as said:
            self.run = subprocess.Popen(
                [sys.executable, "-m", "soundergate", *arguments],
                cwd=folder,
                env=environment,
                stdout=said,
                stderr=told,
                start_new_session=True,
            )

    def wait_until(self, happened: Callable[[], object]) -> None:
        until = time.monotonic() + LIMIT
        while not happened():
            assert self.run.poll() is None, f"ended before that: {self.told.read_text()}"
            assert time.monotonic() < until, "it never happened"
            time.sleep(0.01)

    def stop(self, one: signal.Signals) -> list[str]:
        """Ctrl-C reaches all that was started; SIGTERM the command alone. The lines it ends with"""
        (os.killpg if one is signal.SIGINT else os.kill)(self.run.pid, one)
        self.run.wait(LIMIT)
        told = self.told.read_text()
        assert "Traceback" not in told
        assert "Exception ignored" not in told
        until = time.monotonic() + LIMIT
        while living(self.run.pid):
            assert time.monotonic() < until, f"still there: {living(self.run.pid)}"
            time.sleep(0.05)
        return told.splitlines()

    def left(self) -> set[str]:
        return {path.name for path in self.out.glob("*")}


def living(session: int) -> list[str]:
    """Processes of a session, where the system lists them."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            after = entry.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(after[3]) == session and after[0] not in "ZX":
            found.append(entry.parent.name)
    return found


@pytest.fixture
def started(trap: Path) -> Iterator[Callable[..., Command]]:
    """Start a command beside its files; whatever a test leaves running is ended."""
    folder, commands = trap.parent, []
    (folder / "study.toml").write_text(STUDY)
    watched = re.sub(r"\[trigger\][^[]*", '[trigger]\nkind = "person"\n', trap.read_text())
    watched = watched.replace('puller = "animal"', 'puller = "solenoid", pull = "25 lbf"')
    (folder / "watched.toml").write_text(watched)

    def start(*arguments: str, cache: Path | None = None) -> Command:
        commands.append(Command(folder, *arguments, cache=cache))
        return commands[-1]

    yield start
    for command in commands:
        if command.run.poll() is None:
            os.killpg(command.run.pid, signal.SIGKILL)
            command.run.wait()


def assert_stopped(command: Command, one: signal.Signals, keeps: str) -> None:
    told = command.stop(one)
    code, by = BY[one]
    assert command.run.returncode == code, told
    stopped = [line for line in told if line.startswith("Stopped")]
    assert stopped == [f"Stopped {by}. {keeps}"]


def goes_on(out: Path) -> str:
    return f"The same command with --resume goes on from here; {out.name} holds what is done."


BEGINS_AGAIN = "Nothing was written; the same command begins again."


@pytest.mark.slow
@pytest.mark.parametrize(("one", "workers"), [(signal.SIGINT, "1"), (signal.SIGTERM, "2")])
def test_while_the_engine_is_compiled(started, tmp_path, one, workers) -> None:
    cache = tmp_path / "cache"
    command = started("run", "trap.toml", *LONG, "--out", "out", "--workers", workers, cache=cache)
    command.wait_until(lambda: "Compiling" in command.told.read_text())
    assert_stopped(command, one, goes_on(Path("out")))
    assert command.left() == {NAME}
    assert not [path for path in cache.rglob("*") if ".tmp" in path.name]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "one"),
    [
        *((name, signal.SIGINT) for name in WRITERS),
        ("check", signal.SIGTERM),
    ],
)
def test_while_files_are_written(started, name, one) -> None:
    """All of them appear at once, or none; then the very command that is named goes on."""
    command = started(*WRITERS[name], "--out", "out")
    command.wait_until(lambda: any(found.endswith(".tmp") for found in command.left()))
    assert_stopped(command, one, goes_on(Path("out")) if name in STORES else BEGINS_AGAIN)
    assert command.left() == ({NAME} if name in STORES else set())
    assert command.out.exists() == (name in STORES)
    if one is signal.SIGINT and name in ("run", "season"):
        again = started(*WRITERS[name], "--out", "out", *["--resume"] * (name in STORES))
        assert again.run.wait(LIMIT) == 0
        assert "report.html" in again.left()


@pytest.mark.slow
@BOTH
def test_while_nights_are_played_and_what_is_done_goes_on_to_the_same_bytes(started, one) -> None:
    asked = ["run", "trap.toml", "--engine", "reference", "--nights", "6000", "--workers", "1"]
    asked += ["--keep-nights"]
    assert started(*asked, "--out", "whole").run.wait(LIMIT) == 0
    command = started(*asked, "--out", "out")
    store = command.out / NAME
    empty = 40_000  # bytes of a store without rows
    command.wait_until(lambda: store.exists() and store.stat().st_size > empty)
    told = command.stop(one)
    assert command.run.returncode == BY[one][0]
    assert told[-1] == goes_on(Path("out"))
    assert re.search(r"Stopped after [\d,]+ nights, which all count", "\n".join(told))
    assert command.left() == {NAME}
    again = started(*asked, "--out", "out", "--resume")
    assert again.run.wait(LIMIT) == 0
    assert "Going on from " in again.told.read_text()
    names = again.left() - {NAME}
    assert "nights.csv.gz" in names
    for name in names:
        assert (again.out / name).read_bytes() == (again.out.parent / "whole" / name).read_bytes()


@pytest.mark.slow
@BOTH
def test_processes_are_gone_too(started, one) -> None:
    """Also while they are being started; they are only answers that have come which count."""
    asked = ["run", "trap.toml", "--engine", "reference", "--nights", "90000", "--workers", "2"]
    for workers in (1, 2):
        command = started(*asked)
        command.wait_until(lambda: len(living(command.run.pid)) > workers)  # noqa: B023
        told = command.stop(one)
        assert "leaked" not in " ".join(told)  # by Python's tracker of semaphores
        assert command.run.returncode in (BY[one][0], 0)
        assert sum(line.startswith("Stopped") for line in told) == 1


STUCK = """
import ctypes, sys, threading, typer
from soundergate import files
from soundergate.commands import guard, interrupts

def command():
    interrupts.keeps("Kept.")
    with files.writing(sys.argv[1]) as file:
        file.write(b"half")
        file.flush()
        threading.Timer(0.5, print, ["stuck"], {"flush": True}).start()
        lock, mutex = ctypes.CDLL(None).pthread_mutex_lock, ctypes.create_string_buffer(256)
        lock(mutex)
        lock(mutex)  # for ever: no signal ends this call

interrupts.ready()
try:
    guard.guarded(command)()
except typer.Exit as ended:
    sys.exit(ended.exit_code)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="a lock of glibc")
@BOTH
def test_a_call_that_never_returns_is_ended(tmp_path, one) -> None:
    run = subprocess.Popen(
        [sys.executable, "-c", STUCK, str(tmp_path / "file")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdout is not None
    assert run.stdout.readline() == "stuck\n"
    assert list(tmp_path.iterdir()) != []
    run.send_signal(one)
    _, told = run.communicate(timeout=LIMIT)
    code, by = BY[one]
    assert (run.returncode, told) == (code, f"Stopped {by}. Kept.\n")
    assert list(tmp_path.iterdir()) == []


def test_a_signal_that_was_turned_off_stays_so(tmp_path) -> None:
    """As `nohup` and the background of a script do."""
    script = (
        "import os, signal\nfrom soundergate.commands import interrupts\ninterrupts.ready()\n"
        "os.kill(os.getpid(), signal.SIGINT)\nprint('goes on')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        timeout=LIMIT,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "goes on\n", "")
