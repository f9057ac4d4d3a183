"""What plausible worlds cost: four commands as a user gives them, held against their limits.

Each is timed by the clock on the wall, from the start of Python to its end, and by the processor's.
The engine is compiled beforehand. Prints what it measured, and exits with 1 if a limit is missed.

    python experiments/benchmarks/worlds/worlds.py            an idle machine of two cores
    python experiments/benchmarks/worlds/worlds.py --quick    a tenth of the worlds, limits not held
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from soundergate.engine.work.executors import available_workers
from soundergate.scenario.examples import text
from soundergate.scenario.loading import loads
from soundergate.studies.arms import Arm
from soundergate.studies.study import StudyResult, study
from soundergate.studies.worlds.robust import robust

COSTS = """
[costs]
currency = "EUR"
wage = 20
trip = 15
visit_time = "1 h"
bait = 12
equipment = {equipment}
equipment_campaigns = 40
"""
DESIGN = """
title = "Invented: a hundred setups"
base = "line.toml"
nights = 1000
[factors]
"opening.width" = ["3 ft", "4 ft", "5 ft", "6 ft", "8 ft"]
"trigger.height" = ["16 in", "18 in", "20 in", "22 in", "24 in"]
"trigger.distance" = ["10 ft", "12 ft", "16 ft", "20 ft"]
[robust]
worlds = {worlds}
nights = 200
"""
SETUPS = {"line": 900, "watch": 4200, "swing": 1500}
"""Examples that are set against each other, and what they are made to cost."""


class Case(NamedTuple):
    """A command, how long it may take by the clock on the wall, and what it took."""

    what: str
    limit: float
    wall: float
    processor: float

    @property
    def met(self) -> bool:
        return self.wall <= self.limit


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a tenth of the worlds, no limits")
    quick = parser.parse_args().quick
    print(f"{platform.machine()}, Python {platform.python_version()}, "
          f"{available_workers()} cores, load {os.getloadavg()[0]:.1f} at the start")  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_files(folder, 20 if quick else 100)
        command(folder, "run", "line.toml", "--worlds", 20)  # load or compile the engine first
        cases = []
        for case in measured(folder, 10 if quick else 1):
            cases.append(case)
            held = "" if quick else f", limit {case.limit:g} s: {'met' if case.met else 'NOT MET'}"
            took = f"{case.wall:.1f} s, {case.processor:.1f} s of a processor"
            print(f"{case.what}: {took}{held}", flush=True)
    return 0 if quick or all(case.met for case in cases) else 1


def measured(folder: Path, part: int) -> Iterator[Case]:
    """The four cases; of the first also what its worlds take, of the last what it takes to tell."""
    many, most = max(200 // part, 20), max(400 // part, 20)
    run = ("run", "line.toml", "--nights", 10_000, "--worlds", many)
    yield Case(f"run, 10,000 nights and {many} worlds", 2.5, *command(folder, *run))
    robust([Arm("line", loads(text("line")))], 20, 10)
    yield timed(
        f"  of it {many} worlds of 200 nights", 0.8,
        lambda: robust([Arm("line", loads(text("line")))], many, 200),
    )  # fmt: skip
    three = ("compare", "line.toml", "watch.toml", "swing.toml", "--worlds", most)
    yield Case(f"compare, three setups over {most} worlds", 4.0, *command(folder, *three))
    two = ("season", "line.toml", "watch.toml", "--worlds", many)
    yield Case(f"season, two setups over {many} worlds", 15.0, *command(folder, *two))
    done: list[StudyResult] = []
    hundred = timed(
        "study, a hundred setups over worlds", 60.0,
        lambda: done.append(study(folder / "design.toml")),
    )  # fmt: skip
    yield hundred
    told = timed("  and all 4,950 pairs told", 60.0, done[0].to_json)
    yield told._replace(limit=60.0 - hundred.wall)


def timed(what: str, limit: float, do: Callable[[], object]) -> Case:
    """What something takes here."""
    begun, used = time.perf_counter(), time.process_time()
    do()
    return Case(what, limit, time.perf_counter() - begun, time.process_time() - used)


def command(folder: Path, *arguments: str | int) -> tuple[float, float]:
    """Seconds on the wall and of a processor that `soundergate` took in a process of its own."""
    words = [sys.executable, "-m", "soundergate", *map(str, arguments), "--json", "--quiet"]
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(words, cwd=folder, check=True, stdout=subprocess.DEVNULL)
    wall, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def write_files(folder: Path, worlds: int) -> None:
    """Three invented setups with prices, and a study of a hundred."""
    for name, equipment in SETUPS.items():
        told = text(name) + COSTS.format(equipment=equipment)
        (folder / f"{name}.toml").write_text(told, encoding="utf-8")
    (folder / "design.toml").write_text(DESIGN.format(worlds=worlds), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
