"""What many nights cost: time, hand-over, memory, store, cluster, and what follows for 10^11.

Prints what it measured. Exits with 1 if memory grows with the number of nights, if it is above the
limit, or if a result is not the sum of its parts.

    python experiments/benchmarks/scale/scale.py            about ten minutes on two cores
    python experiments/benchmarks/scale/scale.py --quick    a tenth of the nights
"""

from __future__ import annotations

import argparse
import os
import pickle
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from soundergate.engine import play
from soundergate.engine.plan import NightPlan
from soundergate.engine.work.chunks import Chunk
from soundergate.engine.work.executors import CHUNK, Job, available_workers
from soundergate.engine.work.folding import Folded
from soundergate.scenario.examples import text
from soundergate.scenario.loading import loads
from soundergate.scenario.schema import Scenario
from soundergate.studies.estimate import run
from soundergate.studies.estimates.sums import Summing
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.players import player
from soundergate.studies.store import codec
from soundergate.studies.store.store import NAME, Store

Clock = Callable[[], float]

EXAMPLES = ("line", "bucket", "watch")
MILLION = 1_000_000
ALLOWED_GROWTH, ALLOWED_MEGABYTES = 0.05, 500.0

failures: list[str] = []


def main() -> int:
    asked = arguments()
    scale = 0.1 if asked.quick else 1.0
    nights = int(10 * MILLION * scale)
    print(f"{platform.machine()}, Python {platform.python_version()}, "
          f"{available_workers()} cores, load {os.getloadavg()[0]:.1f} at the start")  # fmt: skip
    million = cost(int(MILLION * scale))
    memory(nights // 10, nights)
    row = store(int(2 * MILLION * scale))
    task = cluster(int(2 * MILLION * scale))
    outlook(million, row, task)
    for failure in failures:
        print(f"FAILED: {failure}")
    return 1 if failures else 0


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a tenth of the nights")
    return parser.parse_args()


def title(text: str) -> None:
    print(f"\n{text}")


# ---- time ---------------------------------------------------------------------------------


def cost(nights: int) -> float:
    """Seconds a million nights by example; returns the mean on one core.

    One core by the processor's clock, which counts only our own work; all cores by the clock on
    the wall, as a user waits, which on a busy machine says little.
    """
    title(f"Time for a million nights, from {nights:,} (least of 3)")
    print("  example   one core   all cores   times   outside the engine")
    print("            processor  wall clock          of one core's time")
    alone = []
    for name in EXAMPLES:
        scenario = loads(text(name))
        run(scenario, 1000, keep_outcomes=False)  # load or compile first
        one = run_seconds(scenario, nights, 1, time.process_time) / nights
        every = run_seconds(scenario, nights, None, time.perf_counter) / nights
        alone.append(one * MILLION)
        share = 1 - engine_seconds(player(scenario).plan) / one
        print(f"  {name:8} {one * MILLION:7.2f} s {every * MILLION:9.2f} s {one / every:7.2f}"
              f" {100 * share:10.1f} %")  # fmt: skip
    return sum(alone) / len(alone)


def run_seconds(scenario: Scenario, nights: int, workers: int | None, clock: Clock) -> float:
    return least(lambda: run(scenario, nights, workers=workers, keep_outcomes=False), clock)


def engine_seconds(plan: NightPlan) -> float:
    """Seconds a night in the engine alone, a chunk at a time."""
    count = CHUNK["batch"]
    return least(lambda: play(plan, 1, 0, count), time.process_time, 9) / count


def least(work: Callable[[], object], clock: Clock, times: int = 3) -> float:
    """The least of several times: what other processes do can only add to it."""
    taken = []
    for _ in range(times):
        begun = clock()
        work()
        taken.append(clock() - begun)
    return min(taken)


# ---- memory -------------------------------------------------------------------------------


def memory(few: int, many: int) -> None:
    """Largest memory of the whole command at two numbers of nights."""
    title("Largest memory of `soundergate run`, resident")
    with tempfile.TemporaryDirectory() as folder:
        trap = Path(folder) / "trap.toml"
        trap.write_text(text("line"), encoding="utf-8")
        for what, options in (
            ("sums alone", []),
            ("sums to a store", ["--sums-only", "--out"]),
            ("nights to a store", ["--keep-nights", "--out"]),
        ):
            sizes = []
            for nights in (few, many if "nights" not in what else 3 * few):
                out = [f"{folder}/{len(list(Path(folder).iterdir()))}"] if options else []
                command = ["run", str(trap), "--nights", str(nights), "--quiet", *options, *out]
                megabytes, seconds = measured(command)
                sizes.append(megabytes)
                print(f"  {what:18} {nights:12,} nights {megabytes:7.1f} MB {seconds:7.1f} s")
            growth = sizes[1] / sizes[0] - 1
            print(f"  {what:18} growth {100 * growth:+.1f} %")
            if growth > ALLOWED_GROWTH:
                failures.append(f"memory grew by {100 * growth:.1f} % ({what})")
            if max(sizes) > ALLOWED_MEGABYTES:
                failures.append(f"{max(sizes):.0f} MB ({what})")


def measured(arguments: list[str]) -> tuple[float, float]:
    """(largest resident memory in MB, seconds) of the command in a process of its own."""
    script = (
        "import resource, subprocess, sys\n"
        "subprocess.run([sys.executable, '-m', 'soundergate', *sys.argv[1:]], check=True,"
        " stdout=subprocess.DEVNULL)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments], capture_output=True, text=True, check=True
    )
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, kilobytes elsewhere
    return int(done.stdout) * unit / 1e6, time.perf_counter() - begun


# ---- store --------------------------------------------------------------------------------


def store(nights: int) -> float:
    """Bytes, commits and reading back; returns bytes a row of sums."""
    title(f"Store, {nights:,} nights")
    scenario = loads(text("line"))
    with tempfile.TemporaryDirectory() as folder:
        with Store(folder) as kept, timed() as took:
            whole = run(scenario, nights, keep_outcomes=False, store=kept)
        with Store(folder, resume=True) as kept:
            with timed() as again:
                run(scenario, nights, keep_outcomes=False, store=kept)
            texts = [row[0] for row in kept._db.execute("SELECT sums FROM chunk")]
            commits = [commit(kept) for _ in range(20)]
        parts = sum((codec.from_text(one) for one in texts), Tally())
        if parts != whole.tally:
            failures.append("the result is not the sum of its parts")
        size = sum(map(len, texts)) / len(texts)
        print(f"  played and written in {took[0]:.1f} s, {len(texts)} rows of {size:,.0f} bytes")
        print(f"  the sum of the rows {'equals' if parts == whole.tally else 'IS NOT'} the result")
        print(f"  read back in {1e3 * again[0] / len(texts):.2f} ms a row")
        print(f"  a commit takes {1e3 * sorted(commits)[10]:.1f} ms (median of 20)")
        print(f"  file {os.path.getsize(Path(folder) / NAME) / 1e3:,.0f} kB")
    kept_bytes = len(codec.to_bytes(player(scenario)(1, 0, CHUNK["batch"]))) / CHUNK["batch"]
    print(f"  kept nights take {kept_bytes:.1f} bytes each")
    return size


def commit(kept: Store) -> float:
    begun = time.perf_counter()
    with kept._transaction():
        kept._note({"benchmark": str(begun)})
    return time.perf_counter() - begun


@contextmanager
def timed() -> Iterator[list[float]]:
    taken: list[float] = []
    begun = time.perf_counter()
    yield taken
    taken.append(time.perf_counter() - begun)


# ---- cluster ------------------------------------------------------------------------------


def cluster(nights: int) -> tuple[float, float] | None:
    """Bytes and scheduler's seconds a task; None without Dask."""
    title("Cluster: two processes of one thread on this machine")
    try:
        from distributed import LocalCluster
    except ImportError:
        print("  Dask is not installed: pip install 'soundergate[cluster]'")
        return None
    from soundergate.engine.work.cluster import Cluster

    scenario = loads(text("line"))
    work = Folded((Job(player(scenario).plan, 1, "batch"),), Summing(), "a key")
    answer = len(pickle.dumps(work(Chunk(0, CHUNK["batch"]))))
    print(f"  the work is {len(pickle.dumps(work)) / 1e3:,.0f} kB, sent once to a worker; "
          f"an answer {answer / 1e3:.1f} kB")  # fmt: skip
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as local,
        Cluster(local.scheduler_address) as workers,
    ):
        run(scenario, 200_000, executor=workers, keep_outcomes=False)  # load or compile first
        with timed() as there:
            result = run(scenario, nights, executor=workers, keep_outcomes=False)
        with timed() as here:
            same = run(scenario, nights, workers=2, keep_outcomes=False).tally == result.tally
        if not same:
            failures.append("the cluster gave another result")
        tasks = 1000
        with timed() as took:
            for future in [workers.client.submit(abs, n, pure=False) for n in range(tasks)]:
                future.result()
    print(f"  {nights:,} nights in {there[0]:.1f} s, with two threads {here[0]:.1f} s, "
          f"{'the same bits' if same else 'OTHER BITS'}")  # fmt: skip
    print(f"  {tasks} empty tasks: {1e3 * took[0] / tasks:.2f} ms each, through one scheduler")
    return answer, took[0] / tasks


# ---- what follows -------------------------------------------------------------------------


def outlook(million: float, row: float, task: tuple[float, float] | None) -> None:
    """10^11 nights, from the figures above."""
    nights, cores = 10**11, 1000
    title(f"What follows for 10^11 nights on {cores:,} such cores (a calculation, not measured)")
    seconds = nights / MILLION * million
    print(f"  {seconds / 3600:,.0f} core hours, {seconds / cores / 60:,.1f} minutes")
    if task is None:
        return
    answer, each = task
    chunk = 5.0 / million * MILLION
    tasks = nights / chunk
    busy = tasks * each / (seconds / cores)
    print(f"  chunks of 5 s, {chunk:,.0f} nights: {tasks:,.0f} tasks, "
          f"{cores / 5.0:,.0f} a second")  # fmt: skip
    print(
        f"  scheduler busy {100 * busy:.0f} % of the time; at 100 % with {cores / busy:,.0f} cores"
    )
    print(f"  answers {tasks * answer / 1e6:,.0f} MB in all, "
          f"{cores / 5.0 * answer / 1e3:,.0f} kB a second")  # fmt: skip
    rows = min(tasks, seconds / cores)
    print(f"  store: {rows:,.0f} rows of about a second, {rows * row / 1e6:,.1f} MB")


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    sys.exit(main())
