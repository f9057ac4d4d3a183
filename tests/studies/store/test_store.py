"""The store: what it holds, going on from it, whom it refuses, and failures of the disk."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from shared.processes import python
from shared.studies import arm, near_and_far
from soundergate.engine.outcomes import Outcomes, write_nights
from soundergate.engine.work.executors import CHUNK, InOrder
from soundergate.scenario.loading import load, with_values
from soundergate.studies.compare import compare
from soundergate.studies.errors import StudyError
from soundergate.studies.estimate import run
from soundergate.studies.estimates.tally import Tally
from soundergate.studies.store import codec, identity
from soundergate.studies.store.store import NAME, Store
from soundergate.studies.study import study as run_study
from soundergate.studies.study_file import loads

NIGHTS = 4000
VARY = ["trigger.distance=20 ft,22 ft"]


class Stopped(RuntimeError):
    """Stands for whatever ends a run at once."""


class StopsAfter:
    """Plays here and is stopped when it has given so many chunks."""

    def __init__(self, chunks, error=Stopped):
        self.left, self.error = chunks, error

    def map(self, job, chunks):
        for chunk in chunks:
            if self.left == 0:
                raise self.error
            self.left -= 1
            yield job(chunk)


@pytest.fixture(autouse=True)
def small_chunks(monkeypatch):
    """Many chunks in a short run, each a row, and no waiting for the disk to turn."""
    monkeypatch.setattr("soundergate.studies.store.database._SYNCHRONOUS", "OFF")
    monkeypatch.setattr("soundergate.studies.store.store._SECONDS_A_ROW", 0.0)
    monkeypatch.setitem(CHUNK, "batch", 300)
    # else chunks are as long as this machine is quick
    monkeypatch.setattr("soundergate.studies.playing._CHUNK_SECONDS", 1e9)


@pytest.fixture
def scenario(scenario_file):
    return load(scenario_file)


@pytest.fixture
def out(tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    return folder


def stop_early(scenario, out, chunks=3, **options):
    with pytest.raises(Stopped), Store(out) as store:
        run(scenario, NIGHTS, executor=StopsAfter(chunks), store=store, **options)


def rows(out: Path) -> list[tuple]:
    with sqlite3.connect(out / NAME) as db:
        found = db.execute("SELECT arm, less, first, count, sums, nights FROM chunk").fetchall()
    db.close()
    return sorted(found, key=lambda row: (row[2], row[0], row[1]))


# ---- going on -----------------------------------------------------------------------------


def test_the_result_is_the_sum_of_its_parts(scenario, out):
    with Store(out) as store:
        result = run(scenario, NIGHTS, store=store)
    found = rows(out)
    assert [row[2] for row in found] == [
        sum(row[3] for row in found[:number]) for number in range(len(found))
    ]
    assert len(found) > 5
    assert sum((codec.from_text(row[4]) for row in found), Tally()) == result.tally
    parts = Outcomes.concatenate(codec.from_bytes(row[5]) for row in found)
    plain = run(scenario, NIGHTS)
    assert parts == plain.outcomes
    assert result.tally == plain.tally
    assert sqlite3.connect(out / NAME).execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert [path.name for path in out.iterdir()] == [NAME]


@pytest.mark.parametrize("keep", [True, False])
def test_a_stopped_run_goes_on(scenario, out, keep):
    stop_early(scenario, out, keep_outcomes=keep)
    with Store(out, resume=True) as store:
        assert store.nights_done == 900
        played = StopsAfter(10**9)
        result = run(scenario, NIGHTS, keep_outcomes=keep, executor=played, store=store)
        plain = run(scenario, NIGHTS)
        assert result.tally == plain.tally
        assert result.outcomes is None
        if keep:
            write_nights(out / "a.csv.gz", result.night_parts)
            plain.outcomes.write_csv(out / "b.csv.gz")
            assert (out / "a.csv.gz").read_bytes() == (out / "b.csv.gz").read_bytes()
            assert result.interval("caught", method="bootstrap") == plain.interval(
                "caught", method="bootstrap"
            )
        else:
            assert result.night_parts is None
            assert all(row[5] is None for row in store._db.execute("SELECT * FROM chunk"))


def test_only_what_is_missing_is_played(scenario, out):
    stop_early(scenario, out)
    with Store(out, resume=True) as store:
        told = []
        run(scenario, NIGHTS, executor=(counted := Counts()), store=store, progress=tell(told))
        assert (counted.first, counted.nights) == (900, NIGHTS - 900)
        assert told[0] == (900, NIGHTS)
        again = run(scenario, NIGHTS, executor=StopsAfter(0), store=store)
    assert again.nights == NIGHTS


class Counts:
    def __init__(self):
        self.nights, self.first = 0, None

    def map(self, job, chunks):
        for chunk in chunks:
            self.first = chunk.first if self.first is None else self.first
            self.nights += chunk.count
            yield job(chunk)


def tell(told):
    return lambda done, of: told.append((done, of))


def test_more_nights_may_be_asked_for_and_fewer_may_not(scenario, out):
    with Store(out) as store:
        run(scenario, 1000, store=store)
        more = run(scenario, NIGHTS, store=store)
        assert more.tally == run(scenario, NIGHTS).tally
        with pytest.raises(StudyError, match="holds 4,000 nights, more than the 500 asked for"):
            run(scenario, 500, store=store)


def test_workers_need_not_be_the_same(scenario, out):
    stop_early(scenario, out)
    with Store(out, resume=True) as store:
        result = run(scenario, NIGHTS, workers=2, store=store)
    assert result.tally == run(scenario, NIGHTS, workers=1).tally


@pytest.mark.parametrize("seconds_a_row", [0.0, pytest.param(1e9, marks=pytest.mark.slow)])
def test_looks_of_a_precision_are_the_same_after_a_stop(scenario, out, monkeypatch, seconds_a_row):
    """The number of nights depends on when one looks; the store must not move the looks."""
    monkeypatch.setattr("soundergate.studies.store.store._SECONDS_A_ROW", seconds_a_row)
    asked = {"nights": None, "precision": {"caught": 0.06}, "keep_outcomes": False}
    plain = run(scenario, **asked)
    assert plain.nights not in (1000, 2000)
    for chunks in (2, 5, 9):
        folder = out / str(chunks)
        folder.mkdir()
        with pytest.raises(Stopped), Store(folder) as store:
            run(scenario, executor=StopsAfter(chunks), store=store, **asked)
        with Store(folder, resume=True) as store:
            result = run(scenario, workers=2, store=store, **asked)
        assert (result.nights, result.tally) == (plain.nights, plain.tally)
        assert result.precision_reached


def test_ctrl_c_keeps_what_it_reports(scenario, out):
    with Store(out) as store:
        result = run(scenario, NIGHTS, executor=StopsAfter(4, KeyboardInterrupt), store=store)
        assert result.interrupted
        assert result.nights == 1200
        assert len(Outcomes.concatenate(result.night_parts)) == 1200
    with Store(out, resume=True) as store:
        whole = run(scenario, NIGHTS, store=store)
    assert whole.tally == run(scenario, NIGHTS).tally
    assert not whole.interrupted


def test_chunks_of_about_a_second_are_one_row(scenario, out, monkeypatch):
    monkeypatch.setattr("soundergate.studies.store.store._SECONDS_A_ROW", 1e9)
    with Store(out) as store:
        run(scenario, NIGHTS, store=store)
    assert [row[2:4] for row in rows(out)] == [(0, NIGHTS)]


def test_a_comparison_goes_on(scenario, out):
    plain = compare(scenario, VARY, NIGHTS, keep_outcomes=True)
    with pytest.raises(Stopped), Store(out) as store:
        compare(scenario, VARY, NIGHTS, executor=StopsAfter(3), keep_outcomes=True, store=store)
    arms = [arm.name for arm in plain.arms]
    assert [row[:2] for row in rows(out)[:3]] == [(arms[0], ""), (arms[0], arms[1]), (arms[1], "")]
    with Store(out, resume=True) as store:
        went_on = compare(scenario, VARY, NIGHTS, keep_outcomes=True, store=store)
        assert went_on.to_json() == plain.to_json()
        assert went_on.pairs == plain.pairs
        for arm, other in zip(went_on.arms, plain.arms, strict=True):
            assert Outcomes.concatenate(arm.result.night_parts) == other.result.outcomes


def test_a_chunk_is_written_for_all_arms_or_none(scenario, out, monkeypatch):
    """Something breaks between the first arm of a chunk and the second, for good."""
    to_text, calls = codec.to_text, []

    def breaks(sums):
        calls.append(1)
        if len(calls) > 7:  # three rows a chunk: in the middle of the third one
            raise MemoryError
        return to_text(sums)

    monkeypatch.setattr(codec, "to_text", breaks)
    with pytest.raises(MemoryError), Store(out) as store:
        compare(scenario, VARY, NIGHTS, store=store)
    monkeypatch.undo()
    assert len(rows(out)) == 6
    with Store(out, resume=True) as store:
        went_on = compare(scenario, VARY, NIGHTS, store=store)
    assert went_on.to_json() == compare(scenario, VARY, NIGHTS).to_json()


# ---- studies with arms that fail -----------------------------------------------------------

STUDY = near_and_far(
    'base = "alder.toml"\nnights = 3000\nagainst = "near"',
    arm("broken", trigger__distance="21 ft") + arm("cannot be", opening__wdth="8 ft"),
    near="20 ft",
    worlds=None,
)


class BreaksLate:
    """A setup whose nights cannot be played from some night on."""

    def __init__(self, arm, night):
        self.arm, self.night, self.played = arm, night, 0

    def map(self, job, chunks):
        from soundergate.engine.work.folding import ArmFailed

        for chunk in chunks:
            if len(job.jobs) == 3 and chunk.first + chunk.count > self.night:
                raise ArmFailed(self.arm, "OverflowError: the night broke")
            self.played += chunk.count
            yield job(chunk)


@pytest.mark.parametrize(("arm", "kept"), [(2, True), (0, False)])
def test_an_arm_that_fails_late_costs_no_night_of_the_others(scenario_file, out, arm, kept):
    """Unless all were compared with it: then there are other pairs, of which nothing is known."""
    study = loads(STUDY, scenario_file.parent / "study.toml")
    breaks = BreaksLate(arm, 2000)
    with Store(out) as store:
        result = run_study(study, executor=breaks, store=store)
    name = ["near", "far", "broken"][arm]
    assert list(result.failed) == ["cannot be", name]
    assert result.failed[name] == "OverflowError: the night broke"
    assert breaks.played == (3000 if kept else 4800)
    plain = run_study(study, executor=BreaksLate(arm, 0))
    assert result.to_json() == plain.to_json()
    assert [d.a for d in result.comparison.differences[:1]] == ["far"]
    with Store(out, resume=True) as store:
        again = run_study(study, executor=StopsAfter(0), store=store)
    assert again.to_json() == result.to_json()


def test_with_a_precision_all_begin_again(scenario_file, out):
    """When one looks depends on the arms: without one of them one looks at other times."""
    text = STUDY.replace("nights = 3000", "precision = 0.016").replace("21 ft", "24 ft")
    study = loads(text, scenario_file)
    told = [[], []]
    for executor, goals in zip((StopsAfter(20), BreaksLate(2, 0)), told, strict=True):
        with suppress(Stopped):
            run_study(study, executor=executor, progress=lambda _, goal, g=goals: g.append(goal))
    assert 1000 < max(told[1]) < 2000 < 2500 < max(told[0]), "no longer shows anything"
    with Store(out) as store:
        result = run_study(study, executor=BreaksLate(2, 2500), store=store)
    assert result.to_json() == run_study(study, executor=BreaksLate(2, 0)).to_json()


# ---- who is refused ------------------------------------------------------------------------


def test_chunks_are_not_begun_upon_unasked(scenario, out):
    stop_early(scenario, out)
    with pytest.raises(StudyError, match="holds 900 nights of an earlier run; --resume goes on"):
        Store(out)
    with Store(out, force=True) as store:
        assert store.nights_done == 0
        run(scenario, 300, seed=9, store=store)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"seed": 2}, "seed was 1, is now 2"),
        ({"engine": "reference"}, "engine was batch, is now reference"),
        ({"keep_outcomes": False}, "nights kept was true, is now false"),
        ({"precision": 0.01}, "precision.fraction_caught was absent, is now 0.01"),
    ],
)
def test_another_run_is_refused_by_name(scenario, out, change, told):
    stop_early(scenario, out)
    with Store(out, resume=True) as store, pytest.raises(StudyError) as refused:
        run(scenario, NIGHTS, **{"executor": InOrder(), "store": store} | change)
    assert f"{NAME}: holds chunks of another run: " in str(refused.value)
    assert told in str(refused.value)
    assert "go on with the same run, or begin this one in another folder" in str(refused.value)


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("opening.width", "5 ft", r"opening\.1\.width was 1\.2192 m, is now 1\.524 m"),
        ("sounder.sows", 3, r"sounder\.sows was 2, is now 3"),
        ("entry.clock", "100 s", r"entry\.clock"),
    ],
)
def test_a_changed_scenario_is_refused_by_key(scenario, out, key, value, told):
    stop_early(scenario, out)
    with Store(out, resume=True) as store, pytest.raises(StudyError, match=told):
        run(with_values(scenario, {key: value}), NIGHTS, store=store)


def test_a_changed_version_is_refused_by_package(scenario, out, monkeypatch):
    stop_early(scenario, out)
    now = identity.versions() | {"numba": "0.0.1"}
    monkeypatch.setattr(identity, "versions", lambda: now)
    told = r"version\.numba was [\d.]+, is now 0\.0\.1"
    with Store(out, resume=True) as store, pytest.raises(StudyError, match=told):
        run(scenario, NIGHTS, store=store)


def test_changed_mechanics_are_refused_though_the_scenario_is_the_same(scenario, out, monkeypatch):
    stop_early(scenario, out)
    from soundergate.engine import build

    right = build.build

    def later(*given):
        plan = right(*given)
        plan.openings["delay_a"] += 0.1
        return plan

    monkeypatch.setattr(build, "build", later)
    told = "solved mechanics and behaviour was"
    with Store(out, resume=True) as store, pytest.raises(StudyError, match=told):
        run(scenario, NIGHTS, store=store)


def test_a_changed_comparison_is_refused(scenario, out):
    with Store(out) as store:
        compare(scenario, VARY, 500, store=store)
        for change, told in (
            ({"vary": ["trigger.distance=20 ft,21 ft"]}, r"arm trigger\.distance=21 ft.*absent"),
            ({"measures": ["caught"]}, "measures was"),
            ({"against": "trigger.distance=20 ft"}, "compared with was each other, is now trig"),
        ):
            with pytest.raises(StudyError, match=told):
                compare(scenario, **{"vary": VARY, "nights": 500, "store": store} | change)


def test_a_store_of_a_run_is_not_taken_for_one_of_a_study(scenario, scenario_file, out):
    stop_early(scenario, out)
    study = loads(STUDY, scenario_file)
    with Store(out, resume=True) as store, pytest.raises(StudyError, match="another run"):
        run_study(study, store=store)


def test_the_first_changes_are_named_and_the_rest_counted():
    before = {str(n): "a" for n in range(9)}
    found = identity.changes(before, dict.fromkeys(before, "b" * 99))
    told = identity.in_short(found)
    assert told.startswith("0 was a, is now bbb")
    assert told.endswith("; and 6 more")
    assert len(told) < 300


def test_two_writers_in_one_folder(out):
    with Store(out):
        for again in ({"resume": True}, {"force": True}, {}):
            with pytest.raises(StudyError, match=f"{NAME}: another run is writing here; wait"):
                Store(out, **again)
        script = (
            f"from soundergate.studies.store.store import Store; Store({str(out)!r}, resume=True)"
        )
        other = python("-c", script)
        assert "another run is writing here" in other.stderr
    with Store(out, resume=True):
        pass


# ---- disks that fail -----------------------------------------------------------------------


def test_a_full_disk_stops_the_run_and_leaves_a_valid_store(scenario, out):
    """SQLite's own limit of pages: the same failure as a full disk, for every user."""
    store = Store(out)
    (pages,) = store._db.execute("PRAGMA page_count").fetchone()
    store._db.execute(f"PRAGMA max_page_count = {pages + 20}")
    with pytest.raises(StudyError) as full, store:
        run(scenario, NIGHTS, store=store)
    assert_goes_on_after(str(full.value), "disk is full", scenario, out)


def assert_goes_on_after(message: str, reason: str, scenario, out) -> None:
    assert message.count("\n") == 0
    assert f"{NAME}: cannot be written: " in message
    assert reason in message
    assert "nights are safe there, and --resume goes on from them" in message
    assert sqlite3.connect(out / NAME).execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with Store(out, resume=True) as store:
        assert f" {store.nights_done:,} nights are safe" in message
        assert 0 < store.nights_done < NIGHTS
        result = run(scenario, NIGHTS, store=store)
    assert result.tally == run(scenario, NIGHTS).tally


RUN = """
import sys
from soundergate.scenario.errors import ScenarioError
from soundergate.studies.store import database, store
from soundergate.studies.estimate import run
store._SECONDS_A_ROW, database._SYNCHRONOUS = 0.0, "OFF"
from soundergate.engine.work.executors import CHUNK
CHUNK["batch"] = 300
{before}
try:
    with store.Store({out!r}, resume=True) as kept:
        run({scenario!r}, {nights}, store=kept)
except ScenarioError as error:
    sys.exit(str(error))
"""


def run_elsewhere(scenario_file, out, *, lead=(), before="", **options):
    script = RUN.format(out=str(out), scenario=str(scenario_file), nights=NIGHTS, before=before)
    command = [*lead, sys.executable, "-c", script]
    return subprocess.run(command, capture_output=True, text=True, **options)


@pytest.mark.slow
def test_a_file_that_may_not_grow(scenario, scenario_file, out):
    """A limit of the system on the size of files, which binds every user."""
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (90_000,) * 2)"
    done = run_elsewhere(scenario_file, out, before=limit)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert_goes_on_after(done.stderr.strip(), "", scenario, out)
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY


def mounted(what: str) -> list[str]:
    """A command in front of another one, which sees ``what`` mounted, or skip the test."""
    lead = ["unshare", "-r", "-m", "sh", "-c", f'{what} && exec "$@"', "-"]
    if (
        shutil.which("unshare") is None
        or subprocess.run([*lead, "true"], capture_output=True).returncode
    ):
        pytest.skip("this system lets us mount nothing")
    return lead


@pytest.mark.slow
def test_a_disk_that_is_really_full(scenario, scenario_file, tmp_path, out):
    """A file system of 80 kB in memory. What it held is copied out before it goes away."""
    disk = tmp_path / "disk"
    disk.mkdir()
    lead = mounted(f"mount -t tmpfs -o size=80k none {disk}")
    lead[5] = lead[5].replace('exec "$@"', f'"$@"; code=$?; cp {disk}/* {out}; exit $code')
    done = run_elsewhere(scenario_file, disk, lead=lead)
    assert "Traceback" not in done.stderr
    assert_goes_on_after(done.stderr.strip(), "full", scenario, out)


def test_a_folder_that_cannot_be_written(scenario_file, tmp_path, out):
    lead = mounted(f"mount --bind {out} {out} && mount -o remount,ro,bind {out}")
    done = run_elsewhere(scenario_file, out, lead=lead)
    assert f"{NAME}: cannot be opened: unable to open database file" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_store_that_may_be_read_only(scenario, scenario_file, out):
    """It is there and whole, and on a disk that has become read-only."""
    stop_early(scenario, out)
    before = rows(out)
    lead = mounted(f"mount --bind {out} {out} && mount -o remount,ro,bind {out}")
    done = run_elsewhere(scenario_file, out, lead=lead)
    assert f"{NAME}: cannot be written: attempt to write a readonly database" in done.stderr
    assert "Traceback" not in done.stderr
    assert rows(out) == before


@pytest.mark.parametrize("folder", ["/proc/self", "/sys", "a file", "nowhere"])
def test_folders_that_bind_everybody(tmp_path, folder):
    (tmp_path / "a file").write_text("not a folder")
    with pytest.raises(StudyError, match="unable to open database file"):
        Store(tmp_path / folder)


# ---- files that are not what they should be ------------------------------------------------


def test_a_file_that_is_no_store(out):
    (out / NAME).write_bytes(b"a page from somebody's diary " * 400)
    with pytest.raises(StudyError, match="file is not a database"):
        Store(out, resume=True)
    (out / NAME).unlink()
    with sqlite3.connect(out / NAME) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    with pytest.raises(StudyError, match="is no store of chunks"):
        Store(out, force=True)


def test_a_store_of_another_format(scenario, out):
    stop_early(scenario, out)
    change(out, "UPDATE about SET value = '7' WHERE what = 'format'")
    with pytest.raises(StudyError, match="is a store of format 7; this version writes 2; --force"):
        Store(out, resume=True)


def test_a_hole_between_chunks_is_told(scenario, out):
    stop_early(scenario, out)
    change(out, "DELETE FROM chunk WHERE first = 300")
    told = f"{NAME}: is damaged: the nights from 300 are not whole; --force begins again"
    with Store(out, resume=True) as store, pytest.raises(StudyError, match=told):
        run(scenario, NIGHTS, store=store)


def test_a_damage_is_told_before_a_night_is_played(scenario, out):
    stop_early(scenario, out)
    change(out, "UPDATE chunk SET nights = x'0011' WHERE first = 300")
    told = f"{NAME}: is damaged: a row, of nights from 300 on, has changed; --force begins again"
    for options in ({}, {"resume": True}):
        with pytest.raises(StudyError, match=told):
            Store(out, **options)
    with Store(out, force=True) as store:
        assert store.nights_done == 0


def test_a_damage_that_comes_later_is_told_too(scenario, out):
    """The disk may lose what was there when the store was opened."""
    stop_early(scenario, out)
    with Store(out, resume=True) as store:
        store._db.execute("UPDATE chunk SET nights = x'0011' WHERE first = 300")
        with pytest.raises(StudyError, match="is damaged: a row, of nights from 300 on"):
            run(scenario, NIGHTS, store=store)
        with pytest.raises(StudyError, match="is damaged: a row, of nights from 300 on"):
            write_nights(out / "nights.csv.gz", store.nights(""))
    assert not (out / "nights.csv.gz").exists()


def test_nothing_is_written_through_a_link(scenario, tmp_path, out):
    for name in (NAME, f"{NAME}-journal"):
        other = tmp_path / name
        other.write_bytes(b"")
        (out / name).symlink_to(other)
        for options in ({}, {"resume": True}, {"force": True}):
            with pytest.raises(StudyError, match=f"{name}: is a link"):
                Store(out, **options)
        assert other.read_bytes() == b""
        (out / name).unlink()


def test_an_empty_file_is_a_new_store(out):
    """What a run leaves that was killed before it wrote anything."""
    (out / NAME).touch()
    with Store(out, resume=True) as store:
        assert store.nights_done == 0


def change(out: Path, statement: str) -> None:
    with sqlite3.connect(out / NAME) as db:
        db.execute(statement)
    db.close()
    assert os.path.getsize(out / NAME) > 0
