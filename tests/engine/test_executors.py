"""However the nights are cut and wherever they are played, they are the same nights."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine import play
from soundergate.engine.executors import (
    Chunk,
    InOrder,
    Job,
    Threads,
    WrongNights,
    choose_executor,
    cut,
    iterate_chunks,
    run_chunks,
)
from soundergate.engine.outcomes import Outcomes

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


@pytest.mark.parametrize("size", [1, 7, 999, 1000, NIGHTS, 50_000])
@pytest.mark.parametrize("executor", [InOrder(), Threads(2), Threads(7)])
def test_cutting_and_threads_do_not_show(plan, whole, executor, size) -> None:
    count = NIGHTS if size > 1 else 60
    parts = iterate_chunks(plan, SEED, 40, count, executor=executor, chunk_size=size)
    assert Outcomes.concatenate(parts) == whole.rows(0, count)


@pytest.mark.parametrize("workers", [1, 2, 5, None])
def test_workers_do_not_show(plan, whole, workers) -> None:
    told: list[int] = []
    assert run_chunks(plan, SEED, 40, NIGHTS, workers, told.append) == whole
    assert sum(told) == NIGHTS


def test_the_reference_engine_is_cut_alike(plan, whole) -> None:
    found = run_chunks(plan, SEED, 40, 120, workers=2, engine="reference")
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
    assert isinstance(choose_executor(4, "reference"), InOrder)
    assert isinstance(choose_executor(1, "batch"), InOrder)
    assert isinstance(choose_executor(4, "batch"), Threads)


# ---- executors that break the contract ----------------------------------------------------


class Reversed:
    """Gives the chunks back in the wrong order."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        return iter([job(chunk) for chunk in chunks][::-1])


class Repeats:
    """Plays the first chunk again and again."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        chunks = list(chunks)
        return (job(chunks[0]) for _ in chunks)


class DropsOneNight:
    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        return (job(Chunk(chunk.first, chunk.count - 1)) for chunk in chunks)


class OtherGroup:
    """Gives nights of another sounder."""

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


@pytest.mark.parametrize("executor", [Reversed(), Repeats(), DropsOneNight(), OtherGroup()])
def test_a_wrong_executor_is_caught(plan, executor) -> None:
    with pytest.raises(WrongNights):
        list(iterate_chunks(plan, SEED, 40, 300, executor=executor, chunk_size=100))


def test_swapped_nights_are_caught(plan) -> None:
    with pytest.raises(WrongNights):
        list(iterate_chunks(plan, SEED, 40, 300, executor=SwapsTwoNights(), chunk_size=100))


class GivesTooFew:
    """Leaves out the last chunk."""

    def map(self, job: Job, chunks: Iterable[Chunk]) -> Iterator[Outcomes]:
        return (job(chunk) for chunk in list(chunks)[:-1])


def test_a_missing_chunk_is_caught(plan) -> None:
    with pytest.raises((WrongNights, ValueError)):
        list(iterate_chunks(plan, SEED, 40, 300, executor=GivesTooFew(), chunk_size=100))


# ---- the compiled kernel -------------------------------------------------------------------


def test_one_compiled_kernel_serves_every_scenario(plan_named, night_named) -> None:
    """Whatever the scenario, the plan has the same array types, so Numba compiles once."""
    from soundergate.engine import kernel

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
        assert not np.isnan(mine).any(), name
