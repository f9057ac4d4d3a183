"""The public functions as a script or a notebook would use them."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

import soundergate
from shared.processes import python
from shared.studies import near_and_far
from soundergate.scenario import examples

STUDY = near_and_far('base = "trap.toml"\nnights = 60', only="entry.clock")
SCRIPT = """
import sys
import soundergate

scenario = soundergate.load("trap.toml")
print(soundergate.check(scenario).table)
print(soundergate.night(scenario, 3).table)
result = soundergate.run(scenario, nights=80)
print(result.table, result.interval("whole_group", 0.99), result["caught"].estimate)
both = soundergate.compare(scenario, "trigger.distance=12 ft,22 ft", nights=80)
print(both.table, both.sentences[0])
print(soundergate.study("study.toml").robust.table)
print(soundergate.season(scenario, campaigns=30).table)
assert "matplotlib" not in sys.modules, "a table needs no picture"
result.plot().figure.savefig("caught.png")
both.plot("whole_group").figure.savefig("difference.png")
assert "matplotlib.pyplot" not in sys.modules, "a picture needs no window"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("api")
    (place / "trap.toml").write_text(examples.text("line"), encoding="utf-8")
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    (place / "script.py").write_text(SCRIPT, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def results(folder: Path) -> dict[str, Any]:
    trap = folder / "trap.toml"
    study = soundergate.study(folder / "study.toml")
    return {
        "check": soundergate.check(trap),
        "night": soundergate.night(trap, 3),
        "run": soundergate.run(trap, nights=80),
        "compare": soundergate.compare(trap, "trigger.distance=12 ft,22 ft", nights=80),
        "study": study,
        "worlds": study.robust,
        "season": soundergate.season(trap, campaigns=40),
    }


@pytest.mark.slow
def test_a_plain_script_runs(folder: Path) -> None:
    done = python("script.py", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "fraction_caught" in done.stdout
    for picture in ("caught.png", "difference.png"):
        assert (folder / picture).read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("name", ["check", "night", "run", "compare", "study", "worlds", "season"])
def test_every_result_has_a_table_and_a_picture(results: dict[str, Any], name: str) -> None:
    result = results[name]
    assert dataclasses.is_dataclass(result)
    assert isinstance(result.table, pd.DataFrame)
    assert len(result.table) >= 4
    drawn = result.plot()
    assert isinstance(drawn, Axes)
    given = Figure().subplots()
    assert result.plot(ax=given) is given
    assert given.get_xlabel()


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("check", "gate mass"),
        ("night", "steps in"),
        ("run", "share of the group caught"),
        ("compare", "Difference in share of the group caught"),
        ("study", "Difference in share of the group caught"),
        ("worlds", "Differences over plausible worlds"),
        ("season", "share of the group caught"),
    ],
)
def test_a_notebook_shows_a_table(results: dict[str, Any], name: str, says: str) -> None:
    shown = results[name]._repr_html_()
    assert shown.startswith("<table")
    assert says in shown
    assert shown.count("<tr") > len(results[name].table) / 2
    assert shown.count("<table") == shown.count("</table>") >= 1


def test_intervals_are_asked_for(results: dict[str, Any]) -> None:
    run = results["run"]
    low, high, level = run.interval("whole_group", 0.99)
    assert (level, low <= run["whole_group"].estimate <= high) == (0.99, True)
    assert high - low > run.interval("whole_group", 0.5).half_width * 2
    names = [arm.name for arm in results["compare"].arms]
    found = results["compare"].interval(*names, "caught")
    back = results["compare"].interval(*names[::-1], "caught")
    assert (found.low, found.high) == (-back.high, -back.low)
    assert results["study"].interval("near", "far").level == 0.95
    share = results["worlds"].interval("far", "near")
    assert 0 <= share.low <= results["worlds"].difference("far", "near").share <= share.high <= 1


def test_check_says_where_a_try_lies(folder: Path, results: dict[str, Any]) -> None:
    """Against the probability of release, which is computed from the same scatter elsewhere."""
    check = results["check"]
    (opening,) = check.setup.openings
    assert check.interval().level == 0.95
    for share in (0.5, 0.9, 0.99):
        low, high, _ = check.interval("margin", share)
        assert low * high == pytest.approx(opening.margin**2)
    # the level at which the low end of the margin is 1 leaves half its complement unreleased
    level = 2 * opening.release_probability - 1
    assert check.interval("margin", level).low == pytest.approx(1.0, rel=1e-6)
    low, high, _ = check.interval("pull_required")
    assert low < opening.pull_required < high
    slow = soundergate.with_values(
        check.scenario,
        {"opening.latch.delay": {"dist": "uniform", "low": "1 s", "high": "3 s"}},
    )
    assert soundergate.check(slow).interval("release_delay", 0.5)[:2] == pytest.approx((1.5, 2.5))


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"name": "release_probability"}, "does not scatter"),
        ({"opening": 1}, "numbered 0 to 0"),
        ({"level": 1.0}, "level is 1.0"),
    ],
)
def test_check_refuses_what_has_no_interval(
    results: dict[str, Any], asked: dict[str, Any], says: str
) -> None:
    with pytest.raises(soundergate.ScenarioError, match=says):
        results["check"].interval(**asked)


def test_what_has_no_margin_says_so() -> None:
    from soundergate.scenario.loading import loads

    for name in ("knee", "curl"):
        with pytest.raises(soundergate.ScenarioError, match="opening 0 has no margin"):
            soundergate.check(loads(examples.text(name))).interval("margin")


def test_one_night_estimates_nothing(results: dict[str, Any]) -> None:
    assert not hasattr(results["night"], "interval")


def test_openings_that_close_alike_are_drawn_once(results: dict[str, Any]) -> None:
    one = results["check"]
    twice = {"opening": [one.scenario.raw["opening"][0]] * 2}
    two = soundergate.check(soundergate.with_values(one.scenario, twice))
    assert len(two.setup.openings) == 2
    assert len(two.plot().get_lines()) == len(one.plot().get_lines())
    texts = [text.get_text() for text in one.plot().texts]
    assert any(text.startswith("sow needs") and " in" in text for text in texts), texts


def test_the_same_call_gives_the_same_answer(folder: Path, results: dict[str, Any]) -> None:
    again = soundergate.study(folder / "study.toml")
    assert again.to_json() == results["study"].to_json()
