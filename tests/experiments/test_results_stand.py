"""What results_demo holds is what the studies give: a result that has gone stale fails here.

Whole numbers of nights decide nearly every figure, so they are compared to nine digits: room for
the last bit of another computer's logarithm, none for a changed model.
"""

from __future__ import annotations

import csv
import json
import math
import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from shared.processes import module_at
from soundergate.mechanics.setup import solve
from soundergate.scenario.loading import load as load_scenario
from soundergate.scenario.loading import with_values
from soundergate.scenario.schema import Scenario
from soundergate.studies.arms import Arm
from soundergate.studies.crossed import ArmPlan, pairs_of, plans
from soundergate.studies.estimate import run, summary_csv
from soundergate.studies.estimates.paired import PairTally
from soundergate.studies.study_file import load
from soundergate.studies.study_schema import StudyFile
from soundergate.studies.worlds.robust import robust

REPO = Path(__file__).parents[2]
EXPERIMENTS, RESULTS = REPO / "experiments", REPO / "results_demo"
STUDIES = {
    "trigger_strategies": "trigger_strategies/study.toml",
    "gate_width": "gate_width/study.toml",
    "gate_width_watched": "gate_width/watched.toml",
    "gate_width_free": "gate_width/free.toml",
}
SAMPLED = {
    "trigger_strategies": (
        "line beyond the bait, drop gate",
        "bait container, drop gate",
        "person behind a relay, top-hinged gate",
    ),
    "gate_width": ("one 4 ft gate", "a pair of 3 ft gates"),
    "gate_width_watched": ("one 4 ft gate", "one 10 ft gate"),
    "gate_width_free": ("one 4 ft gate", "a pair of 6 ft gates"),
}
"""Arms played whole here; the slow tier plays all."""
WORLDS = 20
DIGITS = 1e-9
MEGABYTE = 1_000_000

studies = pytest.mark.parametrize("name", STUDIES)
robust_studies = pytest.mark.parametrize(
    "name", ["trigger_strategies", "gate_width", "gate_width_watched"]
)


def study(name: str) -> StudyFile:
    return load(EXPERIMENTS / STUDIES[name])


def scenario(plan: ArmPlan) -> Scenario:
    return with_values(load_scenario(plan.file), plan.set)


def rows(path: Path | Iterable[str]) -> list[dict[str, str]]:
    lines = path.read_text(encoding="utf-8").splitlines() if isinstance(path, Path) else path
    return list(csv.DictReader(lines))


def same(ours: str, theirs: str) -> bool:
    try:
        return math.isclose(float(ours), float(theirs), rel_tol=DIGITS, abs_tol=1e-15)
    except ValueError:
        return ours == theirs


def different(ours: list[dict[str, str]], theirs: list[dict[str, str]]) -> list[str]:
    """Cells that differ, in words; also if a row or a column is missing."""
    if [list(row) for row in ours] != [list(row) for row in theirs]:
        return [f"{len(ours)} and {len(theirs)} rows, or other columns"]
    return [
        f"row {number}, {column}: {one[column]} and {other[column]}"
        for number, (one, other) in enumerate(zip(ours, theirs, strict=True))
        for column in one
        if not same(one[column], other[column])
    ]


def test_a_difference_is_seen() -> None:
    a = [{"x": "0.25", "unit": "m"}]
    assert different(a, [{"x": "0.250000000001", "unit": "m"}]) == []
    assert different(a, [{"x": "0.2500001", "unit": "m"}]) == ["row 0, x: 0.25 and 0.2500001"]
    assert different(a, [{"x": "0.25", "unit": "ft"}]) != []
    assert different(a, [{"x": "", "unit": "m"}]) != []
    assert different(a, a * 2) != []


@studies
def test_sampled_arms_give_the_committed_numbers(name: str) -> None:
    asked, committed = study(name), rows(RESULTS / name / "summary.csv")
    planned = {plan.name: plan for plan in plans(asked)}
    assert list(dict.fromkeys(row["arm"] for row in committed)) == list(planned)
    played = {}
    for arm in SAMPLED[name]:
        result = run(scenario(planned[arm]), asked.nights, seed=asked.seed)
        ours = rows(summary_csv([({"arm": arm}, result)]).splitlines())
        assert different(ours, [row for row in committed if row["arm"] == arm]) == []
        played[arm] = result.outcomes
    pairs = pairs_of(list(planned.values()), asked.against) or []
    found = 0
    for row in rows(RESULTS / name / "differences.csv"):
        if row["a"] in played and row["b"] in played:
            tally = PairTally.of(played[row["a"]], played[row["b"]], [row["measure"]])
            assert same(repr(tally.moments[row["measure"]].mean), row["estimate"])
            found += 1
    sampled = [pair for pair in pairs if set(pair) <= set(played)]
    assert found == len(sampled) * len(asked.measures) > 0


@pytest.mark.slow
@robust_studies
def test_the_first_worlds_give_the_committed_numbers(name: str) -> None:
    asked = study(name)
    assert asked.robust is not None
    planned = [plan for plan in plans(asked) if plan.name in SAMPLED[name]]
    arms = [Arm(plan.name, scenario(plan), plan.set) for plan in planned]
    found = robust(
        arms, WORLDS, asked.robust.nights, asked.seed,
        only=asked.robust.only, measures=asked.measures,
    )  # fmt: skip
    committed = rows(RESULTS / name / "worlds.csv")
    assert len(committed) == asked.robust.worlds
    record = json.loads((RESULTS / name / "run.json").read_text(encoding="utf-8"))
    longer = {*record["robust"]["played_longer"], *found.longer}  # which other arms may have asked
    ours = [r for r in rows(found.to_worlds_csv().splitlines()) if int(r["world"]) not in longer]
    theirs = [row for row in committed[:WORLDS] if int(row["world"]) not in longer]
    assert ours
    # measures that are only written down may be more than when the results were made
    both = [column for column in ours[0] if column in theirs[0]]
    compared = {f"{arm.name}: {measure}" for arm in arms for measure in asked.measures}
    assert {*both} >= compared | {one.id for one in found.unknowns}
    ours, theirs = (
        [{column: row[column] for column in both} for row in of] for of in (ours, theirs)
    )
    assert different(ours, theirs) == []


@studies
def test_every_gate_lets_go(name: str) -> None:
    """Only latches that can release their gate are compared, so that width or trigger decide."""
    for plan in plans(study(name)):
        for opening in solve(scenario(plan)).openings:
            assert opening.release_probability >= 0.9, plan.name
            assert not opening.jams, plan.name


@studies
def test_what_is_invented_says_so(name: str) -> None:
    asked = study(name)
    assert "invented" in asked.title
    for file in {plan.file for plan in plans(asked)}:
        assert file.read_text(encoding="utf-8").startswith("# Invented")
    page = (RESULTS / name / "report.html").read_text(encoding="utf-8")
    assert re.search(r"<title>[^<]*invented", page)
    assert "Local codes and licensed practice come first" in re.sub(r"\s+", " ", page).replace(
        "local codes", "Local codes"
    )


@studies
def test_committed_files_belong_together(name: str) -> None:
    folder = RESULTS / name
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    asked = study(name)
    assert (record["nights"], record["seed"]) == (asked.nights, asked.seed)
    assert record["failed"] == []
    assert {arm["name"]: arm["set"] for arm in record["arms"]} == {
        plan.name: plan.set for plan in plans(asked)
    }
    estimates = {
        (row["arm"], row["measure"]): float(row["estimate"] or "nan")
        for row in rows(folder / "summary.csv")
    }
    for arm in record["arms"]:
        assert arm["caught"]["estimate"] == estimates[arm["name"], "caught"]
    for picture in ("fates", "caught", "filling", "difference_fraction_caught"):
        assert (folder / f"{picture}.png").read_bytes().startswith(b"\x89PNG")


def test_results_are_small() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z", "results_demo"], cwd=REPO, capture_output=True, check=False
    )
    names = [name for name in listed.stdout.decode().split("\0") if name]
    kept = [REPO / name for name in names] or [p for p in RESULTS.rglob("*") if p.is_file()]
    sizes = {path: path.stat().st_size for path in kept if path.exists()}
    assert len(sizes) > 30
    assert sum(sizes.values()) < 14 * MEGABYTE
    assert {path.name: size for path, size in sizes.items() if size > 1.5 * MEGABYTE} == {}


@pytest.mark.parametrize(
    "readme", sorted(EXPERIMENTS.glob("*/README.md")), ids=lambda p: p.parent.name
)
def test_tables_of_a_readme_are_the_results(readme: Path) -> None:
    text = readme.read_text(encoding="utf-8")
    tables = module_at(EXPERIMENTS / "tables.py")
    assert tables.filled(text) == text, "run python experiments/tables.py update"


@studies
def test_every_study_has_its_question_answer_and_command(name: str) -> None:
    readme = (EXPERIMENTS / STUDIES[name]).parent / "README.md"
    text = readme.read_text(encoding="utf-8")
    for head in ("## Question", "## Answer", "## Command"):
        assert head in text
    command = f"soundergate study experiments/{STUDIES[name]} --out results_demo/{name} --force"
    assert command in text
    assert f"<!-- table: arms:{name} -->" in text


@pytest.mark.slow
@studies
def test_the_command_gives_every_committed_number(name: str, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "soundergate", "study", str(EXPERIMENTS / STUDIES[name])]
    subprocess.run([*command, "--out", str(tmp_path), "--quiet"], check=True, capture_output=True)
    written = sorted(path.name for path in tmp_path.glob("*.csv"))
    assert written == sorted(path.name for path in (RESULTS / name).glob("*.csv"))
    for file in written:
        assert different(rows(tmp_path / file), rows(RESULTS / name / file)) == [], file
