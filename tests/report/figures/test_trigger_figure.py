"""The pictures of triggers say what the model uses: heights, pushes, weights, counts."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from soundergate.mechanics.setup import solve
from soundergate.report.figures.triggers.of_trap import caption_of, file_stem, trigger_figures
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.unit_system import US
from soundergate.triggers import counter
from soundergate.triggers.line import line_work


def figures_of(name: str, **values: str):
    scenario = loads(examples.text(name), name)
    if values:
        scenario = with_values(scenario, {key.replace("__", "."): v for key, v in values.items()})
    return scenario, trigger_figures(scenario, solve(scenario), US)


@pytest.mark.parametrize(
    ("name", "kinds"),
    [("line", ["line"]), ("bucket", ["bait"]), ("watch", ["person"]),
     ("either", ["person", "line"]), ("many", ["person", "counter"]), ("curl", [])],
)  # fmt: skip
def test_each_part_of_the_trigger_has_its_picture(name: str, kinds: list[str]) -> None:
    _, drawn = figures_of(name)
    assert [name for name in drawn if not name.startswith("bait place")] == kinds
    assert ("bait place" in drawn) == (name != "curl")  # nobody runs out of one-way entrances
    assert len({file_stem(name) for name in drawn}) == len(drawn)
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
    backs = drawn["line"][0].axes[0]
    inches = [line.get_ydata()[0] for line in backs.lines if len(set(line.get_ydata())) == 1]
    assert any(math.isclose(y * 0.0254, work.height) for y in inches)


def test_a_container_pulls_less_as_it_empties_and_the_words_say_so() -> None:
    scenario, drawn = figures_of("bucket")
    pulls, pushes, able = drawn["bait"][0].axes
    weights = pulls.lines[0].get_ydata()
    assert all(a > b for a, b in pairwise(weights))
    needed = pushes.lines[0].get_ydata()
    assert needed == pytest.approx(scenario.trigger.friction.median * np.array(weights))
    assert all(a <= b for a, b in pairwise(able.lines[-1].get_ydata()))
    assert pulls.lines[0].get_xdata() == pytest.approx([40, 30, 20, 10, 0])
    pounds = (scenario.trigger.container + scenario.bait.mass) / 0.45359237
    assert weights[0] == pytest.approx(pounds)
    assert f"{pounds:.3g} lbf" in drawn["bait"][1]


def test_the_counter_drawn_is_the_counter_played() -> None:
    scenario, drawn = figures_of("many")
    trigger = scenario.trigger.parts[1]
    counts, releases = drawn["counter"][0].axes
    by = next(line for line in releases.lines if line.get_label() == "by then")
    for n, share in zip(by.get_xdata(), by.get_ydata(), strict=True):
        assert share == pytest.approx(100 * counter.released_by(trigger, int(n)))
    bars = [bar.get_height() for bar in releases.patches]
    assert sum(bars) == pytest.approx(100 * counter.released_by(trigger, scenario.animals))
    asked = [line.get_ydata()[0] for line in counts.lines if len(set(line.get_ydata())) == 1]
    assert asked == [10]
    mean = next(line for line in counts.lines if line.get_label() == "its mean")
    expected = (1 - trigger.miss + trigger.double) * np.array(mean.get_xdata())
    assert mean.get_ydata() == pytest.approx(expected)


def test_a_dwell_is_told() -> None:
    scenario = with_values(
        loads(examples.text("line"), "line"), {"trigger": {"kind": "counter", "dwell": "3 min"}}
    )
    figure, _ = trigger_figures(scenario, solve(scenario))["counter"]
    assert "180 s after its first count" in figure.axes[1].get_xlabel()


def test_the_count_waited_for_is_drawn() -> None:
    _, drawn = figures_of("watch")
    texts = [text.get_text() for text in drawn["person"][0].axes[1].texts]
    assert texts == ["waits for 12"]
    _, drawn = figures_of("many")
    texts = [text.get_text() for text in drawn["person"][0].axes[1].texts]
    assert texts == ["waits for 25"]  # 0.8 of 31
