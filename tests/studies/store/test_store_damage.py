"""A store in which anything has changed is refused, or gives the very numbers it was given.

Every byte of a small store is turned, and every column of every row is edited by hand.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from soundergate.engine.outcomes import Outcomes
from soundergate.studies.arms import Arm
from soundergate.studies.compare import compare_players
from soundergate.studies.errors import StudyError
from soundergate.studies.store.store import NAME, Store

ABOUT = {"seed": "1", "arm one: share": "0.5", "arm other: share": "0.7"}
NIGHTS, PIECE = 24, 8


@pytest.fixture(autouse=True)
def small_rows(monkeypatch):
    monkeypatch.setattr("soundergate.studies.store.database._SYNCHRONOUS", "OFF")
    monkeypatch.setattr("soundergate.studies.store.store._SECONDS_A_ROW", 0.0)
    monkeypatch.setattr("soundergate.studies.estimates.stopping._FIRST_ROUND", 1 << 16)


@pytest.fixture
def players(nights):
    return [(Arm("one", None, {}), nights(mean=0.5)), (Arm("other", None, {}), nights(mean=0.7))]


def played(folder: Path, players, nights=NIGHTS):
    """What a run that goes on from the store in the folder gives, with every kept night."""
    with Store(folder, resume=True) as store:
        store.begin(ABOUT, nights)
        result = compare_players(players, nights, seed=1, keep_outcomes=True, store=store)
        kept = [Outcomes.concatenate(store.nights(arm)) for arm in ("one", "other")]
        return result.to_json(), kept, store.failed


@pytest.fixture
def whole(tmp_path, players) -> tuple[bytes, object]:
    """The bytes of a small store, and what is read from it."""
    folder = tmp_path / "whole"
    folder.mkdir()
    for nights in range(PIECE, NIGHTS + 1, PIECE):  # a row each
        result = played(folder, players, nights)
    with Store(folder, resume=True) as store:
        store.begin(ABOUT)
        store.fail("broken", "OverflowError: the night broke", forget=False)
    result = (*result[:2], {"broken": "OverflowError: the night broke"})
    db = sqlite3.connect(folder / NAME)
    assert db.execute("SELECT count(*) FROM chunk").fetchone() == (9,)
    db.execute("PRAGMA page_size = 512")
    db.execute("VACUUM")
    db.close()
    return (folder / NAME).read_bytes(), result


@pytest.fixture
def verdict(tmp_path, players, whole):
    """Whether a store of some bytes is refused; if not, what is read must be what was written."""
    data, result = whole
    folder = tmp_path / "changed"
    folder.mkdir()

    def refused(changed: bytes) -> bool:
        (folder / NAME).write_bytes(changed)
        (folder / f"{NAME}-journal").unlink(missing_ok=True)
        try:
            found = played(folder, players)
        except StudyError as error:
            text = str(error)
            assert text.startswith(str(folder / NAME)), text
            assert text.count("\n") == 0
            assert len(text) < len(str(folder)) + 300, text
            assert "; " in text, f"nothing is said that would do: {text}"
            return True
        assert found == result
        return False

    assert not refused(data)
    return refused


def turned(data: bytes, place: int, by: int) -> bytes:
    return data[:place] + bytes([data[place] ^ by]) + data[place + 1 :]


def test_a_byte_turned_here_and_there(whole, verdict):
    data, _ = whole
    refused = [verdict(turned(data, at, 1 << at % 8)) for at in range(0, len(data), 61)]
    assert sum(refused) > len(refused) / 2


@pytest.mark.slow
@pytest.mark.parametrize("by", [[0xFF], [1 << bit for bit in range(8)]], ids=["whole", "a bit"])
def test_every_byte_turned(whole, verdict, by):
    data, _ = whole
    refused = [verdict(turned(data, at, by[at % len(by)])) for at in range(len(data))]
    assert sum(refused) > len(data) - data.count(0) * 1.1, "what stands there is not looked at"


def test_a_file_that_ends_early(whole, verdict):
    data, _ = whole
    for length in range(512, len(data), 512):
        assert verdict(data[:length])


EDITS = (
    "{column} + 1",
    "{column} || '0'",
    "substr({column}, 1, length({column}) - 1)",
    "replace({column}, '1', '2')",
    "replace({column}, 'one', 'other')",
    "replace({column}, 'a', 'b')",
    "CAST({column} AS BLOB)",
    "CAST({column} AS TEXT)",
    "NULL",
    "''",
    "0",
    "-1",
    "1e300",
    "'{{}}'",
    "'[]'",
    "x'00ff'",
)


@pytest.mark.parametrize("every", [8, pytest.param(1, marks=pytest.mark.slow)])
def test_every_column_of_every_row_edited(tmp_path, whole, verdict, every):
    data, _ = whole
    path = tmp_path / "edited.sqlite"
    path.write_bytes(data)
    db = sqlite3.connect(path, isolation_level=None)
    db.text_factory = bytes  # a blob made text is seldom text
    places = [
        (table, column, row)
        for table in ("about", "failed", "chunk")
        for _, name, *_ in db.execute(f"PRAGMA table_info({table})")
        for column in [name.decode()]
        for (row,) in db.execute(f"SELECT rowid FROM {table}")
    ]
    assert len(places) == 3 * 2 + 3 + 9 * 7
    for table, column, row in places:
        if (row - 1) % every:
            continue
        tried = 0
        for edit in EDITS:
            path.write_bytes(data)
            where = f"WHERE rowid = {row}"
            asked = f"SELECT typeof({column}), {column} FROM {table} {where}"
            before = db.execute(asked).fetchone()
            try:
                db.execute(f"UPDATE {table} SET {column} = {edit.format(column=column)} {where}")
            except sqlite3.IntegrityError:
                continue
            after = db.execute(asked).fetchone()
            if after != before:
                tried += 1
                assert verdict(path.read_bytes()), f"{table}.{column} {before!r} -> {after!r}"
        assert tried >= 4, f"{table}.{column} of row {row} was hardly tried"
    db.close()


def test_rows_added_and_taken_away(tmp_path, whole, verdict):
    data, _ = whole
    path = tmp_path / "edited.sqlite"
    for change, told in (
        ("DELETE FROM chunk WHERE first = 8", True),
        ("DELETE FROM chunk WHERE first = 16 AND arm = 'one'", True),
        ("DELETE FROM chunk WHERE less <> ''", True),
        ("DELETE FROM chunk WHERE first = 16", False),  # played again
        ("DELETE FROM about WHERE what = 'run'", True),
        ("DELETE FROM about WHERE what = 'digest'", True),
        ("DELETE FROM about WHERE what <> 'format'", True),
        ("INSERT INTO about VALUES ('else', 'x')", True),
        ("INSERT INTO chunk SELECT arm, less, 24, count, sums, nights, digest FROM chunk", True),
        ("UPDATE chunk SET sums = (SELECT sums FROM chunk WHERE arm = 'other')", True),
        ("CREATE TABLE recipes (name TEXT)", True),
        ("CREATE VIEW more AS SELECT * FROM chunk", True),
        ("CREATE TRIGGER t AFTER INSERT ON chunk BEGIN DELETE FROM failed; END", True),
    ):
        path.write_bytes(data)
        db = sqlite3.connect(path, isolation_level=None)
        db.execute(change.replace("INSERT INTO", "INSERT OR IGNORE INTO"))
        db.close()
        assert verdict(path.read_bytes()) == told, change


def test_begun_again_whatever_the_damage(tmp_path, whole):
    """--force, which the error recommends, works on pages that SQLite can no longer read."""
    data, _ = whole
    folder = tmp_path / "broken"
    folder.mkdir()
    for damaged in (
        data[:512] + bytes(len(data) - 512),
        data[: len(data) // 2],
        turned(data, 100, 0xFF),
        turned(data, 0, 0xFF),
    ):
        (folder / NAME).write_bytes(damaged)
        with pytest.raises(StudyError, match="--force begins again"):
            Store(folder, resume=True)
        with Store(folder, force=True) as store:
            assert store.nights_done == 0
            store.begin(ABOUT)
        with Store(folder, resume=True) as store:
            store.begin(ABOUT)
