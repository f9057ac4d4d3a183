"""Nights on a cluster by the command line: nobody there, TLS, workers of another version.

Schedulers run here; workers, and commands that wait for them, are processes of their own. Whatever
waits, waits for something to happen; after ten minutes all that was started is killed.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import soundergate

distributed = pytest.importorskip("distributed")

LONG = 600.0
"""Seconds: nothing takes so long, but on a machine that hangs."""
QUICK = ("--nights", 900, "--seed", 4)
ENDLESS = ("--nights", 2_000_000_000, "--seed", 4, "--sums-only")


@contextmanager
def scheduler(**options: Any) -> Iterator[Any]:
    """One without workers, on ports that are free."""
    with distributed.LocalCluster(
        n_workers=0, host="127.0.0.1", dashboard_address="127.0.0.1:0",
        **{"protocol": "tcp", **options},
    ) as local:  # fmt: skip
        yield local


@dataclass
class Started:
    """Processes that end with the test."""

    held: ExitStack = field(default_factory=ExitStack)

    def __call__(self, *arguments: object, env: dict[str, str] | None = None) -> subprocess.Popen:
        process = subprocess.Popen(
            [sys.executable, "-m", *map(str, arguments)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
        )  # fmt: skip
        late = threading.Timer(LONG, process.kill)
        late.start()
        self.held.callback(process.wait)
        self.held.callback(process.kill)
        self.held.callback(late.cancel)
        return process

    def worker(self, address: str, *more: object, env: dict[str, str] | None = None) -> Any:
        """Known to the scheduler by the time that this returns only if somebody waits for it."""
        process = self(
            "dask", "worker", address, "--nthreads", 1, "--no-nanny", "--no-dashboard", *more,
            env=env,
        )  # fmt: skip
        for stream in (process.stdout, process.stderr):  # what it logs must not fill the pipe
            threading.Thread(target=stream.read, daemon=True).start()
        return process


@pytest.fixture
def start() -> Iterator[Started]:
    started = Started()
    with started.held:
        yield started


def until(stream: Any, words: str) -> str:
    """The line with these words, and those before it; the end of the stream is a failure."""
    seen = ""
    for line in stream:
        seen += line
        if words in line:
            return seen
    raise AssertionError(f"never said {words!r}, only: {seen}")


def there(local: Any, workers: int) -> None:
    with distributed.Client(local, set_as_default=False) as client:
        client.wait_for_workers(workers, timeout=LONG)


# ---- nobody there -----------------------------------------------------------------------------


@pytest.mark.slow
def test_a_command_without_workers_says_so_and_goes_on_when_one_joins(
    start, trap, tmp_path, invoke
) -> None:
    """None at the start; then one, which is killed; then another. To the same bytes as here."""
    out = tmp_path / "out"
    nights = ("--nights", 3_000_000, "--seed", 4, "--sums-only", "--quiet", "--json")
    with scheduler() as local:
        at = ("--cluster", local.scheduler_address)
        run = start("soundergate", "run", trap, *nights, *at, "--out", out)
        said = until(run.stderr, "No worker at")
        assert f"dask worker {local.scheduler_address} --nthreads 1" in said
        assert "nothing is computed until one joins" in said
        assert "stop with Ctrl-C" in said
        assert f"What is done is kept in {out}." in said
        first = start.worker(local.scheduler_address)
        until(run.stderr, "A worker has joined: it goes on.")
        first.kill()
        said = until(run.stderr, "No worker at")
        assert f"kept in {out}" in said
        start.worker(local.scheduler_address)
        said = until(run.stderr, "A worker has joined: it goes on.")
        answer, rest = run.communicate()
    assert run.returncode == 0, rest
    assert "Traceback" not in said + rest
    assert answer == invoke("run", trap, *nights).out


@pytest.mark.slow
@pytest.mark.parametrize("begun", [False, True])
def test_ctrl_c_ends_a_command_that_waits_for_workers(start, trap, tmp_path, begun) -> None:
    out = tmp_path / "out"
    with scheduler() as local:
        if begun:
            worker = start.worker(local.scheduler_address)
            there(local, 1)
        at = ("--cluster", local.scheduler_address, "--out", out)
        run = start("soundergate", "run", trap, *ENDLESS, *at)
        if begun:
            until(run.stderr, "a second")  # nights have come in
            worker.kill()
        until(run.stderr, "No worker at")
        run.send_signal(signal.SIGINT)
        _, said = run.communicate()
    assert "Traceback" not in said
    assert run.returncode == (0 if begun else 130), said
    assert ("--resume goes on from here" if begun else "Stopped by hand before") in said


def test_no_time_is_promised_while_nobody_works(monkeypatch) -> None:
    from rich import progress as bars

    from soundergate.commands import console
    from soundergate.commands.waiting import Waiting

    class Terminal:
        def __init__(self) -> None:
            self.text = ""

        def write(self, text: str) -> int:
            self.text += text
            return len(text)

        def flush(self) -> None: ...

        def isatty(self) -> bool:
            return True

    now = [100.0]
    monkeypatch.setattr("soundergate.commands.pace.Pace.__init__.__defaults__", (lambda: now[0],))
    monkeypatch.setattr(sys, "stderr", Terminal())
    shown: list[bars.Progress] = []
    begin = bars.Progress.start
    monkeypatch.setattr(bars.Progress, "start", lambda one: (shown.append(one), begin(one))[1])
    waiting = Waiting("tcp://somewhere", Path("kept"))
    with console.progress("nights", False, waiting) as tell:
        assert tell is not None
        for done in (0, 1000, 2000):
            tell(done, 100_000)
            now[0] += 1.0
        speed = lambda: shown[0].tasks[0].fields["speed"]  # noqa: E731
        assert speed() == ", 1,000 a second, 1 min 38 s left"
        waiting(False)
        assert speed() == ", waiting for workers"
        now[0] += 3600.0
        waiting(True)
        assert speed() == ""
        tell(2000, 100_000)
        assert speed() == ""
        now[0] += 1.0
        tell(4000, 100_000)
        assert speed() == ", 2,000 a second, 48 s left"
    assert "No worker at tcp://somewhere" in sys.stderr.text
    assert "kept in kept" in sys.stderr.text
