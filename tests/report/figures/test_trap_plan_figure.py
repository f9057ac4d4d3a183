"""The plan of a trap: to scale, labels apart, and in words what it shows."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.patches import Circle
from matplotlib.text import Annotation

from shared.legible import assert_legible, texts
from shared.tiers import few_first
from soundergate.engine.trace.one_night import trace_night
from soundergate.report.figures.trap_plan import caption, trap_plan
from soundergate.report.pages.inline_svg import inline_svg
from soundergate.report.pages.subject import units_of
from soundergate.report.words.plan_words import bait_from, plan_words
from soundergate.scenario import examples, places
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.schema import Scenario
from soundergate.scenario.unit_system import SI, US

GATE = {"kind": "side-hinged"}
BAR = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}
PATCHES = [
    {"distance": "4 ft"},
    {"distance": "20 ft", "share": 2},
    {"distance": "12 ft", "aside": "6 ft", "radius": "1 ft"},
]
ODD: dict[str, tuple[str, Mapping[str, Any]]] = {
    "three patches": ("leaf", {"bait.patch": PATCHES}),
    "a line close to the bait": ("line", {"trigger.distance": "18.2 ft", "trigger.span": "3 ft"}),
    "a line from fence to fence": (
        "line",
        {"trigger": {"kind": "line", "between": ["100 deg", "240 deg"]}},
    ),
    "from the right": ("twin", {"arrival.bearing": "90 deg", "arrival.bearing_scatter": "150 deg"}),
    "from behind": ("watch", {"arrival.bearing": "180 deg", "arrival.bearing_scatter": "0 deg"}),
    "an opening at the right": ("watch", {"opening.1.bearing": "90 deg"}),
    "an opening at the foot": ("line", {"opening.1.bearing": "180 deg"}),
    "one leaf": ("line", {"opening.1.gate": GATE}),
    "twelve openings": ("line", {"opening": [BAR] * 12}),
    "two close together": (
        "line",
        {"opening": [BAR | {"bearing": "350 deg"}, BAR | {"bearing": "8.5 deg"}]},
    ),
    "a small pen": ("line", {"corral.diameter": "3 m", "corral.bait_distance": "2 m",
                             "trigger.distance": "2.5 m", "opening.width": "1 m"}),
    "a large one": ("line", {"corral.diameter": "180 ft", "trigger.distance": "100 ft"}),
}  # fmt: skip


def trap(name: str) -> Scenario:
    example, values = ODD.get(name, (name, {}))
    scenario = loads(examples.text(example), example)
    return with_values(scenario, values) if values else scenario


SHIPPED = sorted({*examples.names()} - {"weeks"})


FIRST = ["three patches", "two close together"]
"""Odd traps of the first tier; the rest is of the second."""


@pytest.mark.parametrize(
    "name",
    [
        *few_first(SHIPPED),
        *FIRST,
        *(pytest.param(n, marks=pytest.mark.slow) for n in ODD if n not in FIRST),
    ],
)
def test_labels_are_whole_and_apart(name: str) -> None:
    scenario = trap(name)
    assert_legible(trap_plan(scenario, units_of(scenario)), name, least=5)


def plan_of(scenario: Scenario) -> Axes:
    return trap_plan(scenario, US).axes[0]


@pytest.mark.parametrize("name", ["line", "twin", "three patches", "a small pen", "from behind"])
def test_it_is_to_scale(name: str) -> None:
    """A metre is as long along as across, and things stand where the scenario has them."""
    scenario = trap(name)
    figure = trap_plan(scenario, US)
    figure.canvas.draw()
    ax = figure.axes[0]
    box = ax.get_window_extent()
    across = box.width / np.ptp(ax.get_xlim())
    assert across == pytest.approx(box.height / np.ptp(ax.get_ylim()), rel=1e-6)
    drawn = [p for p in ax.patches if isinstance(p, Circle)]
    wanted = places.patches(scenario)
    assert [p.center for p in drawn] == [pytest.approx(p.middle) for p in wanted]
    assert [p.radius for p in drawn] == [pytest.approx(p.radius) for p in wanted]
    fence = ax.lines[0].get_xydata()
    assert np.hypot(*fence.T) == pytest.approx(scenario.corral.diameter / 2.0)
    for line in places.lines(scenario):
        ends = np.array(places.line_ends(line, scenario))
        assert any(
            piece.get_xydata().shape == (2, 2) and np.allclose(piece.get_xydata(), ends)
            for piece in ax.lines
        )


def test_distances_are_told_beside_it() -> None:
    told = [words for words, _ in texts(trap_plan(trap("line"), US))]
    assert {"bait 18 ft", "line 22 ft", "far side 26 ft"} <= {*told}
    assert "trip line: 22 ft from opening 1, 18.8 ft long" in told
    metric = [words for words, _ in texts(trap_plan(trap("line"), SI))]
    assert not any(" ft" in words for words in metric)
    assert any(words.endswith(" m") for words in metric)


def test_what_stands_there_decides_what_is_told() -> None:
    for name, camera in (("watch", True), ("either", True), ("line", False), ("twin", False)):
        told = [words for words, _ in texts(trap_plan(trap(name), US))]
        assert ("camera" in told) == camera
        assert ("camera" in plan_words(trap(name), US)) == camera
        assert any("trip line" in words for words in told) == (name in ("either", "line"))
    assert "openings at 0 deg, 180 deg; 1: drop gate, 6 ft wide; 2: drop gate" in plan_words(
        trap("watch"), US
    ).replace("Openings", "openings")


def test_the_arrow_points_from_where_the_sounder_comes() -> None:
    for degrees in (0, 90, 200):
        scenario = with_values(trap("line"), {"arrival.bearing": f"{degrees} deg"})
        (arrow,) = [t for t in plan_of(scenario).texts if isinstance(t, Annotation)]
        x, y = arrow.xyann
        assert math.degrees(math.atan2(x, y)) % 360 == pytest.approx(degrees)
        assert math.hypot(x, y) > math.hypot(*arrow.xy) > scenario.corral.diameter / 2.0


def test_a_single_leaf_hangs_where_the_replay_has_it() -> None:
    from soundergate.engine.trace.trace import Trace
    from soundergate.engine.trace.trace_parts import TraceCorral, TraceOpening
    from soundergate.report.replay.gates import leaves_of
    from soundergate.report.replay.ground import ground

    scenario = with_values(trap("one leaf"), {"opening.1.bearing": "30 deg"})
    opening = scenario.opening[0]
    shape = TraceOpening(opening.bearing, opening.width, 0.9, "side-hinged", "gap", 1,
                         opening.gate.set_angle)  # fmt: skip
    trace = Trace((), TraceCorral(scenario.corral.diameter, (shape,), ()))
    (leaf,) = leaves_of(trace, 0, ground(trace.corral).mouths[0], 0.0)
    turn = math.radians(leaf["turn"])
    hinge = (leaf["x"], -leaf["y"])
    edge = (hinge[0] + leaf["width"] * math.cos(turn), hinge[1] - leaf["width"] * math.sin(turn))
    pieces = [line.get_xydata() for line in plan_of(scenario).lines if line.get_linewidth() == 3.2]
    assert len(pieces) == 1
    assert math.dist(pieces[0][0], hinge) < 0.05  # the posts of one stand on the round of the fence
    assert math.dist(pieces[0][1], edge) < 0.15
    assert math.hypot(*edge) > scenario.corral.diameter / 2.0


def test_bait_is_as_far_from_each_opening_as_the_plan_has_it() -> None:
    scenario = trap("twin")
    assert bait_from(scenario, 0) == pytest.approx(scenario.corral.bait_distance)
    assert bait_from(scenario, 1) == pytest.approx(
        scenario.corral.diameter - scenario.corral.bait_distance
    )


def test_it_stands_first_on_the_pages_of_a_run_and_of_a_night() -> None:
    from shared.results import from_outcomes
    from soundergate.engine.outcomes import Outcomes
    from soundergate.report.pages.night import night_page
    from soundergate.report.pages.run import run_page

    scenario = trap("line")
    of_run = run_page(from_outcomes(Outcomes.empty(0), scenario=scenario))
    of_night = night_page(trace_night(scenario, 1, 1), scenario)
    for page in (of_run, of_night):
        first = page.pictures[0]
        assert first.name == "plan"
        assert first.alt == plan_words(scenario, US)
        assert 'class="figure narrow"' in inline_svg(first.figure, "one", first.alt)
        assert 'class="figure narrow"' not in inline_svg(page.pictures[1].figure, "other", "")


@pytest.mark.parametrize("name", sorted(examples.names()))
def test_a_one_way_gate_is_told_from_one_that_is_released(name: str) -> None:
    """In the drawing, its key, the words for those who cannot see it and the sentence below."""
    scenario = trap(name)
    one_way = [opening.gate.one_way for opening in scenario.opening]
    figure = trap_plan(scenario, SI)
    marks = [line for line in figure.axes[0].lines if type(line.get_marker()).__name__ != "str"]
    near = [
        line
        for line in marks
        if any(
            math.dist((line.get_xdata()[0], line.get_ydata()[0]), at) < 0.2
            for at, pushed in zip(places.openings(scenario), one_way, strict=True)
            if pushed
        )
    ]
    assert len(near) == sum(one_way)
    key = " ".join(text.get_text() for text in figure.legends[0].get_texts()).replace("\n", " ")
    for told in (key, plan_words(scenario, SI)):
        assert ("one-way, hangs shut" in told) == any(one_way)
    assert ("drawn open" in caption(scenario)) == (not all(one_way))
    assert ("hangs shut" in caption(scenario)) == any(one_way)
