"""What a large design costs: a hundred setups, every pair compared, 8,000 nights each.

Five widths, five heights of the line and four sizes of the sounder; 4,950 pairs. Prints how long it
takes from the study file to the differences by the clock on the wall, and how many nights a second
of the processor are played at the start and at the end. Exits with 1 if the whole takes more than a
minute, or if the rate at the end is not within a third of that at the start.

    python experiments/benchmarks/scale/many_pairs.py           on an idle machine of two cores
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from soundergate.engine.work.executors import available_workers
from soundergate.report.pages.page import write
from soundergate.report.pages.study import study_page
from soundergate.scenario.examples import text
from soundergate.scenario.loading import loads
from soundergate.studies.estimate import run
from soundergate.studies.study import StudyResult
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import load

DESIGN = """
title = "Invented: a hundred setups"
base = "line.toml"
nights = {nights}
[factors]
"opening.width" = ["3 ft", "4 ft", "5 ft", "6 ft", "8 ft"]
"trigger.height" = ["16 in", "18 in", "20 in", "22 in", "24 in"]
"sounder.juveniles" = [3, 5, 7, 9]
"""
ALLOWED_SECONDS, ALLOWED_LOSS = 60.0, 1 / 3


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--nights", type=int, default=8_000)
    nights = parser.parse_args().nights
    print(f"{platform.machine()}, Python {platform.python_version()}, "
          f"{available_workers()} cores, load {os.getloadavg()[0]:.1f} at the start")  # fmt: skip
    run(loads(text("line")), 1000)  # load or compile the engine first
    with tempfile.TemporaryDirectory() as folder:
        study, seconds, marks = played(Path(folder), nights)
        arms, pairs = len(study.comparison.arms), len(study.comparison.pairs)
        print(f"{arms} setups, {pairs:,} pairs, {nights:,} nights: {seconds:.1f} s")
        print(f"  pieces counted in: {len(marks)}")
        start, end = rate(marks, 0.0, 1 / 3), rate(marks, 2 / 3, 1.0)
        print(f"  nights a second of the processor: {start:,.0f} in the first third")
        print(f"                                    {end:,.0f} in the last third")
        begun = time.perf_counter()
        write(study_page(study), Path(folder) / "report.html")
        print(f"  the page of it: {time.perf_counter() - begun:.1f} s")
    failures = []
    if seconds > ALLOWED_SECONDS:
        failures.append(f"{seconds:.0f} s, more than {ALLOWED_SECONDS:.0f} s")
    if end < (1 - ALLOWED_LOSS) * start:
        failures.append(f"the rate fell by {100 * (1 - end / start):.0f} %")
    for failure in failures:
        print(f"FAILED: {failure}")
    return 1 if failures else 0


def played(folder: Path, nights: int) -> tuple[StudyResult, float, list[tuple[float, int]]]:
    """The study, how long it took, and (processor's seconds, nights done) as they were counted."""
    (folder / "line.toml").write_text(text("line"), encoding="utf-8")
    (folder / "design.toml").write_text(DESIGN.format(nights=nights), encoding="utf-8")
    begun = time.perf_counter()
    marks: list[tuple[float, int]] = []

    def progress(done: int, planned: int) -> None:
        marks.append((time.process_time(), done))

    study = run_study(load(folder / "design.toml"), progress=progress)
    return study, time.perf_counter() - begun, marks


def rate(marks: list[tuple[float, int]], begin: float, end: float) -> float:
    """Nights a second of the processor between two shares of what was counted after the first
    piece, along straight lines."""
    seconds, done = np.array(marks).T
    ends = done[0] + np.array([begin, end]) * (done[-1] - done[0])
    at = np.interp(ends, done, seconds)
    return float((ends[1] - ends[0]) / max(at[1] - at[0], 1e-9))


if __name__ == "__main__":
    sys.exit(main())
