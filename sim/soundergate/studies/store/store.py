"""Finished chunks of a long run on disk, so that one that is killed goes on where it was.

One SQLite file, ``chunks.sqlite``, in the output folder (`database`); one row a chunk and arm: the
arm, its first night, how many, their exact sums, and the nights themselves if they are to be kept.
A chunk is written in one transaction for all arms and their pairs, so the file always holds the
same first nights of every arm, whenever the run ends. Chunks that are done quickly are joined to
about one a second.

Digests of all rows, and of the record of what the run is, are worked out anew when a store is taken
up, before a night is played, and again for each row that is read.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.estimates.sums import Sums
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.store import codec
from soundergate.studies.store.database import FORMAT, MARK, NAME, TABLES, Database
from soundergate.studies.store.identity import changes, digest_of, in_short

__all__ = ["NAME", "Store", "StoredNights"]

_SECONDS_A_ROW = 1.0
_KEPT_A_ROW = 50_000  # nights, if they are kept: they wait in memory
_ALONE = ""
"""What stands in the column ``less`` of a row that is of one arm and not of a pair."""

Pair = tuple[str, str]


class Store(Database):
    """The store in ``folder``, locked for this run until it is closed.

    A store that holds chunks is taken up only with ``resume``, and emptied only with ``force``.
    ``found`` is called with how many nights a run that is taken up has already.

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
        super().__init__(folder, force)
        self._found = found
        self._arms: list[str] = []
        self._pairs: list[Pair] = []
        self._waiting: tuple[int, Sums] | None = None
        self._written_at = time.monotonic()
        try:
            self._prepare(resume)
        except BaseException:
            self._db.close()
            raise

    def _prepare(self, resume: bool) -> None:
        new = not self._is_there()
        if not new:
            self._check_whole()
            if not resume and self.nights_done:
                raise StudyError(
                    f"holds {self.nights_done:,} nights of an earlier run",
                    file=str(self.path),
                    hint="--resume goes on with it, --force begins again",
                )
        with self._errors_named("cannot be written"), self._transaction():
            if new:
                self._db.execute(f"PRAGMA application_id = {int.from_bytes(MARK)}")
                for statement in TABLES.values():
                    self._db.execute(statement)
            elif not resume:
                for table in TABLES:
                    self._db.execute(f"DELETE FROM {table}")
            # Even when nothing changes: the disk is tried, and an old run's journal goes.
            self._note({"format": str(FORMAT)})

    def _check_whole(self) -> None:
        """Every digest, before anything is built upon what stands there."""
        with self._read_whole("cannot be read"):
            about = self._about()
            if about.keys() - {"format", "run", "digest"}:
                raise self._damaged("the record of what the run is has changed")
            if "run" in about or "digest" in about:
                self._run = digest_of(about.get("run"))
                if about.get("digest") != self._run:
                    raise self._damaged("the record of what the run is has changed")
            for _ in self._rows("1"):
                pass
            for *row, found in self._db.execute("SELECT arm, reason, digest FROM failed"):
                if found != digest_of(self._run, *row):
                    raise self._damaged("the record of an arm that failed has changed")

    # ---- what the run is ----------------------------------------------------------------

    def begin(self, about: Mapping[str, str], nights: int | None = None) -> None:
        """Take up the run ``about``; the chunks that are there already must be of it.

        ``nights``: the most it will play. Raises StudyError naming what has changed.
        """
        with self._read_whole("cannot be read"):
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
            record = json.dumps(about)
            self._run = digest_of(record)
            with self._errors_named("cannot be written"), self._transaction():
                self._note({"run": record, "digest": self._run})
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
        with self._errors_named("cannot be written"), self._transaction():
            row = (arm, reason, digest_of(self._run, arm, reason))
            self._db.execute("INSERT OR REPLACE INTO failed VALUES (?, ?, ?)", row)
            gone = "DELETE FROM chunk" + ("" if forget else " WHERE arm = ? OR less = ?")
            self._db.execute(gone, () if forget else (arm, arm))

    # ---- chunks ---------------------------------------------------------------------------

    def chunks(self, first: int, count: int) -> Iterator[Sums]:
        """Sums of the chunks from night ``first`` on, at most ``count`` nights of them.

        Without the nights themselves, which `nights` reads.
        """
        wanted = [(name, _ALONE) for name in self._arms] + self._pairs
        end = first + count
        with self._read_whole("cannot be read"):
            stored = self._rows("first >= ? AND first < ?", first, end)
            for start, group in groupby(stored, itemgetter(2)):
                rows = {(arm, less): (size, text) for arm, less, _, size, text, _ in group}
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
        with self._errors_named("cannot be written", self._safe()), self._transaction():
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
        with self._read_whole("cannot be read"):
            for *_, data in self._rows("arm = ? AND less = ?", arm, _ALONE):
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
        whole = (*row, digest_of(self._run, *row))
        self._db.execute("INSERT OR REPLACE INTO chunk VALUES (?, ?, ?, ?, ?, ?, ?)", whole)

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

    def _safe(self) -> str:
        done = self.nights_done
        return f"{done:,} nights are safe there, and --resume goes on from them"


class StoredNights:
    """Nights in an open store, in parts; each time it is gone through they are read anew."""

    def __init__(self, store: Store, arm: str) -> None:
        self.store, self.arm = store, arm

    def __iter__(self) -> Iterator[Outcomes]:
        return self.store.read_nights(self.arm)
