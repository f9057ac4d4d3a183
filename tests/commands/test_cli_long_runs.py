"""Long runs by the command line: going on, what is kept, clusters, progress, kills."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from soundergate.commands.progress import Lines, Pace, duration, speed
from soundergate.studies.store.store import NAME

QUICK = ("--nights", 900, "--seed", 4)


def numbers(folder: Path) -> dict[str, bytes]:
    """The files that hold numbers; pictures have tests of their own."""
    names = ("nights.csv.gz", "summary.csv", "run.json", "differences.csv")
    return {name: (folder / name).read_bytes() for name in names if (folder / name).exists()}


@pytest.fixture
def no_pictures(monkeypatch):
    """Numbers alone, which is what these tests look at, written as the commands write them."""
    from soundergate.commands import outputs
    from soundergate.studies import record

    monkeypatch.setattr(outputs, "write_run", lambda out, result, *_: record.write_run(out, result))
    monkeypatch.setattr(
        outputs, "write_comparison", lambda out, c, *_: record.write_comparison(out, c)
    )
    monkeypatch.setattr(outputs, "write_study", lambda out, study, _: study.write(out))


@pytest.fixture
def stops(monkeypatch):
    """``stops(n)``: from now on Ctrl-C comes when n chunks of 300 nights have been played."""
    from soundergate.engine.work.executors import CHUNK, InOrder

    monkeypatch.setitem(CHUNK, "batch", 300)

    def after(chunks: int) -> None:
        def map_until(self, job, asked):
            for number, chunk in enumerate(asked):
                if number == chunks:
                    raise KeyboardInterrupt
                yield job(chunk)

        monkeypatch.setattr(InOrder, "map", map_until)

    return after


def test_a_run_stopped_by_hand_goes_on_to_the_same_bytes(
    invoke, trap, tmp_path, stops, no_pictures
):
    whole, out = tmp_path / "whole", tmp_path / "out"
    assert invoke("run", trap, *QUICK, "--out", whole, "--workers", 1).code == 0
    stops(2)
    said = invoke("run", trap, *QUICK, "--out", out, "--workers", 1)
    assert said.code == 130
    assert "Stopped after 600 nights, which all count." in said.err
    assert [path.name for path in out.iterdir()] == [NAME], "no numbers that look like all of them"
    assert f"The same command with --resume goes on from here; {out} holds what is done" in said.err
    stops(99)
    said = invoke("run", trap, *QUICK, "--out", out, "--workers", 1, "--resume")
    assert f"Going on from 600 nights in {out / NAME}." in said.err
    assert numbers(out) == numbers(whole)
    assert set(numbers(out)) == {"nights.csv.gz", "summary.csv", "run.json"}


def test_a_comparison_and_a_study_go_on(invoke, trap, tmp_path, stops, no_pictures):
    study = trap.parent / "study.toml"
    study.write_text(
        f'base = "{trap.name}"\nnights = 900\nsave_nights = true\n'
        '[factors]\ntrigger.distance = ["12 ft", "20 ft"]\n'
    )
    vary = ("--vary", "trigger.distance=12 ft,20 ft")
    for command in (("compare", trap, *vary, *QUICK), ("study", study)):
        whole, out = tmp_path / f"{command[0]}-whole", tmp_path / command[0]
        stops(99)
        assert invoke(*command, "--out", whole, "--workers", 1).code == 0
        stops(1)
        assert invoke(*command, "--out", out, "--workers", 1).code == 130
        assert [path.name for path in out.iterdir()] == [NAME]
        stops(99)
        said = invoke(*command, "--out", out, "--workers", 1, "--resume")
        assert "Going on from 300 nights" in said.err
        assert numbers(out) == numbers(whole)
        nights = {p.name: p.read_bytes() for p in whole.glob("nights_*.csv.gz")}
        assert len(nights) == 2
        assert {p.name: p.read_bytes() for p in out.glob("nights_*.csv.gz")} == nights


@pytest.mark.slow
def test_pictures_and_pages_are_the_same_after_a_stop(invoke, trap, tmp_path, stops):
    whole, out = tmp_path / "whole", tmp_path / "out"
    few = ("--nights", 400, "--workers", 1, "--quiet")
    assert invoke("run", trap, *few, "--out", whole).code == 0
    stops(1)
    invoke("run", trap, *few, "--out", out)
    stops(99)
    invoke("run", trap, *few, "--out", out, "--resume")
    found = {p.name: p.read_bytes() for p in out.iterdir() if p.name != NAME}
    assert found == {p.name: p.read_bytes() for p in whole.iterdir() if p.name != NAME}
    assert "report.html" in found


def test_going_on_can_be_asked_for_from_the_start(invoke, trap, tmp_path, no_pictures):
    out = tmp_path / "out"
    for _ in range(2):
        assert invoke("run", trap, *QUICK, "--out", out, "--resume").code == 0
    other = tmp_path / "other"
    other.mkdir()
    (other / "notes.txt").write_text("something else")
    said = invoke("run", trap, *QUICK, "--out", other, "--resume")
    assert said.code == 2
    assert f"{other}: holds no {NAME} to go on with; --force begins again" in said.err


def test_options_that_do_not_go_together(invoke, trap, tmp_path):
    for options, told in (
        (("--resume",), "--resume needs --out"),
        (("--resume", "--force", "--out", tmp_path / "out"), "give one of them"),
        (("--keep-nights",), "--keep-nights needs --out"),
        (("--cluster", "tcp://127.0.0.1:9", "--workers", 2), "--cluster has its own"),
    ):
        said = invoke("run", trap, *options)
        assert (said.code, told in said.err) == (2, True)
        assert not (tmp_path / "out").exists()


def test_a_folder_in_use_and_one_that_is_full_of_an_earlier_run(
    invoke, trap, tmp_path, no_pictures
):
    from soundergate.studies.store.store import Store

    out = tmp_path / "out"
    assert invoke("run", trap, *QUICK, "--out", out).code == 0
    said = invoke("run", trap, *QUICK, "--out", out)
    assert said.code == 2
    assert "not empty; give another with --out, --resume to go on" in said.err
    changed = trap.parent / "changed.toml"
    changed.write_text(trap.read_text().replace("sows = 1", "sows = 2"))
    said = invoke("run", changed, *QUICK, "--out", out, "--resume")
    assert said.code == 2
    assert "holds chunks of another run: sounder.sows was 1, is now 2; go on" in said.err
    with Store(out, resume=True):
        said = invoke("run", trap, *QUICK, "--out", out, "--force")
        assert (said.code, "another run is writing here" in said.err) == (2, True)
        assert "Going on" not in said.err
    assert invoke("run", changed, *QUICK, "--out", out, "--force").code == 0


def test_nights_are_kept_unless_they_are_too_many(invoke, trap, tmp_path, monkeypatch, no_pictures):
    monkeypatch.setattr("soundergate.commands.workplace.KEPT_UNASKED", 800)
    kept, sums, asked = (tmp_path / name for name in ("kept", "sums", "asked"))
    assert "keep-nights" not in invoke("run", trap, "--nights", 800, "--out", kept).err
    assert (kept / "nights.csv.gz").exists()
    said = invoke("run", trap, *QUICK, "--out", sums)
    assert "Of more than 800 nights only the sums are written; --keep-nights writes" in said.err
    assert not (sums / "nights.csv.gz").exists()
    invoke("run", trap, *QUICK, "--out", asked, "--keep-nights")
    assert (asked / "nights.csv.gz").exists()
    assert (asked / "summary.csv").read_bytes() == (sums / "summary.csv").read_bytes()
    fewer = tmp_path / "fewer"
    invoke("run", trap, "--nights", 800, "--out", fewer, "--sums-only")
    assert not (fewer / "nights.csv.gz").exists()
    assert (fewer / "summary.csv").read_bytes() == (kept / "summary.csv").read_bytes()


def test_a_run_on_a_cluster_is_the_same(invoke, trap, tmp_path, no_pictures):
    local = pytest.importorskip("distributed").LocalCluster
    here, there = tmp_path / "here", tmp_path / "there"
    with local(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0"
    ) as scheduler:
        at = ("--cluster", scheduler.scheduler_address)
        assert invoke("run", trap, *QUICK, "--out", there, *at).code == 0
        alone = invoke("run", trap, *QUICK, *at, "--json")
    assert invoke("run", trap, *QUICK, "--out", here).code == 0
    assert numbers(there) == numbers(here)
    assert alone.data == invoke("run", trap, *QUICK, "--json").data
    said = invoke("run", trap, *QUICK, "--cluster", "barn")
    assert (said.code, "no cluster can be at 'barn'" in said.err) == (2, True)


# ---- progress ------------------------------------------------------------------------------


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_rate_and_time_left_of_a_steady_run() -> None:
    clock = Clock()
    pace, told = Pace(clock), []
    lines = Lines("nights", told.append, clock)
    for step in range(101):
        clock.now = 100.0 + step
        done = 5_000_000 + 100_000 * step  # five million of them from an earlier run
        rate = pace.at(done)
        lines(done, 20_000_000)
        if step:
            assert rate == pytest.approx(100_000)
    assert told[0] == "6,000,000 of 20,000,000 nights, 100,000 a second, 2 min 20 s left"
    assert [line.split()[0] for line in told] == [
        "6,000,000", "9,000,000", "12,000,000", "15,000,000",
    ]  # fmt: skip


def test_the_rate_follows_a_change_within_half_a_minute() -> None:
    clock = Clock()
    pace, done = Pace(clock), 0
    for step in range(200):
        clock.now += 1
        done += 1000 if step < 100 else 50
        rate = pace.at(done)
    assert rate == pytest.approx(50)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.2, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min 0 s"),
        (463, "7 min 43 s"),
        (3600, "1 h 0 min"),
        (12_000, "3 h 20 min"),
        (187_300, "2 d 4 h"),
    ],
)
def test_durations_in_words(seconds: float, words: str) -> None:
    assert duration(seconds) == words


def test_nothing_is_said_before_anything_is_known() -> None:
    assert speed(10, 100, 0.0) == ""
    assert speed(10, 100, 1234.5) == ", 1,230 a second, 0 s left"
    assert speed(10, 100, 0.9) == ", 1 a second, 1 min 40 s left"


def test_a_log_is_told_now_and_then(invoke, trap, monkeypatch) -> None:
    monkeypatch.setattr("soundergate.commands.progress._FIRST_LINE", 0.0)
    monkeypatch.setattr("soundergate.commands.progress._NEXT_LINE", 0.0)
    monkeypatch.setattr("soundergate.commands.progress._LEAST_LEFT", float("inf"))
    assert " of 3,000 nights" not in invoke("run", trap, "--nights", 3000).err  # about to end
    monkeypatch.setattr("soundergate.commands.progress._LEAST_LEFT", 0.0)
    said = invoke("run", trap, "--nights", 3000)
    assert "1,000 of 3,000 nights" in said.err
    assert " a second, " in said.err
    assert " a second, " not in invoke("run", trap, "--nights", 3000, "--quiet").err


# ---- the command itself, killed -------------------------------------------------------------


@pytest.mark.slow
def test_the_command_killed_fifty_times_ends_with_the_same_bytes(trap, tmp_path) -> None:
    """At any moment from its very start to the last picture; new folders as runs come to an end."""
    command = [sys.executable, "-m", "soundergate", "run", str(trap), "--nights", "60000"]
    command += ["--worlds", "20", "--seed", "3", "--keep-nights", "--quiet", "--resume", "--out"]
    begun = time.monotonic()
    subprocess.run([*command, str(tmp_path / "whole")], check=True, capture_output=True)
    took = time.monotonic() - begun  # where kills fall depends on it, what must hold does not
    whole = everything(tmp_path / "whole")
    luck, kills, lives, out = random.Random(11), 0, 0, tmp_path / "0"
    while kills < 50:
        run = subprocess.Popen([*command, str(out)], stdout=subprocess.DEVNULL)
        time.sleep(luck.uniform(0.0, 1.1 * took))
        run.send_signal(signal.SIGKILL)
        if run.wait() == -signal.SIGKILL:
            kills += 1
            continue
        assert run.returncode == 0
        assert everything(out) == whole
        lives += 1
        out = tmp_path / str(lives)
    subprocess.run([*command, str(out)], check=True, capture_output=True)
    assert everything(out) == whole
    assert "report.html" in whole


def everything(folder: Path) -> dict[str, bytes]:
    """All files; of the store what it says, since its rows may be cut elsewhere."""
    files = {p.name: p.read_bytes() for p in folder.iterdir() if p.name != NAME}
    db = sqlite3.connect(folder / NAME)
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    files[NAME] = repr(db.execute("SELECT sum(count), max(first + count) FROM chunk").fetchone())
    db.close()
    return files


def test_the_rate_is_that_of_the_last_half_minute() -> None:
    """A steady thousand a second that stops: ten seconds later a third of the half minute is
    empty, after half a minute all of it."""
    clock = Clock()
    pace, done = Pace(clock), 0
    for _ in range(100):
        clock.now += 1
        done += 1000
        pace.at(done)
    after = {}
    for second in range(1, 41):
        clock.now += 1
        after[second] = pace.at(done)
    assert after[10] == pytest.approx(1000 * 20 / 30, rel=0.05)
    assert after[20] == pytest.approx(1000 * 10 / 30, rel=0.1)
    assert after[29] > 0
    assert after[32] == 0.0
