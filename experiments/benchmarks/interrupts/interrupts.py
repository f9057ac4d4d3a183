"""How long every command takes to end after Ctrl-C or SIGTERM, and what it leaves behind.

Each command is started many times and sent a signal at a moment drawn at random between its start
and its usual end; `--cold` gives each a new cache folder, so that it stands in the first
compilation. Prints a line a case: the longest and the median time from the signal to the end, the
exit codes, and everything that should not be there: lines too many, tracebacks, half a folder,
temporary files, processes that live on. Its exit code is 1 if there is any of it, or if a command
took longer than `--limit` seconds.

    python experiments/benchmarks/interrupts/interrupts.py --tries 5
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

STORE = "chunks.sqlite"
_LINGER = 3.0
"""Seconds in which what a command has started must be gone after it."""

STUDY = """
base = "line.toml"
nights = 3000
[factors]
trigger.distance = ["12 ft", "22 ft"]
[robust]
worlds = 40
nights = 100
"""
LONG = ["--nights", "60000000"]
CASES: dict[str, list[str]] = {
    "run": ["run", "line.toml", "--nights", "60000", "--out", "out"],
    "run, long": ["run", "line.toml", *LONG, "--out", "out", "--sums-only"],
    "run, one worker": ["run", "line.toml", *LONG, "--workers", "1", "--out", "out", "--sums-only"],
    "run, no folder": ["run", "line.toml", *LONG],
    "run, reference": ["run", "line.toml", "--nights", "4000", "--engine", "reference"],
    "run, processes": [
        *("run", "line.toml", "--nights", "40000", "--engine", "reference", "--workers", "2"),
        *("--out", "out"),
    ],
    "compare --vary": [
        *("compare", "line.toml", "--vary", "opening.width=3 ft,4 ft,5 ft,6 ft,7 ft,8 ft"),
        *("--nights", "20000", "--out", "out"),
    ],
    "study": ["study", "study.toml", "--out", "out"],
    "season": ["season", "weeks.toml", "--campaigns", "2000", "--out", "out"],
    "rule": ["rule", "watch.toml", "--nights", "3000", "--out", "out"],
    "check --out": ["check", "leaf.toml", "--out", "out"],
    "check, all of it": [
        *("check", "line.toml", "--pairs", "--widths=usual", "--trade-off", "--claims"),
        *("--out", "out"),
    ],
    "night": ["night", "line.toml", "--out", "out"],
    "sources": ["sources", "line.toml"],
}
CODES = {signal.SIGINT: (130, 0), signal.SIGTERM: (143,)}


@dataclass
class Found:
    """What became of one case."""

    seconds: list[float] = field(default_factory=list)
    codes: Counter[int] = field(default_factory=Counter)
    ended: int = 0
    faults: list[str] = field(default_factory=list)


def prepare(folder: Path) -> None:
    """Scenario files of the package's examples, and a study."""
    for name in ("line", "leaf", "watch", "weeks"):
        example = subprocess.run(
            [sys.executable, "-m", "soundergate", "example", name],
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        (folder / f"{name}.toml").write_text(example)
    (folder / "study.toml").write_text(STUDY)


def start(folder: Path, arguments: list[str], cache: Path | None) -> subprocess.Popen[str]:
    """The command in a session of its own, as a terminal would start it."""
    environment = dict(os.environ)
    environment.pop("COLUMNS", None)
    if cache is not None:
        environment["XDG_CACHE_HOME"] = str(cache)
    return subprocess.Popen(
        [sys.executable, "-m", "soundergate", *arguments],
        cwd=folder,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def living(session: int) -> list[str]:
    """Processes of a session that have not ended (Linux)."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            after = (entry / "stat").read_text().rsplit(")", 1)[1].split()
            if int(after[3]) == session and after[0] not in "ZX":
                found.append((entry / "cmdline").read_bytes().replace(b"\0", b" ").decode()[:80])
        except (OSError, IndexError):
            continue
    return found


def faults_of(folder: Path, said: str, code: int, one: signal.Signals, finished: bool) -> list[str]:
    """What should not be there after a stop."""
    found = []
    finished = finished or (code in (0, 1) and "Stopped" not in said)  # it was about to end
    if "Traceback" in said or "Exception ignored" in said or "leaked" in said:
        found.append("noise: " + said[-2000:])
    if not finished and code not in CODES[one]:
        found.append(f"exit code {code}: {said[-300:]}")
    stopped = [line for line in said.splitlines() if line.startswith("Stopped")]
    if not finished and len(stopped) != 1:
        found.append(f"{len(stopped)} lines say that it was stopped: {said[-300:]}")
    files = {path.name for path in (folder / "out").glob("*")}
    if left := [name for name in files if name.endswith((".tmp", "-journal"))]:
        found.append(f"left: {left}")
    if not finished and files - {STORE} and "All was done" not in said:
        found.append(f"written: {sorted(files)}")
    return found


def measure(
    folder: Path, name: str, takes: float, tries: int, luck: random.Random, cold: bool
) -> Found:
    """Stop a case at random moments."""
    found = Found()
    for number in range(tries):
        shutil.rmtree(folder / "out", ignore_errors=True)
        one = (signal.SIGINT, signal.SIGTERM)[number % 2]
        with tempfile.TemporaryDirectory() as cache:
            run = start(folder, CASES[name], Path(cache) if cold else None)
            moment = luck.uniform(0.05, takes)
            time.sleep(moment)
            finished = run.poll() is not None
            sent = time.monotonic()
            if not finished:  # Ctrl-C goes to all that the terminal runs; a manager ends one
                (os.killpg if one is signal.SIGINT else os.kill)(run.pid, one)
            said = run.communicate()[1]
            took = time.monotonic() - sent
            left = living(run.pid)
            while left and time.monotonic() - sent < took + _LINGER:
                time.sleep(0.05)
                left = living(run.pid)
            left += [f"{path.name} in the cache" for path in Path(cache).rglob("*.tmp*")]
        if finished:
            found.ended += 1
            continue
        found.seconds.append(took)
        found.codes[run.returncode] += 1
        faults = faults_of(folder, said, run.returncode, one, finished)
        if left:
            faults.append(f"still there: {left}")
        found.faults += [f"{one.name} after {moment:.2f} s: {fault}" for fault in faults]
    return found


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    asked.add_argument("--tries", type=int, default=6, help="stops of each command")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--most", type=float, default=12.0, help="latest moment of a stop, in s")
    asked.add_argument("--limit", type=float, default=2.0, help="longest time to end, in s")
    asked.add_argument("--cold", action="store_true", help="an empty cache: the engine compiles")
    asked.add_argument("--only", nargs="*", default=list(CASES), metavar="CASE")
    given = asked.parse_args()
    luck, bad = random.Random(given.seed), False
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        prepare(folder)
        print(f"{'command':18} {'usual':>6} {'longest':>8} {'median':>7}  exit codes")
        for name in given.only:
            begun = time.monotonic()
            if given.cold:
                takes = given.most
            else:
                shutil.rmtree(folder / "out", ignore_errors=True)
                whole = start(folder, CASES[name], None)
                try:
                    whole.communicate(timeout=given.most)
                except subprocess.TimeoutExpired:
                    whole.kill()
                    whole.communicate()
                takes = min(time.monotonic() - begun, given.most)
            found = measure(folder, name, takes, given.tries, luck, given.cold)
            if found.seconds:
                longest, middle = max(found.seconds), statistics.median(found.seconds)
                codes = ", ".join(f"{code} ×{n}" for code, n in sorted(found.codes.items()))
                print(
                    f"{name:18} {takes:5.1f}s {longest:7.2f}s {middle:6.2f}s  {codes}", flush=True
                )
                bad = bad or longest > given.limit
            for fault in found.faults:
                print(f"    {fault}", flush=True)
            bad = bad or bool(found.faults)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
