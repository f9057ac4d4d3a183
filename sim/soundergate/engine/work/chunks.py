"""Work cut by night number: chunks, what is done with them, and what an executor is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple, Protocol, TypeVar

R = TypeVar("R")


class Chunk(NamedTuple):
    """Nights ``first`` to ``first + count - 1``."""

    first: int
    count: int  # type: ignore[assignment]  # hides the method of tuples


class WrongNights(RuntimeError):
    """An executor returned other nights than it was asked for."""


class Work(Protocol[R]):
    """What is done with a chunk. Pickles, so that it can be done elsewhere."""

    def __call__(self, chunk: Chunk) -> R: ...

    def check(self, chunk: Chunk, result: R) -> None:
        """Raises WrongNights if ``result`` is not of this chunk."""


class Executor(Protocol):
    """Does a work on chunks somewhere and yields the results in the order asked for.

    It may say how many ``workers`` it has, and how long its chunks should be: ``chunk_seconds`` of
    work, ``chunk_most`` nights.
    """

    def map(self, job: Work[R], chunks: Iterable[Chunk]) -> Iterator[R]: ...


def cut(first: int, count: int, size: int) -> Iterator[Chunk]:
    """Chunks of at most ``size`` nights that cover ``count`` nights from ``first``."""
    for start in range(first, first + count, size):
        yield Chunk(start, min(size, first + count - start))
