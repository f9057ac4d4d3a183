"""Face validity: the counting is right, roles are honest, and what is committed still holds.

A reduced run is compared with the committed one. Both have intervals; a figure fails when they
are further apart than twice both half-widths together. With fixed seeds this fails never or always
for a given model; by chance, had the seeds been others, less than once in ten thousand a figure.
"""

from __future__ import annotations

import csv
import math
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

REPO = Path(__file__).parents[2]
FOLDER = REPO / "experiments" / "face_validity"
RESULTS = REPO / "results_demo" / "face_validity"
AGAIN = "run: python experiments/face_validity/run.py"

sys.path.insert(0, str(FOLDER.parent))

from face_validity import common, late_entry, others, run, width  # noqa: E402

from soundergate.engine.reference.facts import Facts  # noqa: E402
from soundergate.engine.reference.night import Night  # noqa: E402
from soundergate.scenario.register import register  # noqa: E402
from soundergate.studies.players import plan_of  # noqa: E402


@pytest.fixture(scope="module")
def committed() -> dict[str, dict[str, str]]:
    with (RESULTS / "face_validity.csv").open(encoding="utf-8", newline="") as source:
        return {row["id"]: row for row in csv.DictReader(source)}


@pytest.fixture(scope="module")
def reduced():
    return {row.id: row for row in run.rows(run.REDUCED)}


class Told:
    """Late entries and pigs outside at the closure, counted event by event."""

    def __init__(self) -> None:
        self.about: set[int] = set()
        self.inside: set[int] = set()
        self.held: set[int] | None = None
        self.late = self.outside = 0

    def walk(self, *_: Any) -> None:
        """Ways inside are not kept."""

    def record(self, time: float, kind: str, animal: int | None, *_: object) -> None:
        if kind == "gate moves" and self.held is None:
            self.held = set(self.inside)
            self.outside = len(self.about) - len(self.inside)
        if animal is None:
            return
        if kind == "arrives":
            self.about.add(animal)
        elif kind == "goes away":
            self.about.discard(animal)
        elif kind == "is inside":
            self.inside.add(animal)
            self.late += self.held is not None and animal not in self.held
        elif kind == "steps out":
            self.inside.discard(animal)


@pytest.mark.parametrize("door", late_entry.DOORS)
def test_late_entries_are_those_that_the_nights_tell(door):
    """The columns give what a count of events gives, and there is something to count."""
    setup = late_entry.setup(door)
    late, outside = late_entry.counted(setup, 60)
    facts = Facts(plan_of(setup))
    for number in range(60):
        told = Told()
        if Night(facts, common.SEED, number, told).play()["released"]:
            assert (told.late, told.outside) == (late[number], outside[number])
    assert outside.sum() > 100
    assert door != "root door" or late.sum() > 10


def test_published_counts_are_those_of_the_study():
    """Smith et al. 2014: 9 of 55, 1 of 52, 1 of 115; 11 of 222 together."""
    counts = [(k, n) for k, n, *_ in late_entry.DOORS.values()]
    assert counts == [(9, 55), (1, 52), (1, 115)]
    assert tuple(map(sum, zip(*counts, strict=True))) == (11, 222)


@pytest.mark.slow
def test_a_figure_that_a_default_was_taken_from_is_no_test(reduced):
    """A row counts as a test only if no default of the register cites its source."""
    cited = " ".join(entry.citation for entry in register().values())
    for row in reduced.values():
        first = re.split(r"[ ,]", row.source)[0]
        if row.role == common.TEST:
            assert first not in cited, f"{row.id} cites {first}, as the register does"
    smith = [row for row in reduced.values() if row.source.startswith("Smith")]
    assert len(smith) == 3
    assert all(row.role == common.CONSISTENCY for row in smith)


@pytest.mark.slow
def test_removal_by_trap_type_is_no_target(reduced):
    rows = [row for row in reduced.values() if row.id.startswith("removal")]
    assert [row.published for row in rows] == [0.881, 0.857, 0.485]
    for row in rows:
        assert row.role == common.NONE
        assert math.isnan(row.simulated)
        assert row.verdict == "not compared"


@pytest.mark.slow
def test_committed_rows_are_these(committed, reduced):
    assert list(committed) == list(reduced), AGAIN
    for name, row in committed.items():
        assert row["role"] == reduced[name].role, AGAIN
        assert row["source"] == reduced[name].source, AGAIN
        if not math.isnan(reduced[name].published):
            assert float(row["published"]) == pytest.approx(reduced[name].published, rel=1e-5)


@pytest.mark.slow
def test_committed_figures_still_hold(committed, reduced):
    compared = 0
    for name, row in committed.items():
        if not row["simulated_low"]:
            continue
        ours = reduced[name]
        half = (float(row["simulated_high"]) - float(row["simulated_low"])) / 2
        room = 2 * (half + (ours.simulated_high - ours.simulated_low) / 2)
        assert abs(float(row["simulated"]) - ours.simulated) <= room + 1e-9, f"{name}: {AGAIN}"
        compared += 1
    assert compared >= 10


def test_the_committed_table_says_what_the_numbers_say(committed):
    text = (RESULTS / "README.md").read_text(encoding="utf-8")
    for name, row in committed.items():
        line = next(line for line in text.splitlines() if line.startswith(f"| {name} ("))
        assert row["verdict"] in line
        assert row["role"] in line
    numeric = {k: float(v) for k, v in committed["wariness after two weeks"].items() if _number(v)}
    assert common.judged(numeric) == committed["wariness after two weeks"]["verdict"]


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize(
    ("published", "simulated", "worlds", "said"),
    [
        ((0.5, 0.4, 0.6), (0.49, 0.45, 0.55), (0.2, 0.8), "agrees: within the simulated interval"),
        ((0.5, 0.4, 0.6), (0.42, 0.41, 0.43), (0.2, 0.8), "agrees within the published interval"),
        (
            (0.5, 0.4, 0.6),
            (0.42, 0.41, 0.43),
            (0.41, 0.45),
            "agrees within the published interval, but few worlds allow it",
        ),
        (
            (0.5, 0.4, 0.6),
            (0.2, 0.1, 0.3),
            (0.05, 0.8),
            "disagrees at the defaults; plausible worlds allow it",
        ),
        (
            (0.5, 0.4, 0.6),
            (0.2, 0.1, 0.3),
            (0.05, 0.35),
            "DISAGREES: outside the middle 95 % of plausible worlds",
        ),
    ],
)
def test_the_judgement(published, simulated, worlds, said):
    names = ("published", "published_low", "published_high")
    row = dict(zip(names, published, strict=True))
    row |= dict(zip(("simulated", "simulated_low", "simulated_high"), simulated, strict=True))
    row |= dict(zip(("worlds_low", "worlds_high"), worlds, strict=True))
    assert common.judged(row) == said


def test_a_trial_finds_what_is_there_and_mostly_nothing_where_nothing_is():
    """Power of the rank test: none (5 % level, 400 trials: 0.01 to 0.10 but for one in 10^4)."""
    rng = np.random.default_rng(3)
    a = rng.lognormal(0.0, 0.6, 4000)
    assert 0.01 <= width.found(a, rng.permutation(a), 400) <= 0.10
    assert width.found(a, 3 * a, 100) > 0.95
    assert width.found(np.full(50, np.inf), np.full(50, np.inf), 20) == 0.0


def test_ratio_has_the_night_as_its_unit():
    """The same animals in fewer, larger nights are less information."""
    rng = np.random.default_rng(5)
    luck = rng.random(400)
    under = np.full(400, 5.0)
    over = rng.binomial(5, luck).astype(float)
    r, low, high = common.ratio(over, under)
    assert r == pytest.approx(over.sum() / 2000)
    spread = np.sqrt(r * (1 - r) / 2000)
    assert high - low > 1.5 * 2 * 1.96 * spread


def test_every_scenario_is_invented():
    files = sorted((FOLDER / "scenarios").glob("*.toml"))
    assert len(files) == 4
    for file in files:
        assert file.read_text(encoding="utf-8").startswith("# Invented: ")


def test_strength_and_flow_are_played_not_copied():
    weak = common.scenario("file")
    slow = common.entries(weak, 0, 3)
    assert all(math.isfinite(time) for _, times in slow for time in times)
    assert others.flow(5, 2, 3).simulated > 1.0
