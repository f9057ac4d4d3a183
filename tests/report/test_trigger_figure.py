"""The pictures of triggers say what the model uses: heights, pushes, weights, counts."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from soundergate.mechanics.setup import solve
from soundergate.report.trigger_figure import caption_of, trigger_figures
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values
from soundergate.triggers.line import deflection, line_work


def figures_of(name: str, **values: str):
    scenario = loads(examples.text(name), name)
    if values:
        scenario = with_values(scenario, {key.replace("__", "."): v for key, v in values.items()})
    return scenario, trigger_figures(scenario, solve(scenario), "us")


@pytest.mark.parametrize(
    ("name", "kinds"),
    [("line", ["line"]), ("bucket", ["bait"]), ("watch", ["person"]), ("twin", []),
     ("either", ["person", "line"])],
)  # fmt: skip
def test_each_part_of_the_trigger_has_its_picture(name: str, kinds: list[str]) -> None:
    _, drawn = figures_of(name)
    assert list(drawn) == kinds
    assert all(caption_of(kind) and words for kind, (_, words) in drawn.items())


def test_a_higher_line_is_touched_by_fewer() -> None:
    shares = []
    for height in ("12 in", "20 in", "26 in"):
        _, drawn = figures_of("line", trigger__height=height)
        words = drawn["line"][1]
        shares.append(float(words.split("%")[1].split()[-1]))  # juveniles, named second
    assert shares[0] > shares[1] > shares[2]


def test_the_line_drawn_is_the_line_played() -> None:
    scenario, drawn = figures_of("line")
    work = line_work(scenario.trigger, scenario, solve(scenario))
    backs = drawn["line"][0].axes[1]
    inches = [line.get_ydata()[0] for line in backs.lines if len(set(line.get_ydata())) == 1]
    assert any(math.isclose(y * 0.0254, work.height) for y in inches)


def test_a_container_pulls_less_as_it_empties_and_the_words_say_so() -> None:
    scenario, drawn = figures_of("bucket")
    weights = drawn["bait"][0].axes[0].lines[0].get_ydata()
    assert all(a > b for a, b in pairwise(weights))
    pounds = (scenario.trigger.container + scenario.bait.mass) / 0.45359237
    assert weights[0] == pytest.approx(pounds)
    assert f"{pounds:.3g} lbf" in drawn["bait"][1]


def test_deflection_is_the_inverse_of_travel() -> None:
    span, travel = 6.0, 0.05
    delta = deflection(span, travel)
    assert 2.0 * (math.hypot(span / 2.0, delta) - span / 2.0) == pytest.approx(travel)
