"""However the nights are cut and wherever they are played, they are the same nights."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine import play
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.engine.work.chunks import Chunk, Executor, Work, WrongNights, cut
from soundergate.engine.work.cluster import Cluster
from soundergate.engine.work.executors import (
    CHUNK,
    InOrder,
    Job,
    Threads,
    choose_executor,
    iterate,
    iterate_chunks,
    run_chunks,
)
from soundergate.engine.work.folding import ArmFailed, Folded
from soundergate.engine.work.processes import Processes

SEED = 20260104
NIGHTS = 3000


@pytest.fixture(scope="module")
def plan(base_table, plan_of):
    return plan_of(base_table)


@pytest.fixture(scope="module")
def whole(plan) -> Outcomes:
    """All nights in one call of the kernel."""
    return play(plan, SEED, 40, NIGHTS)


@given(st.integers(0, 10**9), st.integers(0, 5000), st.integers(1, 700))
def test_chunks_cover_the_nights_once_and_in_order(first, count, size) -> None:
    chunks = list(cut(first, count, size))
    nights = [night for c in chunks for night in range(c.first, c.first + c.count)]
    assert nights == list(range(first, first + count))
    assert all(1 <= c.count <= size for c in chunks)


@pytest.fixture(scope="module")
def executors() -> Iterator[dict[str, Executor]]:
    """One of every kind; Dask's workers are threads here, see the slow tests for processes."""
    local = pytest.importorskip("distributed").LocalCluster
    with (
        local(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
        ) as scheduler,
        Cluster(scheduler.scheduler_address) as cluster,
        Processes(2) as processes,
    ):
        yield {
            "in order": InOrder(),
            "two threads": Threads(2),
            "seven threads": Threads(7),
            "processes": processes,
            "cluster": cluster,
        }


@pytest.fixture(params=["in order", "two threads", "seven threads", "processes", "cluster"])
def executor(request, executors) -> Executor:
    """Every executor in turn."""
    return executors[request.param]


@pytest.mark.parametrize("size", [1, 7, 999, 1000, NIGHTS, 50_000])
def test_cutting_and_executors_do_not_show(plan, whole, executor, size) -> None:
    count = NIGHTS if size > 7 else 60
    parts = iterate_chunks(plan, SEED, 40, count, executor=executor, chunk_size=size)
    assert Outcomes.concatenate(parts) == whole.rows(0, count)


def other_bait(plan: NightPlan) -> NightPlan:
    """The same animals with a bait that is eaten in a moment."""
    return plan._replace(bait_marks=plan.bait_marks / 50)


def test_plans_are_played_on_the_same_nights_by_every_executor(plan, whole, executor) -> None:
    other = other_bait(plan)
    jobs = (Job(plan, SEED, "batch"), Job(other, SEED, "batch"))
    work = Folded(jobs, Outcomes.concatenate, "a key")
    pieces = list(iterate(work, cut(40, NIGHTS, 700), executor))
    assert [(p.first, p.count) for p in pieces] == [*cut(40, NIGHTS, 700)]
    theirs = play(other, SEED, 40, NIGHTS)
    assert theirs != whole
    for piece in pieces:
        start = piece.first - 40
        assert piece.value.rows(0, piece.count) == whole.rows(start, start + piece.count)
        assert piece.value.rows(piece.count, 2 * piece.count) == theirs.rows(
            start, start + piece.count
        )
    assert all(piece.seconds > 0 for piece in pieces)


def test_a_chunk_is_boiled_down_block_by_block(plan, whole) -> None:
    """Memory depends on the block, not on the chunk, and the sum on neither."""
    held = []

    def caught(nights: Sequence[Outcomes]) -> np.ndarray:
        held.append(len(nights[0]))
        return np.array([len(nights[0]), nights[0]["caught"].sum(), nights[0]["struck"].sum()])

    work = Folded((Job(plan, SEED, "batch"),) * 40, caught, "a key")
    piece = work(Chunk(40, NIGHTS))
    assert piece.value.tolist() == [NIGHTS, whole["caught"].sum(), whole["struck"].sum()]
    assert max(held) == work.block == 1000 < NIGHTS
    assert Folded((Job(plan, SEED, "reference"),), caught, "").block == CHUNK["reference"]


def test_a_plan_that_cannot_be_played_is_named_by_every_executor(plan, executor) -> None:
    jobs = (Job(plan, SEED, "batch"), Job(plan, SEED, "sundial"))
    with pytest.raises(ArmFailed, match="'sundial' is not one of batch, reference") as failed:
        list(iterate(Folded(jobs, Outcomes.concatenate, "a key"), cut(0, 100, 50), executor))
    assert failed.value.arm == 1
    again = iterate_chunks(plan, SEED, 40, 90, executor=executor, chunk_size=50)
    assert len(Outcomes.concatenate(again)) == 90


@pytest.mark.parametrize("workers", [1, 2, 5, None])
def test_workers_do_not_show(plan, whole, workers) -> None:
    told: list[int] = []
    assert run_chunks(plan, SEED, 40, NIGHTS, workers, told.append) == whole
    assert sum(told) == NIGHTS


def test_the_reference_engine_is_cut_alike(plan, whole, executor) -> None:
    found = run_chunks(plan, SEED, 40, 120, engine="reference", executor=executor)
    assert found == whole.rows(0, 120)


def test_other_seeds_and_nights_are_other_nights(plan, whole) -> None:
    assert play(plan, SEED + 1, 40, NIGHTS) != whole
    moved = play(plan, SEED, 41, NIGHTS)
    assert moved.rows(0, NIGHTS - 1) == whole.rows(1, NIGHTS)


def test_many_threads_in_one_kernel_at_once(plan, whole) -> None:
    """Each call has its own scratch: eight at a time give what one at a time does."""
    found: list[Outcomes | None] = [None] * 8
    start = threading.Barrier(8)

    def job(j: int) -> None:
        start.wait()
        found[j] = play(plan, SEED, 40, NIGHTS)

    threads = [threading.Thread(target=job, args=(j,)) for j in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(one == whole for one in found)


def test_an_unknown_engine_is_named(plan) -> None:
    with pytest.raises(ValueError, match=r"'quick' is not one of batch, reference"):
        play(plan, SEED, 0, 1, "quick")


def test_simpy_gets_no_threads() -> None:
    assert isinstance(choose_executor(None, "reference"), InOrder)
    assert isinstance(choose_executor(1, "reference"), InOrder)
    assert isinstance(choose_executor(4, "reference"), Processes)
    assert isinstance(choose_executor(1, "batch"), InOrder)
    assert isinstance(choose_executor(4, "batch"), Threads)


# ---- executors that break the contract ----------------------------------------------------


class Reversed:
    """Gives the chunks back in the wrong order."""

    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        return iter([job(chunk) for chunk in chunks][::-1])


class Repeats:
    """Plays the first chunk again and again."""

    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        chunks = list(chunks)
        return (job(chunks[0]) for _ in chunks)


class DropsOneNight:
    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        return (job(Chunk(chunk.first, chunk.count - 1)) for chunk in chunks)


class BeginsOneLater:
    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        return (job(Chunk(chunk.first + 1, chunk.count)) for chunk in chunks)


class GivesTooFew:
    """Leaves out the last chunk."""

    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        return (job(chunk) for chunk in list(chunks)[:-1])


class StopsEarly:
    """Never asks for the chunks after the first."""

    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        yield job(next(iter(chunks)))


class GivesTooMany:
    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        done = [job(chunk) for chunk in chunks]
        yield from [*done, done[-1]]


class AnotherSounder:
    """Gives nights of a larger group."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        for chunk in chunks:
            outcomes = job(chunk)
            outcomes["group_size"][:] += 1
            yield outcomes


class SwapsTwoNights:
    """Right numbers at both ends, and two nights in between changed places."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        for chunk in chunks:
            outcomes = job(chunk)
            for name in outcomes:
                outcomes[name][[1, 2]] = outcomes[name][[2, 1]]
            yield outcomes


class KeepsAnOldJob:
    """Plays what it was first given, as a worker does that forgets to look for new work."""

    def __init__(self, old: Work[Any]) -> None:
        self.old = old

    def map(self, job: Work[Any], chunks: Iterable[Chunk]) -> Iterator[Any]:
        return (self.old(chunk) for chunk in chunks)


WRONG = [
    Reversed(), Repeats(), DropsOneNight(), BeginsOneLater(), GivesTooFew(), StopsEarly(),
    GivesTooMany(),
]  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG, ids=lambda e: type(e).__name__)
@pytest.mark.parametrize("folded", [False, True])
def test_a_wrong_executor_is_caught(plan, wrong, folded) -> None:
    job = Job(plan, SEED, "batch")
    work = Folded((job,), Outcomes.concatenate, "a key") if folded else job
    assert len(list(iterate(work, cut(40, 300, 100), InOrder()))) == 3
    with pytest.raises(WrongNights):
        list(iterate(work, cut(40, 300, 100), wrong))


@pytest.mark.parametrize("wrong", [AnotherSounder(), SwapsTwoNights()])
def test_wrong_nights_within_a_chunk_are_caught(plan, wrong) -> None:
    with pytest.raises(WrongNights):
        list(iterate_chunks(plan, SEED, 40, 300, executor=wrong, chunk_size=100))


def test_nights_of_another_run_are_caught(plan) -> None:
    old, new = (
        Folded((Job(plan, seed, "batch"),), Outcomes.concatenate, f"seed {seed}") for seed in (1, 2)
    )
    with pytest.raises(WrongNights, match="another run"):
        list(iterate(new, cut(0, 300, 100), KeepsAnOldJob(old)))


# ---- the compiled kernel -------------------------------------------------------------------


def test_one_compiled_kernel_serves_every_scenario(plan_named, night_named) -> None:
    """Whatever the scenario, the plan has the same array types, so Numba compiles once."""
    from soundergate.engine.kernel import night as kernel

    names = ["line before the bait", "two people watch", "two openings that close apart",
             "one animal", "ninety-six animals", "nobody comes", "lattice of ties"]  # fmt: skip
    for name in names:
        play(plan_named(night_named(name)), SEED, 0, 2)
    assert len(kernel.play_nights.signatures) == 1


def test_every_plan_has_the_same_types(plan_named, named_night, plan) -> None:
    one = plan_named(named_night)
    assert type(one) is type(plan)
    for name, mine, other in zip(one._fields, one, plan, strict=True):
        assert (mine.dtype, mine.ndim) == (other.dtype, other.ndim), name
        assert mine.flags.c_contiguous, name
        for numbers in [mine] if mine.dtype.names is None else map(mine.field, mine.dtype.names):
            assert not np.isnan(numbers).any(), name
