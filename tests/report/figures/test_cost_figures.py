"""Pictures of costs: legible, true to their figures, and telling nothing by colour alone."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_hex

from shared import campaigns
from shared.campaigns import PRICES as INVENTED
from shared.legible import assert_legible
from soundergate.report import style
from soundergate.report.figures import costs as cost_figures
from soundergate.report.figures.costs import PART_FILLS, cost_parts
from soundergate.scenario.planning import Costs
from soundergate.seasons.money.break_even import CostedSetup, break_even_value
from soundergate.seasons.money.cost_summary import CostSummary, cost_summary
from soundergate.seasons.money.costs import PARTS, PRICES
from soundergate.seasons.money.price_surface import Axis, break_even_surface

COSTS = INVENTED | {"currency": "$"}
make = functools.partial(campaigns.make, n=150, seed=3)
LONG = "a doubled opening with two top-hinged gates and a person on the link"


def pair(first: float = 0.5, second: float = 0.75, name: str = "remote") -> Any:
    dear = Costs(equipment=4200, data_plan=30, **COSTS)
    return (
        CostedSetup("line", Costs(equipment=900, **COSTS), make(first)),
        CostedSetup(name, dear, make(second, watch=15.0)),
    )


def held() -> Any:
    """The dear one pays an hour of watching as it says, whatever the wage."""
    line, remote = pair(name=LONG)
    costs = remote.costs.model_copy(update={"watch_wage": 25.0})
    return line, dataclasses.replace(remote, costs=costs)


def equal() -> Any:
    """Two setups that catch the same, one of them dearer."""
    line, _ = pair()
    costs = line.costs.model_copy(update={"trip": 30.0})
    return line, dataclasses.replace(line, label=LONG, costs=costs)


def alarmed() -> CostSummary:
    """Every part of the cost takes place."""
    campaigns = dataclasses.replace(make(0.5, watch=15.0), alarm=np.ones(150, bool))
    prices = {"equipment": 900, "data_plan": 30, "alarm": 300, "alarm_plan": 5}
    return cost_summary(Costs(**prices, **COSTS), campaigns, LONG)


def summaries(name: str = "remote") -> list[CostSummary]:
    return [cost_summary(s.costs, s.campaigns, s.label) for s in pair(name=name)]


def odd() -> list[CostSummary]:
    """Few campaigns of a poor trap with half its costs, and a trap that catches nothing."""
    rare = cost_summary(Costs(trip=15, currency="$"), make(0.04, n=10), LONG)
    empty = make(0.0)
    return [rare, cost_summary(Costs(**COSTS), empty, "nothing caught"), summaries()[0]]


DRAWN: dict[str, Callable[[], Any]] = {
    "one": lambda: cost_parts(summaries()[:1]),
    "two": lambda: cost_parts(summaries(LONG)),
    "odd": lambda: cost_parts(odd()),
    "life": lambda: break_even_surface(
        *pair(), "equipment_campaigns", Axis("equipment", of="remote")
    ).plot(),
    "life up": lambda: break_even_surface(
        *pair(name=LONG), Axis("equipment", of=LONG), "equipment_campaigns"
    ).plot(),
    "net": lambda: break_even_surface(
        *pair(), Axis("damage_per_pig", tuple(range(0, 161, 4))), "wage", "net_per_campaign"
    ).plot(),
    "one side": lambda: break_even_surface(*pair(), "wage", "trip").plot(),
    "held": lambda: break_even_surface(*held(), "wage", "trip").plot(),
    "alarm": lambda: cost_parts([alarmed()]),
    "value equal": lambda: break_even_value(*equal()).plot(),
    "unsettled": lambda: break_even_surface(*pair(0.55, 0.65), "wage", "data_plan").plot(),
    "value": lambda: break_even_value(*pair()).plot(),
    "value unclear": lambda: break_even_value(*pair(0.5, 0.5, LONG)).plot(),
}


SLOW = {"one", "life", "value", "one side"}
"""The same drawings as of other cases, with less on them."""


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.slow) if n in SLOW else n for n in DRAWN]
)
def test_labels_are_whole_apart_and_have_units(name: str) -> None:
    assert_legible(DRAWN[name]().figure)


def words(ax: Any) -> list[str]:
    return [text.get_text() for text in ax.texts]


def test_a_bar_is_as_long_as_the_cost_per_pig() -> None:
    told = summaries()
    ax = cost_parts(told)
    for row, summary in enumerate(told):
        bars = [b for b in ax.patches if abs(b.get_y() + b.get_height() / 2 + row) < 1e-9]
        assert len(bars) == sum(value > 0 for value in summary.money.values())
        assert sum(b.get_width() for b in bars) == pytest.approx(summary["cost_per_pig"].estimate)
        line = ax.lines[row].get_xdata()
        assert list(line) == [summary["cost_per_pig"].low, summary["cost_per_pig"].high]
    assert ax.get_xlabel() == "cost per pig caught ($ a pig)"
    assert not any("not counted" in text for text in words(ax))
    part = cost_summary(Costs(**COSTS | {"bait": None}), make(0.5), "line")
    assert "not counted: bait, equipment" in words(cost_parts([part]))


def test_every_part_has_a_look_of_its_own() -> None:
    assert list(PART_FILLS) == [part.name for part in PARTS]
    assert len({(fill.colour, fill.hatch) for fill in PART_FILLS.values()}) == len(PARTS)
    neighbours = list(PART_FILLS.values())
    for one, other in pairwise(neighbours):
        assert (one.hatch != other.hatch) or _lightness(one.colour) != _lightness(other.colour)
    assert set(cost_figures._WORDS) == {f"costs.{key}" for key in PRICES}


def _lightness(colour: str) -> int:
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return round((0.3 * red + 0.59 * green + 0.11 * blue) / 25)


def test_what_cannot_be_drawn_is_said() -> None:
    ax = cost_parts(odd())
    assert "no cost per pig: no pig was caught" in words(ax)
    assert any("no upper limit" in text for text in words(ax))
    for bad in ([], [summaries()[0], dataclasses.replace(summaries()[1], currency="EUR")]):
        with pytest.raises(ValueError, match="all in one currency"):
            cost_parts(bad)


def test_without_a_currency_axes_say_money() -> None:
    bare = [dataclasses.replace(s, costs=s.costs.model_copy(update={"currency": ""}))
            for s in pair()]  # fmt: skip
    ax = break_even_surface(*bare, "wage", "trip").plot()
    assert ax.get_xlabel() == "wage (money an hour)"
    assert "(thin lines, money a pig)" in ax.get_title(loc="left")


def test_the_map_names_the_cheaper_side_on_each_side() -> None:
    """Words stand where they are true, the own point where the file's prices are."""
    found = break_even_surface(*pair(), "equipment_campaigns", Axis("equipment", of="remote"))
    ax = found.plot()
    for label, ahead in zip(found.labels, (True, False), strict=True):
        (text,) = [t for t in ax.texts if t.get_text() == f"{label}\ncheaper"]
        x, y = text.get_position()
        row, column = np.argmin(np.abs(found.y - y)), np.argmin(np.abs(found.x - x))
        assert found.first_ahead[row, column] == ahead
        fill = ax.collections[0]
        (colour,) = [
            to_hex(face)
            for path, face in zip(fill.get_paths(), fill.get_facecolor(), strict=True)
            if path.contains_point((x, y))
        ]
        assert colour == (style.PALE_BLUE if ahead else style.PALE_ORANGE)
    (own,) = [line for line in ax.lines if line.get_marker() == "X"]
    assert (own.get_xdata()[0], own.get_ydata()[0]) == (40, 4200)
    (line,) = [line for line in ax.lines if len(line.get_xdata()) > 2]
    assert np.allclose(np.column_stack(line.get_data()), found.line)
    assert "equal" in words(ax)
    one_side = break_even_surface(*pair(0.4, 0.95), "wage", "trip").plot()
    assert "equal" not in words(one_side)
    assert not any(text.startswith("line\n") for text in words(one_side))


def test_given_axes_are_drawn_on() -> None:
    with style.sheet():
        ax = style.new_figure(3.0).subplots()
    assert summaries()[0].plot(ax) is ax
    assert break_even_value(*pair()).plot(ax) is ax


def test_a_map_says_that_the_wage_of_watching_is_held() -> None:
    title = " ".join(_title(break_even_surface(*held(), "wage", "trip").plot()).split())
    assert f"An hour of watching stays at what is stated, 25.00 $ in {LONG}" in title
    assert "watching" not in _title(break_even_surface(*pair(), "wage", "trip").plot())


def _title(ax: Any) -> str:
    return "".join(ax.get_title(loc) for loc in ("left", "center", "right"))
