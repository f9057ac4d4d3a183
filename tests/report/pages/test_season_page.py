"""The page and tables of a season say what the campaigns say, and their pictures are legible."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from shared.legible import assert_legible
from shared.traps import SOLENOID_DROP
from soundergate.report.figures.season import assumptions_moved, caught_by_night
from soundergate.report.pages.page import Page, render
from soundergate.report.pages.season import season_page
from soundergate.report.tables.season import season_tables
from soundergate.report.words.season_answers import money_range, season_answer
from soundergate.scenario.loading import from_table
from soundergate.seasons.season import SeasonResult, season

BASE: dict[str, Any] = {
    "title": "Invented: <b>a trap</b> & no place",
    "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
    "opening": [SOLENOID_DROP],
    "trigger": {"kind": "counter", "count": 4},
    "costs": {"currency": "EUR", "wage": 20, "visit_time": "1 h", "trip": 15},
}
PATIENT = BASE | {"trigger": {"kind": "counter", "count": 7}}
FREE = {key: value for key, value in BASE.items() if key != "costs"}


SETUPS: dict[str, tuple[Any, ...]] = {
    "one": ([BASE],),
    "two": ([BASE, PATIENT],),
    "many": ([BASE], "campaign.set_nights=1,2,5,8,14"),
    "free": ([FREE],),
}
NAMES = ["one", *(pytest.param(n, marks=pytest.mark.slow) for n in ("two", "many", "free"))]


class Made(dict[str, Any]):
    """What is asked for by its name, made when it is first asked for."""

    def __init__(self, make: Callable[[str], Any]) -> None:
        self.make = make

    def __missing__(self, name: str) -> Any:
        self[name] = self.make(name)
        return self[name]


@pytest.fixture(scope="module")
def results() -> dict[str, SeasonResult]:
    def played(name: str) -> SeasonResult:
        tables, *vary = SETUPS[name]
        return season([from_table(table) for table in tables], *vary, campaigns=150)

    return Made(played)


@pytest.fixture(scope="module")
def pages(results: dict[str, SeasonResult]) -> dict[str, Page]:
    return Made(lambda name: season_page(results[name]))


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_legible(pages: dict[str, Page], name: str) -> None:
    for picture in pages[name].pictures:
        assert_legible(picture.figure, picture.name)


@pytest.mark.parametrize("name", NAMES)
def test_names_of_pictures_differ(pages: dict[str, Page], name: str) -> None:
    names = [picture.name for picture in pages[name].pictures]
    assert names
    assert len(set(names)) == len(names)


def test_the_curve_is_the_catch(results: dict[str, SeasonResult]) -> None:
    setups = results["two"].setups
    axes = caught_by_night(setups)
    for line, setup in zip(axes.lines, setups, strict=True):
        means = [100 * mean for mean, _ in setup.caught_by_night]
        assert np.allclose(line.get_ydata(), means, rtol=1e-12)


def test_a_bar_spans_what_the_assumption_moves(results: dict[str, SeasonResult]) -> None:
    moved = results["one"].unknowns[0]
    bars = assumptions_moved(moved).lines[1:]
    for bar, one in zip(bars, moved, strict=True):
        ends = [100 * e.estimate for e in one.figure("fraction_caught")]
        assert np.allclose(bar.get_xdata(), ends, rtol=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_whole_and_text_stays_text(pages: dict[str, Page], name: str) -> None:
    text = render(pages[name])
    assert "<b>a trap</b>" not in text
    assert "&lt;b&gt;a trap&lt;/b&gt; &amp; no place" in text
    assert "local codes and licensed practice come first" in text.lower()
    assert "checked as often as the law asks" in text
    assert "nan" not in re.sub(r"<script.*?</script>", "", text, flags=re.S).lower().split()
    assert json.loads(json.dumps(pages[name].data))["campaigns"] == 150


def test_published_figures_are_cited(pages: dict[str, Page]) -> None:
    text = render(pages["one"])
    for words in ("Southeastern Naturalist 13(2):367-376", "from memory", "Why they may differ"):
        assert words in text


def test_no_prices_no_money(pages: dict[str, Page], results: dict[str, SeasonResult]) -> None:
    assert not any("cost" in picture.name for picture in pages["free"].pictures)
    captions = [table.caption for table in season_tables(results["free"])]
    assert not any("Costs" in caption for caption in captions)
    assert any("Costs" in table.caption for table in season_tables(results["one"]))


@pytest.mark.parametrize("name", NAMES)
def test_tables_are_square_and_filled(results: dict[str, SeasonResult], name: str) -> None:
    for table in season_tables(results[name]):
        assert table.rows
        for row in table.rows:
            assert len(row) == len(table.columns), table.caption
            assert all(cell.strip() for cell in row), (table.caption, row)
            assert not any("nan" in cell for cell in row), (table.caption, row)


def test_answers_hold_the_figures(results: dict[str, SeasonResult]) -> None:
    result = results["two"]
    told = " ".join(season_answer(result))
    for setup in result.setups:
        assert f"{100 * setup['fraction_caught'].estimate:.0f} %" in told
        assert f"{setup.costs['cost_per_pig'].estimate:,.0f}" in told or "EUR a pig" in told
    assert result.break_even[0].sentence in told
    assert "Nobody has measured what a failed closure teaches" in told
    known = {"escaped_wary": 0.5, "onlooker_wary": 0.1, "move_away": 0.1, "quiet_nights": 4}
    sure = season(from_table(BASE | {"campaign": known}), campaigns=20)
    assert "as the file says" in season_answer(sure)[-1]


def test_a_trap_that_nobody_visits_is_cautioned_about(results: dict[str, SeasonResult]) -> None:
    far = season(
        from_table(BASE | {"campaign": {"checks": "after closure", "alarm": True}}), campaigns=20
    )
    assert any("Many laws ask for a visit every day" in line for line in season_answer(far))
    assert not any("Many laws" in line for line in season_answer(results["one"]))


@pytest.mark.parametrize(
    ("value", "low", "high", "told"),
    [
        (1234.4, 1200.6, 1260.2, "1,234 (1,201 to 1,260)"),
        (12.34, 10.0, 15.0, "12.3 (10.0 to 15.0)"),
        (1.234, 1.0, float("inf"), "1.23 (1.00 to without limit)"),
        (55.5, float("nan"), float("nan"), "55.5"),
    ],
)
def test_money_is_told_to_three_figures(value, low, high, told) -> None:
    assert money_range(value, low, high) == told


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        ({"trigger": {"kind": "counter", "count": 40}}, "No pig was caught"),
        pytest.param(
            {"population": {"immigration": 1.5}},
            "No removal stops the growth",
            marks=pytest.mark.slow,
        ),
        pytest.param(
            {"population": {"growth": -0.3, "immigration": 0.0}},
            "0 % of the pigs must",
            marks=pytest.mark.slow,
        ),
        pytest.param(
            {"population": {"growth": 6.0}}, "87 % of the pigs must", marks=pytest.mark.slow
        ),
    ],
)
def test_odd_properties_have_a_page(tables, told) -> None:
    result = season(from_table(BASE | tables), campaigns=40)
    assert told in " ".join(season_answer(result))
    page = season_page(result)
    assert "nan" not in re.sub(r"<script.*?</script>", "", render(page), flags=re.S).lower().split()
    for picture in page.pictures:
        assert_legible(picture.figure, picture.name)
    for table in page.tables:
        assert not any("nan" in cell for row in table.rows for cell in row)
