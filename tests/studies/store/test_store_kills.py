"""Runs that are killed at random moments and go on to the same bytes.

Here a process that has everything loaded forks one run after another, so that few seconds go into
starting; the slow tier (tests/commands) kills the command itself. A moment is a number of calls, in
Python and inside SQLite, and not of seconds: those depend on what else the machine does.
"""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from soundergate.studies.store.store import NAME

NEVER = 0
NURSERY = """
import os, signal, sqlite3, sys
from pathlib import Path
from soundergate.engine.work.executors import CHUNK
from soundergate.studies import playing
from soundergate.studies.store import database, store
from soundergate.studies.estimate import run
from soundergate.studies.record import write_run

CHUNK["batch"], store._SECONDS_A_ROW = 400, 0.0  # many rows, so that kills fall between them
playing._CHUNK_SECONDS = 1e9
database._SYNCHRONOUS = "OFF"  # a process is killed here, and not the power cut
scenario, nights = sys.argv[1], int(sys.argv[2])
run(scenario, 1)

def play(folder):
    folder.mkdir(exist_ok=True)
    with store.Store(folder, resume=True) as kept:
        write_run(folder, run(scenario, nights, seed=3, workers=2, store=kept))

def count_up_to(last):
    calls, connect = [0], sqlite3.connect

    def another(*_):
        calls[0] += 1
        if calls[0] == last:
            os.kill(os.getpid(), signal.SIGKILL)

    def connected(*args, **options):
        db = connect(*args, **options)
        db.set_progress_handler(another, 25)
        return db

    sqlite3.connect = connected
    sys.setprofile(another)
    return calls

for line in sys.stdin:
    folder, last = line.rsplit(maxsplit=1)
    child = os.fork()
    if child == 0:
        calls = count_up_to(int(last))
        play(Path(folder))
        sys.setprofile(None)
        Path(folder + ".calls").write_text(str(calls[0]))
        os._exit(0)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


@pytest.fixture
def play(scenario_file, tmp_path):
    """``play(folder, last)``: a run into a folder, killed at its call of that number, if it comes
    so far; its exit code."""
    script = tmp_path / "nursery.py"
    script.write_text(NURSERY)
    command = [sys.executable, str(script), str(scenario_file), "12000"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True, "bufsize": 1}
    with subprocess.Popen(command, **pipes) as nursery:

        def played(folder: Path, last: int) -> int:
            print(folder, last, file=nursery.stdin, flush=True)
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


@pytest.mark.slow
def test_a_run_killed_at_random_moments_ends_with_the_same_bytes(play, tmp_path):
    assert play(tmp_path / "first", NEVER) == 0  # by then all is loaded
    assert play(tmp_path / "whole", NEVER) == 0
    calls = int((tmp_path / "whole.calls").read_text())
    whole = contents(tmp_path / "whole")
    assert set(whole) == {"nights.csv.gz", "run.json", "summary.csv"}
    luck, kills, lives, found = random.Random(5), Counter(), 0, tmp_path / "killed-0"
    while kills.total() < 5:
        before = nights_in(found)
        code = play(found, luck.randrange(1, calls * 7 // 10))
        if code == 0:  # nothing was left to do: again from nothing
            assert contents(found) == whole
            lives += 1
            found = tmp_path / f"killed-{lives}"
            continue
        assert code == -signal.SIGKILL
        after = nights_in(found)
        assert after >= before, "nights that were safe are lost"
        kills["with new nights" if after > before else "without"] += 1
    assert play(found, NEVER) == 0
    assert contents(found) == whole
    assert nights_in(found) == 12_000
    assert kills["with new nights"] >= 1
