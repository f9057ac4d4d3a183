"""Workers that are lost, machines that differ, clusters that are not there."""

from __future__ import annotations

import gc
import importlib
import os
import pickle
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import weakref
from collections.abc import Iterator
from pathlib import Path
from queue import Queue
from typing import Any

import pytest

import soundergate
from soundergate.engine import play
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.work import fingerprint
from soundergate.engine.work.chunks import Chunk
from soundergate.engine.work.cluster import Cluster
from soundergate.engine.work.executors import InOrder, Job, iterate, iterate_chunks
from soundergate.engine.work.fingerprint import Answer, checked, made_with
from soundergate.engine.work.folding import ArmFailed, Pace
from soundergate.engine.work.processes import Processes, _Task
from soundergate.scenario.errors import ScenarioError

SEED = 7
LONG = 600.0
"""Seconds: nothing takes so long, but on a machine that hangs."""


@pytest.fixture(scope="module")
def plan(base_table, plan_of):
    return plan_of(base_table)


def test_a_plan_pickles_to_the_same_nights(plan) -> None:
    copied = pickle.loads(pickle.dumps(plan))
    assert play(copied, SEED, 0, 300) == play(plan, SEED, 0, 300)


def test_a_failure_travels_whole() -> None:
    copied = pickle.loads(pickle.dumps(ArmFailed(3, "ValueError: no such gate")))
    assert (copied.arm, copied.reason, str(copied)) == (3, *["ValueError: no such gate"] * 2)


@pytest.mark.slow
def test_a_killed_process_is_replaced_and_no_night_is_lost(plan) -> None:
    whole = play(plan, SEED, 0, 4000)
    with Processes(2) as processes:
        parts = iterate_chunks(plan, SEED, 0, 4000, executor=processes, chunk_size=200)
        got = [next(parts)]
        killed = [worker.process.pid for worker in processes._started]
        for pid in killed:
            os.kill(pid, signal.SIGKILL)
        got += parts
        assert Outcomes.concatenate(got) == whole
        assert not {worker.process.pid for worker in processes._started} & {*killed}


OTHERS = """
import os, signal, struct, sys, threading
from pathlib import Path

class Fails:
    def __call__(self, chunk):
        if chunk.first == 2:
            raise ValueError("no such gate")
        return threading.Lock() if chunk.first == 4 else chunk.first

class Adds:
    def __init__(self, number):
        self.number = number

    def __call__(self, chunk):
        return self.number + chunk.first

class DiesWhileAnswering:
    def __init__(self, died):
        self.died = Path(died)

    def __call__(self, chunk):
        if not self.died.exists():
            self.died.touch()
            frame = sys._getframe()
            while "pipe" not in frame.f_locals:
                frame = frame.f_back
            os.write(frame.f_locals["pipe"].fileno(), struct.pack("!i", 1000) + b"half")
            os.kill(os.getpid(), signal.SIGKILL)
        return chunk.first
"""


@pytest.fixture
def others(tmp_path, monkeypatch) -> Any:
    """A module of work that other processes can import."""
    (tmp_path / "others.py").write_text(OTHERS)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "others", raising=False)
    return importlib.import_module("others")


@pytest.fixture
def dying(others, tmp_path) -> Any:
    """Work whose first worker is killed in the midst of an answer."""
    return others.DiesWhileAnswering(tmp_path / "died")


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2])
def test_a_process_killed_with_half_an_answer_written_is_replaced(dying, workers) -> None:
    """Where all share a pipe nobody can read past it: a deadlock that was seen."""
    chunks = [Chunk(first, 1) for first in range(6)]
    with Processes(workers) as processes:
        assert list(processes.map(dying, chunks)) == [*range(6)]
    assert dying.died.exists()


@pytest.mark.slow
def test_closing_does_not_wait_for_one_that_was_killed_while_answering(dying) -> None:
    processes = Processes(1)
    processes._hand_out(dying, [_Task(Chunk(0, 1))])
    while not dying.died.exists():
        time.sleep(0.01)
    processes.close()
    assert not processes._started


class KillsWhoeverDoesIt:
    """Work that no process survives, as one that takes all memory; harmless until unpickled."""

    def __reduce__(self) -> tuple[Any, ...]:
        return eval, ("lambda chunk: __import__('os').kill(__import__('os').getpid(), 9)",)


@pytest.mark.slow
def test_work_that_kills_every_worker_is_given_up(monkeypatch) -> None:
    monkeypatch.setattr("soundergate.engine.work.processes._DEATHS", 1)
    told = r"killed 2 times at the 5 nights from 10.*fewer workers"
    with Processes(1) as processes, pytest.raises(ScenarioError, match=told):
        list(processes.map(KillsWhoeverDoesIt(), [Chunk(10, 5)]))  # type: ignore[arg-type]


@pytest.mark.slow
def test_what_fails_in_a_process_fails_here_and_the_process_works_on(others) -> None:
    chunks = [Chunk(first, 1) for first in range(6)]
    with Processes(1) as processes:
        got = processes.map(others.Fails(), chunks)
        assert [next(got), next(got)] == [0, 1]
        with pytest.raises(ValueError, match="no such gate") as failed:
            next(got)
        assert "in __call__" in failed.value.__notes__[0]  # where in the other process
        pids = [worker.process.pid for worker in processes._started]
        with pytest.raises(TypeError, match="pickle"):
            list(processes.map(others.Fails(), chunks[3:]))  # type: ignore[arg-type]
        assert list(processes.map(others.Fails(), chunks[5:])) == [5]  # type: ignore[arg-type]
        assert [worker.process.pid for worker in processes._started] == pids


@pytest.mark.slow
def test_runs_that_take_turns_and_one_that_is_left_do_not_mix(others) -> None:
    chunks = [Chunk(first, 1) for first in range(9)]
    with Processes(2) as processes:
        left = processes.map(others.Adds(100), chunks)  # type: ignore[arg-type]
        assert next(left) == 100
        left.close()
        pairs = zip(
            processes.map(others.Adds(10), chunks),
            processes.map(others.Adds(20), chunks),
            strict=True,
        )  # type: ignore[arg-type]
        assert list(pairs) == [(10 + n, 20 + n) for n in range(9)]


@pytest.mark.slow
def test_workers_end_with_their_parent(tmp_path) -> None:
    """A run that is killed leaves no processes behind."""
    script = tmp_path / "parent.py"
    script.write_text(
        "import sys, time\n"
        "from soundergate.engine.work.executors import Chunk\n"
        "from soundergate.engine.work.processes import Processes\n"
        "if __name__ == '__main__':\n"
        "    p = Processes(1)\n"
        "    next(p.map(len, [Chunk(0, 1)]))\n"
        "    print(p._started[0].process.pid, flush=True)\n"
        "    time.sleep(3600)\n"
    )
    parent = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    worker = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()
    assert gone_within(worker, 300.0)


INTERRUPTED = """
import os, signal, sys

def again(event, _):
    if event == "import":
        os.kill(os.getpid(), signal.SIGINT)

if "--multiprocessing-fork" in sys.orig_argv:
    sys.addaudithook(again)
"""
TWO_WORKERS = """
from soundergate.engine.work.chunks import Chunk
from soundergate.engine.work.processes import Processes

if __name__ == "__main__":
    with Processes(2) as processes:
        print(list(processes.map(sum, [Chunk(first, 0) for first in range(4)])))
        print(len({worker.process.pid for worker in processes._started}))
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_ctrl_c_at_any_moment_of_a_worker_s_start_is_not_its_business(tmp_path) -> None:
    """It comes again at every import, from the first that a new interpreter makes; also in the
    first worker, beside which Python starts a process of its own and touches the mask of signals.
    """
    (tmp_path / "sitecustomize.py").write_text(INTERRUPTED)
    (tmp_path / "two_workers.py").write_text(TWO_WORKERS)
    done = subprocess.run(
        [sys.executable, tmp_path / "two_workers.py"],
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=LONG,
    )
    assert done.stderr == ""
    assert (done.returncode, done.stdout) == (0, "[0, 1, 2, 3]\n2\n")


def gone_within(pid: int, seconds: float) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            state = open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()[0]  # noqa: SIM115
        except (FileNotFoundError, ProcessLookupError):
            return True
        if state == "Z":  # ended; whoever adopted it has not asked yet
            return True
        time.sleep(0.05)
    return False


def test_a_worker_that_computes_otherwise_is_refused() -> None:
    here = made_with()
    assert checked(Answer(dict(here), "nights")) == "nights"
    for what in here:
        other = {**here, what: "0.0.1"}
        with pytest.raises(ScenarioError, match=f"its {what} is 0.0.1, here .*same versions"):
            checked(Answer(other, "nights"))
    with pytest.raises(ScenarioError, match="soundergate is None"):
        checked(Answer({k: v for k, v in here.items() if k != "soundergate"}, "nights"))


def test_versions_are_named_before_sources_that_differ_with_them() -> None:
    other = {**made_with(), "numpy": "1.0", "python": "2.7", fingerprint.SOURCES: "another"}
    told = fingerprint.differences(other)
    assert [words.split(" is ")[0] for words in told] == ["its python", "its numpy"]


def test_the_fingerprint_sees_every_source(tmp_path) -> None:
    """Also of what sums nights up, which is done where they are played."""
    package = tmp_path / "soundergate"
    shutil.copytree(Path(soundergate.__file__).parent, package)
    before = fingerprint._sources(package)
    assert before == made_with()[fingerprint.SOURCES]
    for name in ("engine/kernel/night.py", "studies/estimates/sums.py", "scenario/schema.py"):
        assert (package / name).is_file()
        with (package / name).open("a") as source:
            source.write("\n")
        assert fingerprint._sources(package) != before, name
        before = fingerprint._sources(package)


def test_the_fingerprint_sees_rounding(monkeypatch) -> None:
    """One function off by one in the last bit, once, is another machine."""
    import math

    from soundergate.engine.luck import elementary

    before = fingerprint._rounding()
    assert before == fingerprint._rounding()
    exact, calls = elementary.exp, []

    def off(x: float) -> float:
        calls.append(x)
        return math.nextafter(exact(x), 9.0) if len(calls) == 1000 else exact(x)

    monkeypatch.setattr(elementary, "exp", off)
    assert fingerprint._rounding() != before


# ---- Dask ---------------------------------------------------------------------------------


@pytest.fixture
def nobody() -> Iterator[str]:
    """An address of this machine that is taken, and at which nobody listens."""
    with socket.socket() as taken_up:
        taken_up.bind(("127.0.0.1", 0))
        yield f"tcp://127.0.0.1:{taken_up.getsockname()[1]}"


def test_a_cluster_that_is_not_there(nobody) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(ScenarioError, match=rf"no cluster answers at '{nobody}'.*Dask"):
        Cluster(nobody, timeout=0.5)
    with pytest.raises(ScenarioError, match="no cluster answers at 'barn'"):
        Cluster("barn", timeout=0.5)


def test_nothing_is_left_of_a_client_that_found_no_cluster(nobody) -> None:
    """What is left would close itself some time, perhaps while another client starts: a deadlock
    that was seen."""
    client = pytest.importorskip("distributed").Client
    dead = weakref.proxy(set())  # other tests leave such things too

    def clients() -> set[int]:
        # by its type: isinstance would ask a dead weak reference for what it referred to
        return {id(thing) for thing in gc.get_objects() if issubclass(type(thing), client)}

    gc.collect()  # what other tests of this process have left
    gc.disable()
    try:
        assert any(thing is dead for thing in gc.get_objects())
        before = clients()
        with pytest.raises(ScenarioError):
            Cluster(nobody, timeout=0.2)
        assert clients() <= before
    finally:
        gc.enable()


@pytest.mark.slow
def test_a_cluster_without_workers(plan, capsys, monkeypatch) -> None:
    """It is said, once, and goes on by itself when there are some, and again when they are gone."""
    local = pytest.importorskip("distributed").LocalCluster
    for room, name in (("", "_AGAIN"), ("_workers", "_AGAIN"), ("_workers", "_FOR_FIRST")):
        monkeypatch.setattr(f"soundergate.engine.work.cluster{room}._LOOK{name}", 0.05)
    told: Queue[bool] = Queue()
    found: Queue[Outcomes] = Queue()
    chunks = [Chunk(first, 1000) for first in range(0, 400_000, 1000)]

    def play_all() -> None:
        for outcomes in iterate(Job(plan, SEED, "batch"), chunks, cluster):
            found.put(outcomes)

    with local(
        n_workers=0, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
    ) as scheduler:
        with Cluster(scheduler.scheduler_address):
            said = capsys.readouterr().err
        assert "nothing is computed until one joins. Start some (dask worker" in said
        with Cluster(scheduler.scheduler_address, watch=told.put) as cluster:
            assert told.get(timeout=LONG) is False
            playing = threading.Thread(target=play_all)
            playing.start()
            scheduler.scale(1)
            assert told.get(timeout=LONG) is True
            got = [found.get(timeout=LONG)]
            scheduler.scale(0)
            assert told.get(timeout=LONG) is False
            scheduler.scale(1)
            assert told.get(timeout=LONG) is True
            playing.join(LONG)
            assert not playing.is_alive()
    got += [found.get_nowait() for _ in range(len(chunks) - 1)]
    assert told.empty()
    assert Outcomes.concatenate(got) == play(plan, SEED, 0, 400_000)


def test_it_is_noticed_within_ten_seconds() -> None:
    """That nobody works: a wait for an answer, and then the time between two looks."""
    from soundergate.engine.work import cluster, cluster_workers

    assert cluster._LOOK_AGAIN + cluster_workers._LOOK_AGAIN <= 8.0


def test_a_cluster_without_dask(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ScenarioError, match=r"needs Dask.*pip install 'soundergate\[cluster\]'"):
        Cluster("tcp://127.0.0.1:1")


PLAYED: list[int] = []
TWENTY = threading.Event()
"""Whether twenty chunks are done."""


class FirstIsSlow:
    """Work whose first chunk is done only when twenty others are, as on a machine that hangs."""

    def __call__(self, chunk: Chunk) -> int:
        if not chunk.first:
            TWENTY.wait(LONG)
        PLAYED.append(chunk.first)
        if len(PLAYED) >= 20:
            TWENTY.set()
        return chunk.first


def test_nobody_waits_for_a_slow_worker() -> None:
    local = pytest.importorskip("distributed").LocalCluster
    PLAYED.clear()
    TWENTY.clear()
    with (
        local(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
        ) as scheduler,
        Cluster(scheduler.scheduler_address) as cluster,
    ):
        chunks = [Chunk(number, 1) for number in range(60)]
        assert list(cluster.map(FirstIsSlow(), chunks)) == list(range(60))  # type: ignore[arg-type]
    assert PLAYED.index(0) >= 20
    assert sorted(PLAYED) == list(range(60))


def test_a_cluster_that_goes_away(plan) -> None:
    local = pytest.importorskip("distributed").LocalCluster
    scheduler = local(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
    )
    with Cluster(scheduler.scheduler_address) as cluster:
        parts = iterate_chunks(plan, SEED, 0, 10**6, executor=cluster, chunk_size=500)
        assert len(next(parts)) == 500
        scheduler.close()
        with pytest.raises(ScenarioError, match="no longer answers"):
            list(parts)


@pytest.mark.slow
def test_a_worker_of_a_cluster_is_killed_and_no_night_is_lost(plan) -> None:
    """Two processes; one is killed while it plays. Same bits as one thread here."""
    local = pytest.importorskip("distributed").LocalCluster
    job = Job(plan, SEED, "batch")
    chunks = [Chunk(first, 2000) for first in range(0, 200_000, 2000)]
    with (
        local(n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0") as scheduler,
        Cluster(scheduler.scheduler_address) as cluster,
    ):
        assert cluster.workers == 2
        before = cluster.client.run(os.getpid)
        assert os.getpid() not in before.values()
        killed = before[min(before)]
        parts = iterate(job, chunks, cluster)
        got = [next(parts) for _ in range(5)]
        os.kill(killed, signal.SIGKILL)
        got += parts
        after = cluster.client.run(os.getpid)
    assert killed not in after.values()
    assert Outcomes.concatenate(got) == Outcomes.concatenate(iterate(job, chunks, InOrder()))


# ---- lengths of chunks --------------------------------------------------------------------


def test_chunks_grow_to_the_time_wanted_and_leave_nobody_idle() -> None:
    pace = Pace(20_000, 0.25)
    rate, sizes = 100_000, []
    for chunk in pace.chunks(0, 500_000, 2):
        sizes.append(chunk.count)
        pace.took(chunk.count, chunk.count / rate)
    assert sum(sizes) == 500_000
    assert sizes[0] == 1000
    assert max(sizes) == 20_000
    assert sizes[-1] <= 1000
    slow = Pace(20_000, 0.25)
    slow.took(1000, 1.0)
    assert 500 <= slow.count < 1000  # no shorter, however slow (test_pace.py)
    compiling = Pace(20_000, 0.25)
    compiling.took(1000, 30.0)
    for _ in range(5):
        compiling.took(compiling.count, compiling.count / rate)
    assert compiling.count == 20_000
