"""The file of a store: one SQLite file that one run writes, and whose faults have names.

The file is locked while a run writes to it, and the lock goes with the process. Disks forget and
people edit, so every row carries a digest of all that stands in it and of the run that it is of.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from soundergate.files import undivided
from soundergate.scenario.errors import shortened
from soundergate.studies.errors import StudyError
from soundergate.studies.store.identity import digest_of

NAME = "chunks.sqlite"
FORMAT = 2
_SYNCHRONOUS = "FULL"  # also safe when the power fails
_TAKEN = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
MARK, _MARK_AT = b"SGCH", 68
"""Application id in the header of the file, by which one whose pages are damaged is known."""

_TABLES = """
CREATE TABLE about (what TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE failed (arm TEXT PRIMARY KEY, reason TEXT NOT NULL, digest TEXT NOT NULL);
CREATE TABLE chunk (
    arm TEXT NOT NULL,       -- its name, empty in a run of one setup
    less TEXT NOT NULL,      -- the arm that it is compared with, in a row of differences
    first INTEGER NOT NULL,  -- number of the first night
    count INTEGER NOT NULL,  -- how many nights
    sums TEXT NOT NULL,      -- exact sums over them, JSON
    nights BLOB,             -- the nights, compressed, if they are kept
    digest TEXT NOT NULL,    -- of the run and of all columns before
    PRIMARY KEY (first, arm, less)
);
"""
TABLES = {
    match[1]: match[0] for match in re.finditer(r"CREATE TABLE (\w+) \(.*?\)(?=;)", _TABLES, re.S)
}
_CHUNK = "arm, less, first, count, sums, nights, digest"
AGAIN, _ELSEWHERE = "--force begins again", "remove it, or give another folder"


class Database:
    """The file in ``folder``, open and locked, whole as far as SQLite can tell.

    With ``force`` what is there already is replaced by an empty file. Raises StudyError, which
    names the file: if another run is writing there, or if it cannot be written or is no store.
    """

    def __init__(self, folder: str | os.PathLike[str], force: bool) -> None:
        self.path = Path(folder) / NAME
        self._run = ""  # digest of what the run is, once it is known
        self._open()
        try:
            if force and self._is_ours():
                self._replace()
            else:
                self._lock()
        except BaseException:
            self._db.close()
            raise

    def _open(self) -> None:
        journal = self.path.with_name(f"{NAME}-journal")
        for path in (self.path, journal):
            if path.is_symlink():
                raise StudyError(
                    "is a link, and nothing is written through links",
                    file=str(path),
                    hint=_ELSEWHERE,
                )
        with self._errors_named("cannot be opened"):
            self._db = sqlite3.connect(self.path, timeout=0.0, isolation_level=None)

    def _lock(self) -> None:
        with self._errors_named("cannot be written"):
            # One writer: the lock is held between transactions, and released by the system
            # however the process ends. A rollback journal leaves one file, and works on disks
            # of the network, where shared memory does not.
            self._db.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._db.execute(f"PRAGMA synchronous = {_SYNCHRONOUS}")
            self._db.execute("BEGIN EXCLUSIVE")
            self._db.execute("COMMIT")

    def _is_ours(self) -> bool:
        """Whether there is something to replace: a store that nobody writes, in whatever state."""
        try:
            self._lock()
            with self._errors_named("cannot be read"):
                names = [name for (name,) in self._db.execute("SELECT name FROM sqlite_master")]
        except _Unreadable:
            if self._is_marked():
                return True
            raise
        if names and "chunk" not in names:
            raise self._foreign()
        return bool(names)

    def _replace(self) -> None:
        """An empty file in place of the old one, whose pages may be too damaged to be emptied."""
        with self._errors_named("cannot be written"):
            self._db.close()
            self.path.unlink()
        self._open()
        self._lock()

    def _is_there(self) -> bool:
        """Whether the file is a store already; raises StudyError if it is something else."""
        with self._read_whole("is damaged, or is no store of chunks"):
            made = dict(self._db.execute("SELECT name, sql FROM sqlite_master WHERE sql NOT NULL"))
            if not made:
                return False
            if "chunk" not in made:
                raise self._foreign()
            known = self._about().get("format")
        if known != str(FORMAT):
            raise StudyError(
                f"is a store of format {str(known)[:20]}; this version writes {FORMAT}",
                file=str(self.path),
                hint=AGAIN,
            )
        if made != TABLES:
            raise self._damaged("its tables are not those of a store")
        return True

    def _rows(self, which: str, *values: object) -> Iterator[tuple[Any, ...]]:
        """Rows of chunks in order, each as it was written: columns as in `_CHUNK`, no digest."""
        query = f"SELECT {_CHUNK} FROM chunk WHERE {which} ORDER BY first"
        for *row, found in self._db.execute(query, values):
            if found != digest_of(self._run, *row):
                raise self._damaged(f"a row, of nights from {str(row[2])[:20]} on, has changed")
            yield tuple(row)

    def _note(self, values: Mapping[str, str]) -> None:
        self._db.executemany("INSERT OR REPLACE INTO about VALUES (?, ?)", [*values.items()])

    def _about(self) -> dict[str, str]:
        return dict(self._db.execute("SELECT what, value FROM about"))

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All or nothing, whatever comes in between."""
        with undivided():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    @contextmanager
    def _errors_named(self, problem: str, hint: str = "give another folder") -> Iterator[None]:
        """SQLite's errors as one sentence that names the file."""
        try:
            yield
        except UnicodeDecodeError as error:  # SQLite quotes what it cannot make out
            raise self._unreadable(error) from None
        except (sqlite3.Error, OSError) as error:
            code = (
                getattr(error, "sqlite_errorcode", None) or 0
            ) & 0xFF  # its first byte: the kind
            if code in _DAMAGED:
                raise self._unreadable(error) from None
            if code in _TAKEN:
                raise StudyError(
                    "another run is writing here",
                    file=str(self.path),
                    hint="wait for it, stop it, or give another folder",
                ) from None
            reason = shortened(" ".join(str(error).split()))
            raise StudyError(f"{problem}: {reason}", file=str(self.path), hint=hint) from None

    @contextmanager
    def _read_whole(self, problem: str) -> Iterator[None]:
        """What cannot be read is damaged, whatever it is that gives way to it."""
        try:
            with self._errors_named(problem, AGAIN):
                yield
        except (ValueError, TypeError, KeyError, AttributeError, OverflowError) as error:
            if isinstance(error, StudyError):
                raise
            raise self._damaged(f"{type(error).__name__} while reading") from None

    def _foreign(self) -> StudyError:
        return StudyError("is no store of chunks", file=str(self.path), hint=_ELSEWHERE)

    def _damaged(self, what: str) -> StudyError:
        return StudyError(f"is damaged: {what}", file=str(self.path), hint=AGAIN)

    def _is_marked(self) -> bool:
        """Whether a file that SQLite cannot read was a store once."""
        try:
            with open(self.path, "rb") as file:
                return file.read(_MARK_AT + 4)[_MARK_AT:] == MARK
        except OSError:
            return False

    def _unreadable(self, error: Exception) -> StudyError:
        return _Unreadable(
            f"is damaged, or is no store of chunks: {shortened(' '.join(str(error).split()))}",
            file=str(self.path),
            hint=AGAIN if self._is_marked() else _ELSEWHERE,
        )


class _Unreadable(StudyError):
    """SQLite can make nothing of the file."""
