"""Files that runs leave and take up again: records with their structure broken, stores mixed.

Bytes turned in a store are tried elsewhere (tests/study/test_store_damage.py); here whole rows,
columns and tables of sound stores of other runs come together.
"""

from __future__ import annotations

import atexit
import json
import random
import shutil
import sqlite3
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from fuzz_cases import Case
from fuzz_text import broken

from soundergate.scenario.examples import text
from soundergate.scenario.loading import loads
from soundergate.studies import repeat
from soundergate.studies.compare import compare
from soundergate.studies.estimate import run
from soundergate.studies.record import plain, write_comparison, write_run
from soundergate.studies.store import database, store
from soundergate.studies.store.store import NAME, Store
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads as loads_study
from soundergate.studies.study_file import repeated

ASKED: dict[str, Any] = {
    "seed": 1, "nights": 4, "precision": None, "level": 0.95, "engine": "batch",
    "keep_nights": True,
}  # fmt: skip


@cache
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


@cache
def record(of: str) -> str:
    """The run.json of a small run, as JSON text."""
    out = _folder() / of
    scenario = loads(text("line"), "line.toml")
    if of == "run":
        write_run(out, run(scenario, 4, workers=1), {"asked": ASKED})
    elif of == "compare":
        result = compare(scenario, "opening.width=4 ft,5 ft", nights=4, workers=1)
        write_comparison(out, result, {"asked": ASKED | {"against": None}})
    else:
        out.mkdir()
        (out / "line.toml").write_text(text("line"), encoding="utf-8")
        written = 'base = "line.toml"\nnights = 4\n[factors]\n"opening.width" = ["4 ft", "5 ft"]\n'
        run_study(loads_study(written, out / "study.toml"), workers=1).write(out)
    return (out / "run.json").read_text(encoding="utf-8")


def play_record(case: Case, rng: random.Random) -> None:
    """A record whose structure is broken is refused, or repeats a run."""
    of = case.more["of"]
    data = json.loads(record(of))
    part = rng.choice([*data]) if rng.random() < 0.7 else None
    if part in ("asked", "scenario", "scenarios", "arms", "versions", "study"):
        data |= broken({part: data[part]}, rng, case.more["times"])
    else:
        data = broken(data, rng, case.more["times"])
    path = _folder() / "broken.json"
    path.write_text(json.dumps(data, default=str), encoding="utf-8")
    found = repeat.read(path, rng.choice([of, of, of, "run"]))
    for told in found.differs:
        assert "\n" not in told
    if isinstance(found.asked, repeat.Asked):
        for setup in found.setups.values():
            nights = min(found.asked.nights or 4, 8)
            result = run(setup.scenario, nights, seed=found.asked.seed, workers=1)
            assert plain(result.to_json())["nights"] == nights
    else:
        study = repeated(found)
        if study.robust is None:
            run_study(study, nights=4, workers=1, record=found)


@cache
def _stores() -> tuple[dict[str, bytes], Any]:
    """Sound stores by name, of several rows each, and what the run of "one" gives."""
    database._SYNCHRONOUS = "OFF"  # nobody pulls the plug here
    store._SECONDS_A_ROW = 0.0
    found = {}
    for name in ("one", "seed", "wide", "level", "kept"):
        folder = _folder() / f"store {name}"
        folder.mkdir()
        for nights in (4, 8, 12):
            result = _play(folder, nights, name)
        found[name] = (folder / NAME).read_bytes()
        if name == "one":
            answer = result
    folder = _folder() / "store pair"
    folder.mkdir()
    for nights in (4, 8, 12):
        with Store(folder, resume=True) as at:
            compare(
                loads(text("line"), "line.toml"), "opening.width=4 ft,5 ft", nights=nights,
                seed=1, workers=1, store=at,
            )  # fmt: skip
    return found | {"pair": (folder / NAME).read_bytes()}, answer


def _play(folder: Path, nights: int, name: str = "one") -> Any:
    written = text("line")
    if name == "wide":
        written = written.replace('width = "', 'width = "1')
    with Store(folder, resume=True) as at:
        result = run(
            loads(written, "line.toml"),
            nights,
            seed=2 if name == "seed" else 1,
            level=0.9 if name == "level" else 0.95,
            keep_outcomes=name == "kept",
            workers=1,
            store=at,
        )
    return plain(result.to_json())


def play_store(case: Case, rng: random.Random) -> None:
    """A run goes on from a mixed store only to its own very answer."""
    sound, answer = _stores()
    folder = Path(tempfile.mkdtemp(dir=_folder()))
    path = folder / NAME
    path.write_bytes(sound[rng.choice(["one", "one", "one", *sound])])
    for _ in range(case.more["times"]):
        other = rng.choice([*sound])
        (folder / "other").write_bytes(sound[other])
        _mix(path, folder / "other", rng)
    assert _play(folder, 12) == answer, "a mixed store gave another answer"


def _mix(path: Path, other: Path, rng: random.Random) -> None:
    """Something of the other store comes into this one."""
    chance = rng.random()
    if chance < 0.05:
        path.unlink()
        rng.choice([path.mkdir, path.touch, lambda: path.write_text(text("line"))])()
        return
    if chance < 0.12:
        journal = path.with_name(f"{NAME}-journal")
        journal.write_bytes(other.read_bytes()[: rng.choice([0, 100, 512, 10**6])])
        return
    if not path.is_file():
        return
    db = sqlite3.connect(path, isolation_level=None)
    try:
        db.execute("ATTACH ? AS other", (str(other),))
        columns = {
            table: [name for _, name, *_ in db.execute(f"PRAGMA table_info({table})")]
            for table in ("about", "failed", "chunk")
        }
        table = rng.choice(["chunk", "chunk", "chunk", "about", "failed"])
        column = rng.choice(columns[table] or ["rowid"])
        first = rng.choice([0, 4, 8])
        where = f"first = {first}" if table == "chunk" else "1"
        db.execute(
            rng.choice(
                [
                    f"INSERT OR REPLACE INTO {table} SELECT * FROM other.{table} WHERE {where}",
                    f"INSERT OR IGNORE INTO {table} SELECT * FROM other.{table}",
                    f"DELETE FROM {table} WHERE {where}",
                    f"DELETE FROM {table}",
                    f"UPDATE {table} SET {column} = (SELECT {column} FROM other.{table} LIMIT 1)",
                    f"UPDATE {table} SET {column} = (SELECT o.{column} FROM other.{table} o "
                    f"WHERE o.rowid = {table}.rowid)",
                    "UPDATE chunk SET first = 12 - first",
                    "UPDATE chunk SET first = first + 4, count = count - 4",
                    f"UPDATE chunk SET arm = less, less = arm WHERE {where}",
                    f"ALTER TABLE {table} RENAME TO {table}s",
                    f"ALTER TABLE {table} ADD COLUMN more TEXT",
                    f"ALTER TABLE {table} RENAME COLUMN {column} TO {column}_",
                    f"DROP TABLE {table}",
                    f"CREATE INDEX quick ON {table} ({column})",
                    f"INSERT INTO failed SELECT '', 'it broke', digest FROM chunk WHERE {where}",
                ]
            )
        )
    except sqlite3.Error:
        pass  # such a change cannot be made to this store
    finally:
        db.close()
