"""Runs that are killed at random moments and go on to the same bytes.

Here a process that has everything loaded forks one run after another and kills it, so that few
seconds go into starting; the slow tier (tests/commands) kills the command itself.
"""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from soundergate.study.store import NAME

NURSERY = """
import os, signal, sys, time
from pathlib import Path
from soundergate.engine.executors import CHUNK
from soundergate.study import store
from soundergate.study.estimate import run
from soundergate.study.record import write_run

CHUNK["batch"], store._SECONDS_A_ROW = 400, 0.0  # many rows, so that kills fall between them
store._SYNCHRONOUS = "OFF"  # a process is killed here, and not the power cut
scenario, nights = sys.argv[1], int(sys.argv[2])
run(scenario, 1)

def play(folder):
    folder.mkdir(exist_ok=True)
    with store.Store(folder, resume=True) as kept:
        write_run(folder, run(scenario, nights, seed=3, workers=2, store=kept))

for line in sys.stdin:
    folder, seconds = line.rsplit(maxsplit=1)
    child = os.fork()
    if child == 0:
        play(Path(folder))
        os._exit(0)
    if seconds != "never":
        time.sleep(float(seconds))
        os.kill(child, signal.SIGKILL)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


@pytest.fixture
def play(scenario_file, tmp_path):
    """``play(folder, seconds)``: a run into a folder, killed after so long, or "never"; its exit
    code."""
    script = tmp_path / "nursery.py"
    script.write_text(NURSERY)
    command = [sys.executable, str(script), str(scenario_file), "12000"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True, "bufsize": 1}
    with subprocess.Popen(command, **pipes) as nursery:

        def played(folder: Path, seconds: float | str) -> int:
            print(folder, seconds, file=nursery.stdin, flush=True)
            return int(nursery.stdout.readline())

        yield played
        nursery.stdin.close()
        nursery.wait()


def nights_in(folder: Path) -> int:
    """Nights in the store, which must be whole whenever we look."""
    if not (folder / NAME).exists():
        return 0
    db = sqlite3.connect(folder / NAME)
    try:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        if not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'chunk'").fetchone():
            return 0
        return db.execute("SELECT coalesce(max(first + count), 0) FROM chunk").fetchone()[0]
    finally:
        db.close()


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but the store, whose rows may be cut elsewhere."""
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.name != NAME}


def test_a_run_killed_at_random_moments_ends_with_the_same_bytes(play, tmp_path):
    assert play(tmp_path / "first", "never") == 0  # by then all is loaded
    begun = time.monotonic()
    assert play(tmp_path / "whole", "never") == 0
    took = time.monotonic() - begun
    whole = contents(tmp_path / "whole")
    assert set(whole) == {"nights.csv.gz", "run.json", "summary.csv"}
    luck, kills, found = random.Random(5), Counter(), tmp_path / "killed-0"
    while kills.total() < 5:
        before = nights_in(found)
        code = play(found, luck.uniform(0.0, 0.7 * took))
        if code == 0:  # too quick for us: again from nothing
            assert contents(found) == whole
            found = tmp_path / f"killed-{kills.total()}-{time.monotonic_ns()}"
            continue
        assert code == -signal.SIGKILL
        after = nights_in(found)
        assert after >= before, "nights that were safe are lost"
        kills["with new nights" if after > before else "without"] += 1
    assert play(found, "never") == 0
    assert contents(found) == whole
    assert nights_in(found) == 12_000
    assert kills["with new nights"] >= 1
