"""Finished chunks of a long run on disk, so that one that is killed goes on where it was.

One SQLite file, ``chunks.sqlite``, in the output folder; one row a chunk and arm: the arm, its
first night, how many, their exact sums, and the nights themselves if they are to be kept. A chunk
is written in one transaction for all arms and their pairs, so the file always holds the same first
nights of every arm, whenever the run ends. Chunks that are done quickly are joined to about one a
second. The file is locked while a run writes to it, and the lock goes with the process.
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

from soundergate.engine.outcomes import Outcomes
from soundergate.study import codec
from soundergate.study.errors import StudyError
from soundergate.study.identity import changes, in_short
from soundergate.study.pairs import PairTally
from soundergate.study.sums import Sums
from soundergate.study.tally import Tally

NAME = "chunks.sqlite"
_FORMAT = 1
_SECONDS_A_ROW = 1.0
_KEPT_A_ROW = 50_000  # nights, if they are kept: they wait in memory
_SYNCHRONOUS = "FULL"  # also safe when the power fails
_TAKEN = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_ALONE = ""
"""What stands in the column ``less`` of a row that is of one arm and not of a pair."""

_TABLES = """
CREATE TABLE about (what TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE failed (arm TEXT PRIMARY KEY, reason TEXT NOT NULL);
CREATE TABLE chunk (
    arm TEXT NOT NULL,       -- its name, empty in a run of one setup
    less TEXT NOT NULL,      -- the arm that it is compared with, in a row of differences
    first INTEGER NOT NULL,  -- number of the first night
    count INTEGER NOT NULL,  -- how many nights
    sums TEXT NOT NULL,      -- exact sums over them, JSON
    nights BLOB,             -- the nights, compressed, if they are kept
    PRIMARY KEY (first, arm, less)
);
"""

Pair = tuple[str, str]


class Store:
    """The store in ``folder``, locked for this run until it is closed.

    A store that holds chunks is taken up only with ``resume``, and emptied only with ``force``.
    ``found`` is told how many nights a run that is taken up has already.

    Raises
    ------
    StudyError
        If another run is writing there, if it holds chunks and neither is given, or if the file
        cannot be written or is no store. From any method: if the disk is full or fails.
    """

    def __init__(
        self,
        folder: str | os.PathLike[str],
        resume: bool = False,
        force: bool = False,
        found: Callable[[int], None] | None = None,
    ) -> None:
        self.path = Path(folder) / NAME
        self._found = found
        self._arms: list[str] = []
        self._pairs: list[Pair] = []
        self._waiting: tuple[int, Sums] | None = None
        self._written_at = time.monotonic()
        with self._told("cannot be opened"):
            self._db = sqlite3.connect(self.path, timeout=0.0, isolation_level=None)
        try:
            self._lock()
            self._prepare(resume, force)
        except BaseException:
            self._db.close()
            raise

    def _lock(self) -> None:
        with self._told("cannot be written"):
            # One writer: the lock is held between transactions, and released by the system
            # however the process ends. A rollback journal leaves one file, and works on disks
            # of the network, where shared memory does not.
            self._db.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._db.execute(f"PRAGMA synchronous = {_SYNCHRONOUS}")
            self._db.execute("BEGIN EXCLUSIVE")
            self._db.execute("COMMIT")

    def _prepare(self, resume: bool, force: bool) -> None:
        new = not self._is_there()
        if not (new or resume or force) and self.nights_done:
            raise StudyError(
                f"holds {self.nights_done:,} nights of an earlier run",
                file=str(self.path),
                hint="--resume goes on with it, --force begins again",
            )
        with self._told("cannot be written"), self._transaction():
            if new:
                for statement in _TABLES.split(";")[:-1]:
                    self._db.execute(statement)
            elif not resume:
                for table in ("chunk", "failed", "about"):
                    self._db.execute(f"DELETE FROM {table}")
            # Even when nothing changes: the disk is tried, and an old run's journal goes.
            self._note({"format": str(_FORMAT)})

    def _is_there(self) -> bool:
        """Whether the file is a store already; raises StudyError if it is something else."""
        with self._told("is damaged, or is no store of chunks"):
            names = {name for (name,) in self._db.execute("SELECT name FROM sqlite_master")}
            if not names:
                return False
            if "chunk" not in names:
                raise StudyError("is no store of chunks", file=str(self.path))
            known = self._about().get("format")
        if known != str(_FORMAT):
            raise StudyError(
                f"is a store of format {known}; this version writes {_FORMAT}", file=str(self.path)
            )
        return True

    # ---- what the run is ----------------------------------------------------------------

    def begin(self, about: Mapping[str, str], nights: int | None = None) -> None:
        """Take up the run ``about``; the chunks that are there already must be of it.

        ``nights``: the most it will play. Raises StudyError naming what has changed.
        """
        with self._told("cannot be read"):
            before, done = self._identity(), self.nights_done
        if before and (changed := changes(before, about)):
            raise StudyError(
                f"holds chunks of another run: {in_short(changed)}",
                file=str(self.path),
                hint="go on with the same run, or begin this one in another folder",
            )
        if nights is not None and done > nights:
            raise StudyError(
                f"holds {done:,} nights, more than the {nights:,} asked for",
                file=str(self.path),
                hint="ask for as many or more",
            )
        if not before:
            with self._told("cannot be written"), self._transaction():
                self._note({"run": json.dumps(about)})
        if done and self._found is not None:
            self._found(done)

    def of(self, arms: Sequence[str], pairs: Sequence[Pair] = ()) -> None:
        """The arms and pairs whose sums are given and asked for from now on, in this order."""
        self._arms, self._pairs = list(arms), list(pairs)

    @property
    def nights_done(self) -> int:
        """Nights whose sums are on disk."""
        row = self._db.execute("SELECT max(first + count) FROM chunk").fetchone()
        return row[0] or 0

    @property
    def failed(self) -> dict[str, str]:
        """Arms that could not be played, and why."""
        return dict(self._db.execute("SELECT arm, reason FROM failed ORDER BY rowid"))

    def fail(self, arm: str, reason: str, forget: bool) -> None:
        """Note that an arm cannot be played; ``forget`` the chunks of all arms with it."""
        self.flush()
        with self._told("cannot be written"), self._transaction():
            self._db.execute("INSERT OR REPLACE INTO failed VALUES (?, ?)", (arm, reason))
            gone = "DELETE FROM chunk" + ("" if forget else " WHERE arm = ?1 OR less = ?1")
            self._db.execute(gone, () if forget else (arm,))

    # ---- chunks ---------------------------------------------------------------------------

    def chunks(self, first: int, count: int) -> Iterator[Sums]:
        """Sums of the chunks from night ``first`` on, at most ``count`` nights of them.

        Without the nights themselves, which `nights` reads.
        """
        wanted = [(name, _ALONE) for name in self._arms] + self._pairs
        end = first + count
        query = (
            "SELECT first, count, arm, less, sums FROM chunk WHERE first >= ? AND first < ? "
            "ORDER BY first"
        )
        with self._told("cannot be read"):
            for start, group in groupby(self._db.execute(query, (first, end)), itemgetter(0)):
                rows = {(arm, less): (size, text) for _, size, arm, less, text in group}
                found = [rows[names] for names in wanted if names in rows]
                sizes = {size for size, _ in found}
                if start != first or len(found) != len(wanted) or len(sizes) != 1:
                    raise self._damaged(f"the nights from {first} are not whole")
                first += sizes.pop()
                if first > end:
                    raise self._damaged(f"the nights before {first} are not as they were asked for")
                yield self._sums([self._read(text) for _, text in found], first - start)

    def add(self, first: int, sums: Sums) -> None:
        """Take a chunk; those of about a second are written as one row an arm."""
        if self._waiting is None:
            self._waiting = (first, sums)
        else:
            begun, before = self._waiting
            if begun + before.count != first:
                raise ValueError(f"chunk from night {first} after {begun + before.count} nights")
            self._waiting = (begun, before + sums)
        many = bool(sums.nights) and self._waiting[1].count >= _KEPT_A_ROW
        if many or time.monotonic() - self._written_at >= _SECONDS_A_ROW:
            self.flush()

    def flush(self) -> None:
        """Write what waits to be written."""
        if self._waiting is None:
            return
        first, sums = self._waiting
        with self._told("cannot be written", self._safe()), self._transaction():
            for arm, name in enumerate(self._arms):
                nights = codec.to_bytes(sums.kept(arm)) if sums.nights else None  # type: ignore[arg-type]
                self._insert(name, _ALONE, first, sums.count, sums.tallies[arm], nights)
            for pair, tally in zip(self._pairs, sums.pairs, strict=True):
                self._insert(*pair, first, sums.count, tally, None)
        self._waiting, self._written_at = None, time.monotonic()

    def nights(self, arm: str) -> StoredNights:
        """The kept nights of an arm, to be gone through as often as wanted."""
        return StoredNights(self, arm)

    def read_nights(self, arm: str) -> Iterator[Outcomes]:
        """The same, chunk by chunk in order."""
        query = "SELECT nights FROM chunk WHERE arm = ? AND less = ? ORDER BY first"
        with self._told("cannot be read"):
            for (data,) in self._db.execute(query, (arm, _ALONE)):
                try:
                    yield codec.from_bytes(data)
                except (ValueError, TypeError) as error:
                    raise self._damaged(str(error)) from None

    def close(self) -> None:
        """Write what waits, and let go of the file."""
        try:
            self.flush()
        finally:
            self._db.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type | None, *_: object) -> None:
        if kind is not None and issubclass(kind, StudyError):
            self._waiting = None  # it could not be written, or is not to be
        self.close()

    # ---- inside ---------------------------------------------------------------------------

    def _insert(
        self, arm: str, less: str, first: int, count: int, sums: Any, nights: bytes | None
    ) -> None:
        row = (arm, less, first, count, codec.to_text(sums), nights)
        # or replace: a stop by hand may come between the last commit and our knowing of it
        self._db.execute("INSERT OR REPLACE INTO chunk VALUES (?, ?, ?, ?, ?, ?)", row)

    def _note(self, values: Mapping[str, str]) -> None:
        self._db.executemany("INSERT OR REPLACE INTO about VALUES (?, ?)", [*values.items()])

    def _about(self) -> dict[str, str]:
        return dict(self._db.execute("SELECT what, value FROM about"))

    def _identity(self) -> dict[str, str]:
        return json.loads(self._about().get("run", "{}"))

    def _sums(self, parts: list[Any], size: int) -> Sums:
        arms = len(self._arms)
        sums = Sums(tuple(parts[:arms]), tuple(parts[arms:]))
        if any(part.nights != size for part in parts):
            raise self._damaged("a row does not hold as many nights as it says")
        return sums

    def _read(self, text: str) -> Tally | PairTally:
        try:
            return codec.from_text(text)
        except ValueError as error:
            raise self._damaged(str(error)) from None

    def _damaged(self, what: str) -> StudyError:
        return StudyError(f"is damaged: {what}", file=str(self.path), hint="--force begins again")

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All or nothing, whatever comes in between."""
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise

    def _safe(self) -> str:
        done = self.nights_done
        return f"{done:,} nights are safe there, and --resume goes on from them"

    @contextmanager
    def _told(self, problem: str, hint: str | None = None) -> Iterator[None]:
        """SQLite's errors as one sentence that names the file."""
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            if getattr(error, "sqlite_errorcode", None) in _TAKEN:
                raise StudyError(
                    "another run is writing here",
                    file=str(self.path),
                    hint="wait for it, stop it, or give another folder",
                ) from None
            raise StudyError(f"{problem}: {error}", file=str(self.path), hint=hint) from None


class StoredNights:
    """Nights in an open store, in parts; each time it is gone through they are read anew."""

    def __init__(self, store: Store, arm: str) -> None:
        self.store, self.arm = store, arm

    def __iter__(self) -> Iterator[Outcomes]:
        return self.store.read_nights(self.arm)
