"""Pictures of populations: labels whole and apart, the curve and the bands where they should be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shared.legible import assert_legible
from soundergate.report import style
from soundergate.scenario.planning import Population
from soundergate.seasons.population.outlook import Catch, Outlook, outlook
from soundergate.seasons.population.removal_share import AFTER, BEFORE, Timing


def made(timing: Timing = AFTER, campaigns: float = 4, **keys: Any) -> Outlook:
    """An invented property."""
    catch = Catch(8.2, 7.4, 9.0)
    return outlook(Population(**keys), 11, catch, campaigns, years=5, runs=200, timing=timing)


CASES: dict[str, dict[str, Any]] = {
    "the defaults": {},
    "arrivals first": {"timing": BEFORE, "growth": 1.0, "immigration": 0.4},
    "growth beyond the axis": {"growth": 4.0, "immigration": 2.0, "sounders": 1, "campaigns": 0},
    "numbers that fall": {"growth": -0.3, "immigration": 0.0},
    "as the advice": {"growth": 1.94, "immigration": 0.0, "campaigns": 20},
    "in the crowd": {"growth": 0.62, "immigration": 0.03},
    "many pigs": {"sounders": 5000, "campaigns": 300},
}


@pytest.mark.parametrize(
    ("name", "what"),
    [
        pytest.param(name, what, marks=[pytest.mark.slow] * ((i + j) % 2))  # every other one
        for i, name in enumerate(CASES)
        for j, what in enumerate(("share", "projection"))
    ],
)
def test_labels_are_whole_and_apart(name: str, what: str) -> None:
    assert_legible(made(**CASES[name]).plot(what=what).figure, least=4)


def words_of(axes: Any) -> list[str]:
    return [text.get_text() for text in axes.texts]


@pytest.mark.parametrize("arrivals", [0.0, 0.1, 0.3])
def test_a_published_figure_has_the_same_share_in_picture_and_table(arrivals: float) -> None:
    plan = made(immigration=arrivals)
    words = " ".join(words_of(plan.plot()))
    shown = plan.table.iloc[1:].query("growth_factor_high <= 3.2")
    assert len(shown) >= 4
    for share in (shown["share_low"] + shown["share_high"]) / 2:
        assert f", {100 * share:.0f} %" in words


def test_both_figures_and_the_own_setting_are_on_the_curve() -> None:
    axes = made(immigration=0.0).plot()
    words = words_of(axes)
    assert "Texas model: growth, 24 %" in words
    assert "Texas advice: share after births, 66 %" in words
    assert "Europe, summer pigs: share after births, from memory, 65 %" in words
    assert "this file, 24 %" in words
    other = made().plot()
    assert "this file, 32 %" in words_of(other)
    for drawn, points in (
        (made(immigration=0.0).plot(), [(1.32, 100 * 8 / 33), (50 / 17, 66)]),
        (other, [(1.32, 100 * (1 - 0.9 / 1.32)), (0.9 / 0.34, 66)]),
    ):
        marks = [np.ravel(line.get_xydata()) for line in drawn.lines if len(line.get_xdata()) == 1]
        for point in points:
            assert any(np.allclose(mark, point) for mark in marks)


def test_curves_differ_in_more_than_colour() -> None:
    curves = [line for line in made().plot().lines if len(line.get_xdata()) > 2]
    assert len(curves) == 4
    assert len({(line.get_linestyle(), line.get_marker()) for line in curves}) == 4


def test_what_is_off_the_axis_is_named_below_it() -> None:
    assert "not drawn: this file (growth factor 5)" in made(growth=4.0).plot().get_xlabel()
    assert "not drawn" not in made().plot().get_xlabel()


def test_the_medians_are_drawn_and_named() -> None:
    plan = made()
    axes = plan.plot(what="projection")
    for line, (name, one) in zip(axes.lines, plan.projections.items(), strict=True):
        np.testing.assert_array_equal(line.get_ydata(), one.quantiles[2])
        what = name.removesuffix(", over the ranges")
        growth = "as in the file" if what == name else "anywhere in its range"
        assert str(line.get_label()).startswith(f"{what}, growth {growth}: cleared")
    assert len({line.get_linestyle() for line in axes.lines}) == 4


def test_what_is_played_with_removal_is_played_without_it_at_the_same_growth() -> None:
    plays = set(made().projections)
    assert {name.replace("without", "with") for name in plays if "without" in name} == {
        name for name in plays if "without" not in name
    }


def test_one_projection_draws_into_axes_that_are_given() -> None:
    axes = style.new_figure(3.0).subplots()
    assert made().projections["with removal"].plot(axes) is axes
    assert axes.get_legend() is None
    assert "pigs" in axes.get_ylabel()
