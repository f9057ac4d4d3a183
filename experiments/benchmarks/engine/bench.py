"""How fast the engines play, beside what was wanted. See README.md for how to measure.

python experiments/benchmarks/engine/bench.py [--quick] [--only SECTION ...] [--json FILE]
python experiments/benchmarks/engine/bench.py --update     (counts of events, after a change
                                                             of the model)
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import random
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import demo
import events
import floor
import numpy as np
import plain
import processes
import together
import ways
from table import Section, Target
from timing import best, taken

from soundergate.engine import play
from soundergate.engine.kernel import night as kernel
from soundergate.engine.kernel.batch import play_counted
from soundergate.engine.plan import NightPlan
from soundergate.engine.reference.facts import Facts
from soundergate.engine.reference.night import Night
from soundergate.engine.work.executors import run_chunks

PER_EVENT = Target(115.0)
PER_WAY = Target(60.0)
WITH_A_LINE = Target(50_000.0, at_least=True)
WITHOUT = Target(100_000.0, at_least=True)
OVER_FLOOR = Target(2.5, aim=1.8)
PER_DRAW = Target(15.0)
GROWTH = Target(6.0)
SPEED_UP = Target(1.8, at_least=True)
COMPILE = Target(12.0)
CACHED_RUN = Target(2.5)
HELP = Target(0.4)
ONE_SIGNATURE = Target(1)
FLAT = Target(1.1)


@dataclass(frozen=True)
class Effort:
    """How much is played for each figure."""

    nights: int
    repeats: int
    heard: int
    """Nights of the reference engine from which draws are recorded."""
    slow_nights: int
    """Nights of the slowest package; the others play more."""
    runs: int
    """Whole processes of which the best counts."""
    longest: tuple[int, ...]
    """Nights of the runs whose memory is looked at."""
    first_uses: int
    """Empty caches that are filled, of which the quickest counts."""


FULL = Effort(40_000, 12, 1_000, 200, 5, (100_000, 1_000_000, 10_000_000), 3)
QUICK = Effort(4_000, 3, 60, 20, 2, (100_000, 1_000_000), 1)


def kernel_and_floor(effort: Effort) -> Section:
    """Each trigger on one core, and against merely drawing its numbers again."""
    section = Section("one core, twelve animals, one drop gate")
    way, scanned = ways.cost(effort.nights, effort.repeats, effort.heard)
    section.add("scanned outings", 1e9 * way, "ns a scanned way", PER_WAY,
                f"{scanned:.1f} a night, beside a line that hardly anyone meets")  # fmt: skip
    for name in demo.TRIGGERS:
        plan = demo.demo_plan(name)
        _, counts = play_counted(plan, demo.SEED, 0, effort.nights)
        played = best(effort.repeats, play_counted, plan, demo.SEED, 0, effort.nights)
        night = played.cpu / effort.nights
        wanted = WITH_A_LINE if name.startswith("line") else WITHOUT
        section.add(name, 1.0 / night, "nights/s", wanted,
                    f"wall {effort.nights / played.wall:,.0f}")  # fmt: skip
        found = ways.count(plan, effort.heard)
        walked, scanned = found.walked / effort.heard, found.scanned / effort.heard
        section.add("", (walked + scanned) / night, "ways/s", None,
                    f"{walked:.1f} walks and {scanned:.1f} scanned outings a night")  # fmt: skip
        section.add("", counts.mean() / night, "events/s", None,
                    f"{counts.mean():.1f} events a night")  # fmt: skip
        section.add("", 1e9 * (night - scanned * way) / counts.mean(), "ns an event",
                    PER_EVENT if name in demo.JUDGED else None,
                    f"{1e9 * night / counts.mean():.0f} with what scanning costs")  # fmt: skip
        _against_floor(section, plan, night, effort)
    return section


def _against_floor(section: Section, plan: NightPlan, night: float, effort: Effort) -> None:
    """Rows of the floor of this plan, of which the kernel plays a night in ``night`` s."""
    takes, numbers = floor.overhear(plan, demo.SEED, effort.heard)
    laid = together.laid_out(takes)
    one = floor.draw_again(takes, demo.SEED)
    together.draw_together(laid, demo.SEED)
    if not math.isclose(one, together.total(laid, takes), rel_tol=1e-12):
        raise AssertionError("the two floors draw other numbers")
    single = best(5 * effort.repeats, floor.draw_again, takes, demo.SEED).cpu
    both = best(5 * effort.repeats, together.draw_together, laid, demo.SEED).cpu
    section.add("", numbers / effort.heard, "draws a night", None,
                f"{len(takes.name) / effort.heard:.1f} blocks")  # fmt: skip
    section.add("", 1e9 * both / numbers, "ns a draw, together", PER_DRAW,
                f"{1e9 * single / numbers:.1f} singly")  # fmt: skip
    section.add("", night / (single / effort.heard), "kernel / floor, singly", OVER_FLOOR,
                f"{night / (both / effort.heard):.1f} together")  # fmt: skip


def reference(effort: Effort) -> Section:
    """The readable engine on the same nights."""
    section = Section("reference engine (SimPy), one core")
    nights = 2 * effort.heard
    for name in demo.TRIGGERS:
        plan = demo.demo_plan(name)
        _, counts = play_counted(plan, demo.SEED, 0, nights)
        settled = _settled_events(plan, nights)
        took = best(2, play, plan, demo.SEED, 0, nights, "reference").cpu
        section.add(name, nights / took, "nights/s")
        section.add("", 1e6 * took / counts.sum(), "µs a batch event")
        section.add("", 1e6 * took / settled, "µs a settled event", None,
                    f"{settled / nights:.1f} a night, each look of a person one")  # fmt: skip
    return section


def _settled_events(plan: NightPlan, nights: int) -> int:
    """Events that the reference plays and settles, counted on the nights themselves."""
    total = 0

    class Counted(Night):
        def settle(self) -> None:
            nonlocal total
            total += 1
            super().settle()

    facts = Facts(plan)
    for number in range(nights):
        Counted(facts, demo.SEED, number).play()
    return total


def packages(effort: Effort) -> Section:
    """The plain night in general-purpose packages; all must agree on what it comes to."""
    section = Section("the plain night (plain.toml), one core")
    plan = demo.plain_plan()
    outcomes, counts = play_counted(plan, demo.SEED, 0, effort.nights)
    pulled = np.isfinite(outcomes["release_s"])
    inside = outcomes["inside_at_release"][pulled]
    took = best(effort.repeats, play_counted, plan, demo.SEED, 0, effort.nights).cpu
    section.add("soundergate, batch", effort.nights / took, "nights/s", None,
                f"{1e9 * took / counts.sum():.0f} ns an event, {counts.mean():.1f} events;"
                f" inside {inside.mean():.3f}")  # fmt: skip
    nights = 10 * effort.slow_nights
    took = best(2, play, plan, demo.SEED, 0, nights, "reference").cpu
    section.add("soundergate, reference", nights / took, "nights/s", None,
                f"{1e9 * took / counts[:nights].sum():,.0f} ns an event")  # fmt: skip
    mine = (float(inside.mean()), float(inside.std() / math.sqrt(len(inside))))
    _package(section, "a heap and a loop", None, plain.play_heap, 100 * effort.slow_nights, mine)
    _package(section, "SimPy", "simpy", plain.play_simpy, 20 * effort.slow_nights, mine)
    _package(section, "salabim", "salabim", plain.play_salabim, effort.slow_nights, mine)
    return section


def _package(
    section: Section,
    label: str,
    package: str | None,
    player: plain.Player,
    nights: int,
    mine: tuple[float, float],
) -> None:
    if package is not None:
        try:
            label = f"{label} {version(package)}"
        except PackageNotFoundError:
            section.say(label, f"not installed (pip install {package})")
            return
    found: list[plain.PlainNight] = []
    luck = random.Random(demo.SEED)
    took = taken(lambda: found.extend(player(luck) for _ in range(nights))).cpu
    inside = [night.inside for night in found if night.inside >= 0]
    mean = sum(inside) / len(inside)
    error = math.hypot(np.std(inside) / math.sqrt(len(inside)), mine[1])
    if abs(mean - mine[0]) > 5.0 * error:  # fails by chance less than once in a million runs
        raise AssertionError(f"{label} plays another night: {mean:.3f} inside, not {mine[0]:.3f}")
    total = sum(night.events for night in found)
    section.add(label, nights / took, "nights/s", None,
                f"{1e9 * took / total:,.0f} ns an event, {total / nights:.1f} events;"
                f" inside {mean:.3f}")  # fmt: skip


def growth(effort: Effort) -> Section:
    """How the work of an event grows with the group."""
    section = Section("larger groups, a counter at five in six")
    cost: dict[int, float] = {}
    for size in demo.SIZES:
        plan = demo.grown_plan(size)
        nights = max(50, effort.nights * 6 // size // 4)
        _, counts = play_counted(plan, demo.SEED, 0, nights)
        took = best(effort.repeats, play_counted, plan, demo.SEED, 0, nights).cpu
        cost[size] = 1e9 * took / counts.sum()
        section.add(f"{size} animals", cost[size], "ns an event", None,
                    f"{counts.mean():.0f} events, {nights / took:,.0f} nights/s")  # fmt: skip
    section.add("96 to 12 animals", cost[96] / cost[12], "times", GROWTH)
    return section


def threads(effort: Effort) -> Section:
    """One worker and two, by the clock."""
    section = Section("workers (threads), by the clock")
    plan = demo.demo_plan("line beyond the bait")
    nights = 10 * effort.nights
    wall, work = {}, {}
    for workers in (1, 2):
        took = best(effort.repeats // 2, run_chunks, plan, demo.SEED, 0, nights, workers)
        wall[workers], work[workers] = took.wall, took.work
        section.add(f"{workers} worker{'s'[: workers - 1]}", nights / took.wall, "nights/s", None,
                    f"processor {took.work:.2f} s")  # fmt: skip
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    section.add("two workers to one", wall[1] / wall[2], "times", SPEED_UP,
                f"{cores} processors; the work grows {work[2] / work[1]:.2f} times")  # fmt: skip
    return section


_ONE_NIGHT = (
    "import sys; from soundergate.scenario.loading import load;"
    " from soundergate.engine.build import build; from soundergate.mechanics.setup import solve;"
    " from soundergate.engine.kernel.batch import play_batch; s = load(sys.argv[1]);"
    " play_batch(build(s, solve(s)), 1, 0, 1)"
)


def compiling(effort: Effort) -> Section:
    """What the first use costs, and that there is only one kernel to compile."""
    section = Section("compiling")
    command = [sys.executable, "-c", _ONE_NIGHT, str(demo.DEMO)]
    uses = []
    for _ in range(effort.first_uses):
        with tempfile.TemporaryDirectory() as folder:
            uses.append([processes.timed(command, Path(folder)) for _ in ("empty", "full")])
    cold, warm = (min(column, key=lambda use: use.wall) for column in zip(*uses, strict=True))
    section.add("compile, cache empty", cold.wall - warm.wall, "s", COMPILE,
                f"processor {cold.cpu - warm.cpu:.1f} s, peak {cold.peak:.0f} MB")  # fmt: skip
    section.add("one night, cache full", warm.wall, "s", None, f"processor {warm.cpu:.1f} s")
    events.check(events.count())  # every kind of plan, all sizes, has met the kernel by now
    met: Any = kernel.play_nights
    section.add("compiled kernels", len(met.signatures), "", ONE_SIGNATURE)
    return section


def commands(effort: Effort) -> Section:
    """What a user waits for."""
    section = Section("whole commands, by the clock, best of several")
    run = processes.soundergate("run", str(demo.DEMO), "--nights", "100000", "--json", "--quiet")
    processes.timed(run)  # fills the cache
    used = processes.best_of(effort.runs, run)
    section.add("run, 100,000 nights", used.wall, "s", CACHED_RUN, f"processor {used.cpu:.1f} s")
    used = processes.best_of(2 * effort.runs, processes.soundergate("--help"))
    section.add("--help", used.wall, "s", HELP, f"processor {used.cpu:.2f} s")
    return section


def memory(effort: Effort) -> Section:
    """That a long run holds no more than a short one."""
    section = Section("peak memory of run, whole process")
    peaks = []
    for nights in effort.longest:
        used = processes.timed(
            processes.soundergate(
                "run", str(demo.DEMO), "--nights", str(nights), "--json", "--quiet"
            )
        )
        peaks.append(used.peak)
        section.add(f"{nights:,} nights", used.peak, "MB", None, f"{used.wall:.1f} s")
    section.add("longest to shortest", peaks[-1] / peaks[0], "times", FLAT)
    return section


SECTIONS: dict[str, Callable[[Effort], Section]] = {
    "kernel": kernel_and_floor,
    "reference": reference,
    "packages": packages,
    "growth": growth,
    "threads": threads,
    "compiling": compiling,
    "commands": commands,
    "memory": memory,
}


def machine() -> str:
    """What is measured on, and how busy it is."""
    load = ", ".join(f"{x:.1f}" for x in os.getloadavg()) if hasattr(os, "getloadavg") else "?"
    name = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        for line in cpuinfo.read_text().splitlines():
            if line.startswith("model name"):
                name = line.partition(":")[2].strip()
                break
    return (
        f"{time.strftime('%Y-%m-%d %H:%M')}  {name}, {os.cpu_count()} processors,"
        f" Python {platform.python_version()}, Numba {version('numba')}; load {load}"
    )


def main() -> None:
    """Measure, print, and fail if other nights are played."""
    parser = argparse.ArgumentParser(description="How fast the engines play.")
    parser.add_argument("--quick", action="store_true", help="fewer nights, rougher figures")
    parser.add_argument("--only", nargs="+", choices=SECTIONS, default=list(SECTIONS))
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the rows there as well")
    parser.add_argument("--update", action="store_true", help="write the counts of events anew")
    asked = parser.parse_args()
    effort = QUICK if asked.quick else FULL
    found = events.count()
    if asked.update:
        events.update(found)
        print(f"{events.FILE.name} written: {sum(found.values()):,} events")
        return
    events.check(found)
    print(machine())
    print(f"{sum(found.values()):,} events of {len(found)} kinds of night, all as committed")
    rows = []
    for name in asked.only:
        section = SECTIONS[name](effort)
        section.show()
        rows += [{"section": name, **row} for row in section.rows]
    print(machine())
    if asked.json is not None:
        whole = {"events": found, "rows": rows}
        asked.json.write_text(json.dumps(whole, indent=2, default=float), encoding="utf-8")


if __name__ == "__main__":
    main()
