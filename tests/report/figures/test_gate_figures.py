"""What the pictures of gates say is what the mechanics say: times, marks, reasons, units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from soundergate.mechanics import setup
from soundergate.mechanics.advice import claims
from soundergate.mechanics.advice.claims_case import Case
from soundergate.mechanics.advice.pairs import Pairs, compare_pairs
from soundergate.mechanics.advice.sweep import WidthSweep, sweep_width
from soundergate.mechanics.advice.trade_off import TradeOff, both_ways
from soundergate.mechanics.clearance import clearances
from soundergate.mechanics.opening import OpeningSetup
from soundergate.report import style
from soundergate.report.figures.claims import claims_figure
from soundergate.report.figures.gate import closing_curves, force_bars, gate_figure
from soundergate.report.figures.pairs import pairs_figure
from soundergate.report.figures.trade_off import trade_off
from soundergate.report.figures.width import width_sweep
from soundergate.report.pages.subject import setup_cautions
from soundergate.scenario import examples, loads, with_values
from soundergate.scenario.schema import Scenario
from soundergate.scenario.unit_system import SI, US, Units

TRAP = """
title = "Invented: a gate to draw"
[sounder]
sows = 2
juveniles = 4
[[opening]]
width = "6 ft"
height = "3 ft"
gate = {kind = "drop", sheet = "12 gauge", channel_length = "5 ft"}
latch = {kind = "pin", puller = "solenoid", pull = "25 lbf", lever = 4, gap = "2.1 in"}
[trigger]
kind = "counter"
"""


@pytest.fixture(scope="module")
def trap() -> Scenario:
    return loads(TRAP)


@pytest.fixture(scope="module")
def opening(trap: Scenario) -> OpeningSetup:
    return setup.solve(trap).openings[0]


@pytest.fixture(scope="module")
def pairs(trap: Scenario) -> Pairs:
    return compare_pairs(trap)


@pytest.fixture(scope="module")
def traded(trap: Scenario) -> dict[str, TradeOff]:
    return both_ways(trap)


@pytest.fixture(scope="module")
def swept(trap: Scenario) -> WidthSweep:
    return sweep_width(trap)


def words(figure: Figure) -> list[str]:
    """All that is written on a figure."""
    found = [text.get_text() for text in figure.findobj(Text)]
    return [text for text in found if text.strip()]


def marks(ax: Axes, kind: str) -> Iterator[Any]:
    return (line for line in ax.lines if line.get_marker() == kind)


def test_a_dot_stands_where_each_body_no_longer_passes(
    trap: Scenario, opening: OpeningSetup
) -> None:
    bodies = clearances(trap)
    ax = closing_curves({"gate": opening.curve}, bodies, US)
    dots = {
        (float(x[0]), float(y[0])) for dot in marks(ax, "o") for x, y in [dot.get_data(orig=True)]
    }
    for name, needed in bodies.items():
        time = opening.curve.time_to(needed)
        assert any(
            x == pytest.approx(time) and y == pytest.approx(needed / 0.0254) for x, y in dots
        )
        said = next(text for text in words(ax.figure) if text.startswith(f"{name} needs"))
        assert f"{needed / 0.0254:.0f} in" in said
        assert f"passes until {time:.2f} s" in said
    assert ax.get_ylabel() == "clear height (in)"


def test_the_drawn_curve_is_the_solved_one_with_a_start_from_rest(opening: OpeningSetup) -> None:
    curve = opening.curve
    ax = closing_curves({"gate": curve}, units=SI)
    x, y = ax.lines[0].get_data()
    assert (np.diff(x) >= 0).all()
    assert (np.diff(y) <= 1e-9).all()
    drawn = np.interp(curve.time[::-1], x, y)
    np.testing.assert_allclose(drawn, 100 * curve.clear[::-1], rtol=1e-9, atol=1e-9)
    half = np.interp(0.5 * curve.time[-2], x, y)  # at half the time a quarter of the first piece
    first = 100 * (curve.clear[-1] - curve.clear[-2])
    assert 100 * curve.clear[-1] - half == pytest.approx(0.25 * first, rel=0.05)


def test_bars_of_the_pulls_are_as_long_as_the_pulls(opening: OpeningSetup) -> None:
    ax = force_bars({"": opening}, US)
    lengths = [patch.get_width() for patch in ax.patches]  # type: ignore[attr-defined]
    lbf = 4.4482216152605
    assert lengths == pytest.approx([opening.pull_required / lbf, opening.pull_available / lbf])
    said = " ".join(words(ax.figure))
    assert "needed 15.8 lbf" in said
    assert f"there {opening.pull_available / lbf:.1f} lbf" in said


@pytest.mark.parametrize("units", [US, SI])
def test_axes_name_the_units_that_they_are_in(
    units: Units, opening: OpeningSetup, traded: dict[str, TradeOff], swept: WidthSweep
) -> None:
    drawn = [
        *gate_figure(opening, units=units).axes,
        trade_off(traded, units),
        *width_sweep(swept, units).axes,
    ]
    labels = [text for ax in drawn for text in (ax.get_xlabel(), ax.get_ylabel())]
    found = {end[1] for label in labels if (end := re.search(r"\((.*)\)$", label))}
    known = (units.forces, units.heights, units.lengths, units.masses)
    assert found == {unit.sign for unit in known} | {"s", "%"}


def test_the_sketch_is_to_scale_and_in_feet(opening: OpeningSetup) -> None:
    figure = gate_figure(opening, units=US)
    sketch = figure.axes[0]
    assert sketch.get_aspect() == 1.0
    panels = [p for p in sketch.patches if isinstance(p, Rectangle)]
    steel = next(p for p in panels if to_hex(p.get_facecolor()) == style.PALE_BLUE)
    assert (steel.get_width(), steel.get_height()) == pytest.approx((6 * 0.3048, 3 * 0.3048))
    channels = [p for p in panels if to_hex(p.get_facecolor()) == style.GREY]
    assert [p.get_height() for p in channels] == pytest.approx([5 * 0.3048] * 2)
    said = words(figure)
    for text in ("6 ft", "3 ft", "channel 5 ft", "weight 78.8 lb"):
        assert text in said
    assert any("pin holds 78.8 lbf" in text for text in said)


def test_every_pair_has_a_cell_with_its_time_or_its_reason(pairs: Pairs) -> None:
    figure = pairs_figure(pairs)
    said = [" ".join(text.split()) for text in words(figure)]
    feasible = [pair for pair in pairs.pairs if pair.feasible]
    assert 0 < len(feasible) < len(pairs.pairs)
    times = sorted(text for text in said if text.endswith(" s") and text[0].isdigit())
    assert times == sorted(f"{pair.juvenile_time:.2f} s" for pair in feasible)
    for pair in pairs.pairs:
        if not pair.feasible:
            assert f"No: {pair.why}" in said
    frames = [p for p in figure.axes[0].patches if p.get_linewidth() > 2.0]
    assert len(frames) == 1  # that of the soonest


def test_bars_of_pairs_share_one_scale(pairs: Pairs) -> None:
    figure = pairs_figure(pairs)
    bars = [p for p in figure.axes[0].patches if isinstance(p, Rectangle) and p.get_height() < 0.2]
    feasible = [pair for pair in pairs.pairs if pair.feasible]
    assert len(bars) == 3 * len(feasible)
    whole = [sum(b.get_width() for b in bars[k : k + 3]) for k in range(0, len(bars), 3)]
    scale = max(pair.shut_time for pair in feasible)
    assert whole == pytest.approx([0.9 * pair.shut_time / scale for pair in feasible])


def test_no_pair_that_will_do_is_said(pairs: Pairs) -> None:
    none = Pairs(tuple(pair for pair in pairs.pairs if not pair.feasible))
    assert "No pair can be relied on with this puller." in words(pairs_figure(none))


def test_marks_of_the_trade_off_tell_what_can_be_relied_on(traded: dict[str, TradeOff]) -> None:
    ax = trade_off(traded, US)
    for kind, sign in (("top-hinged", "o"), ("drop", "s")):
        swept = traded[kind]
        good, drawn = swept.relied_on(), swept.shuts()
        lines = [line for line in marks(ax, sign) if line.get_markersize() < 10]
        open_marks = [line for line in lines if line.get_markerfacecolor() == style.PAPER]
        filled = [line for line in lines if line.get_markerfacecolor() != style.PAPER]
        assert sum(len(line.get_xdata()) for line in filled) == good.sum()
        assert sum(len(line.get_xdata()) for line in open_marks) == (drawn & ~good).sum()
        assert any("Not drawn" in text for text in words(ax.figure)) == (
            not all(t.shuts().all() for t in traded.values())
        )


def test_the_files_own_gate_is_ringed(traded: dict[str, TradeOff]) -> None:
    ax = trade_off(traded, US)
    (ring,) = (line for line in ax.lines if line.get_markersize() > 10)
    drop = traded["drop"]
    assert float(ring.get_xdata()[0]) == pytest.approx(drop.shut_time[0])
    assert float(ring.get_ydata()[0]) == pytest.approx(drop.holding_load[0] / 4.4482216152605)
    assert "no counterweight (this gate)" in words(ax.figure)
    assert ax.get_ylabel() == "load on the latch (lbf)"
    assert "until it is shut (s)" in ax.get_xlabel()


def test_the_width_picture_names_the_widest_that_will_do(swept: WidthSweep) -> None:
    figure = width_sweep(swept, US, own=6 * 0.3048)
    widest = swept.widest()
    assert widest is not None
    title = figure.axes[0].get_title(loc="left")
    assert f"up to {widest / 0.3048:.0f} ft wide" in title
    assert "Dotted: this opening." in title
    labels = [ax.get_ylabel().replace("\n", " ") for ax in figure.axes]
    assert labels == [
        "mass of the gate (lb)",
        "load on the latch (lbf)",
        "typical pull (lbf)",
        "margin: there / needed",
        "share of tries (%)",
        "moving until shut (s)",
    ]
    masses = figure.axes[0].lines[0].get_ydata()
    assert masses == pytest.approx(swept.mass / 0.45359237)


def test_every_claim_and_part_stands_on_the_sheet(trap: Scenario) -> None:
    case = Case.of(trap)
    verdicts = claims.examine(case)
    said = " ".join(words(claims_figure(verdicts, US, case.text()))).replace("  ", " ")
    said = " ".join(said.split())
    for verdict in verdicts:
        assert f"{verdict.claim}: {verdict.verdict}" in said
        for part, good in verdict.checks.items():
            assert f"{'+' if good else '−'} {part}" in said
    assert "gates 6.0 ft wide and 3.0 ft high of 12 gauge sheet" in said
    assert "common practice, no source" in said


def test_cautions_of_a_page_speak_its_units(trap: Scenario) -> None:
    solved = setup.solve(trap)
    us, metric = (" ".join(setup_cautions([solved, None], name)) for name in (US, SI))
    assert "lift by hand (51 lb in the best posture)" in us
    assert "lift by hand (23 kg in the best posture)" in metric
    assert "kg" not in us


def test_a_full_container_is_named_as_what_pulls() -> None:
    scenario = loads(examples.text("bucket"), "bucket")
    (solved,) = setup.solve(scenario).openings
    said = [text.get_text() for text in force_bars({"": solved}, US).texts]
    assert any("the container pulls" in words and "when it is full" in words for words in said)


def test_a_latch_that_needs_no_pull_shows_no_margin() -> None:
    scenario = with_values(loads(examples.text("line"), "line"), {"opening.latch.friction": 0.0})
    (solved,) = setup.solve(scenario).openings
    said = " ".join(text.get_text() for text in force_bars({"": solved}, US).texts)
    assert "needs no pull" in said
    assert "nan" not in said
    assert "inf" not in said


def test_a_level_plate_starts_from_rest() -> None:
    """The first of its curve is a motion from rest, not a straight piece."""
    (solved,) = setup.solve(loads(examples.text("swing"), "swing")).openings
    curve, line = solved.curve, closing_curves({"gate": solved.curve}).lines[0]
    half = np.interp(0.5 * curve.time[-2], line.get_xdata(), line.get_ydata()) * 0.01
    first = curve.height - curve.clear[-2]
    assert curve.height - half == pytest.approx(0.25 * first, rel=0.02)


def test_a_width_that_cannot_be_built_is_crossed_out_and_said() -> None:
    scenario = with_values(
        loads(TRAP), {"opening.gate": {"kind": "drop", "mass": "30 kg", "counterweight": "10 kg"}}
    )
    swept = sweep_width(scenario, [1.0, 2.0])
    assert "cannot be built" not in width_sweep(swept, US).axes[0].get_title(loc="left")
    sheet = {"kind": "drop", "sheet": "14 gauge", "counterweight": "30 lb"}
    swept = sweep_width(with_values(scenario, {"opening.gate": sheet}), [0.6, 1.8])
    figure = width_sweep(swept, US)
    assert "cannot be built" in figure.axes[0].get_title(loc="left")
