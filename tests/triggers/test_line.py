"""Statics of a trip line: sag, travel, tension, bends, and what the engines read of it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.setup import solve
from soundergate.triggers import line as lines

BY_PIGS = {"kind": "pin", "puller": "animal"}
BY_AIR = {"kind": "pin", "puller": "air cylinder"}
WAY = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture
def scenario(scenario_of):
    def made(latch=BY_AIR, ways=1, **line):
        ways = [{**WAY, "latch": latch, "bait_distance": f"{5 + j} m"} for j in range(ways)]
        return scenario_of(
            {
                "sounder": {"sows": 2},
                "corral": {"diameter": "8 m"},
                "opening": ways,
                "trigger": {"kind": "line", **line},
            }
        )

    return made


# ---- sag -----------------------------------------------------------------------------------


def test_sag_is_the_parabola(scenario) -> None:
    line = scenario(span="6 m", weight="5 g/m", tension="20 N", height="50 cm").trigger
    assert lines.sag(line) == pytest.approx(0.005 * 9.80665 * 36 / (8 * 20), rel=1e-12)
    assert lines.height_at_middle(line) == pytest.approx(0.5 - lines.sag(line), rel=1e-12)


def test_sag_is_close_to_the_catenary(scenario) -> None:
    """A hanging line is a catenary with parameter T0 / w (any statics text); while the sag is
    small against the span the parabola differs from it by its square only."""
    line = scenario(span="6 m", weight="20 g/m", tension="10 N").trigger
    a = 10.0 / (0.020 * 9.80665)
    catenary = a * (math.cosh(3.0 / a) - 1.0)
    assert lines.sag(line) == pytest.approx(catenary, rel=(catenary / 6.0) ** 2 * 2)


def test_a_light_or_tight_line_hangs_where_it_is_tied(scenario) -> None:
    assert lines.sag(scenario(weight="0 g/m").trigger) == 0.0
    tight, slack = scenario(tension="50 lbf").trigger, scenario(tension="1 lbf").trigger
    assert lines.sag(slack) == pytest.approx(50 * lines.sag(tight), rel=1e-12)


# ---- travel and force ----------------------------------------------------------------------

spans = st.floats(0.2, 20.0)


@given(spans, st.floats(1e-3, 3.0))
def test_travel_and_deflection_are_inverse(span, delta) -> None:
    travel = lines.end_travel(span, delta)
    assert lines.deflection(span, travel) == pytest.approx(delta, rel=1e-6)


@given(spans, st.floats(1e-3, 3.0))
def test_travel_is_what_the_bent_line_is_longer(span, delta) -> None:
    half = math.sqrt((span / 2) ** 2 + delta**2)
    assert lines.end_travel(span, delta) == pytest.approx(2 * half - span, rel=1e-9, abs=1e-12)


@given(spans, st.floats(1e-3, 3.0))
def test_a_small_push_moves_little_line(span, delta) -> None:
    """To first order the ends give 2 delta^2 / span, and never more."""
    small = 2 * delta * delta / span
    assert lines.end_travel(span, delta) <= small * (1 + 1e-6) + 1e-12


@given(st.floats(1.0, 8.0), st.floats(1.0, 500.0), st.floats(1e-3, 0.1))
def test_push_and_tension_balance_at_the_middle(span, pull, travel) -> None:
    """P = 2 T sin(alpha), with tan(alpha) = 2 delta / span, on a line that neither stretches nor
    hangs slack nor rubs."""
    line = made_line(span=span)
    delta = lines.deflection(span, travel + pull / line.stiffness)
    alpha = math.atan(2 * delta / span)
    assert lines.push_needed(line, pull, travel) == pytest.approx(
        2 * pull * math.sin(alpha), rel=1e-9
    )


def made_line(**values):
    """A line with every spoiler taken out but those given."""
    from types import SimpleNamespace

    from soundergate.scenario.distributions import Spread

    plain = {"span": 5.0, "slack": 0.0, "stiffness": 1e12, "bends": 0, "bend_angle": 0.0,
             "friction": Spread.of(0.0)}  # fmt: skip
    return SimpleNamespace(**{**plain, **values})


@given(st.floats(1.0, 500.0), st.floats(1e-3, 0.1))
def test_a_longer_span_multiplies_the_force(pull, travel) -> None:
    pushes = [lines.push_needed(made_line(span=s), pull, travel) for s in (1.0, 2.0, 4.0, 8.0)]
    assert pushes == sorted(pushes, reverse=True)


@given(st.floats(1.0, 500.0), st.floats(1e-3, 0.1), st.floats(0.001, 0.2))
def test_slack_stretch_and_bends_all_ask_for_more(pull, travel, slack) -> None:
    plain = lines.push_needed(made_line(), pull, travel)
    from soundergate.scenario.distributions import Spread

    for worse in ({"slack": slack}, {"stiffness": 2000.0},
                  {"bends": 2, "bend_angle": 1.5, "friction": Spread.of(0.3)}):  # fmt: skip
        assert lines.push_needed(made_line(**worse), pull, travel) > plain


def test_bends_lose_as_the_capstan_equation_says(scenario) -> None:
    line = scenario(bends=3, bend_angle="90 deg", friction=0.2).trigger
    assert lines.capstan(line) == pytest.approx(math.exp(-0.2 * 3 * math.pi / 2), rel=1e-12)
    assert lines.capstan(scenario(bends=0).trigger) == 1.0
    halves = scenario(bends=6, bend_angle="45 deg", friction=0.2).trigger
    assert lines.capstan(halves) == pytest.approx(lines.capstan(line), rel=1e-12)


# ---- what the engines read -----------------------------------------------------------------


def test_before_and_beyond_the_bait(scenario) -> None:
    before = scenario(distance="3 m")
    work = lines.line_work(before.trigger, before, solve(before))
    assert work.share == pytest.approx(0.6, rel=1e-12)
    assert not work.beyond
    at_the_bait = scenario(distance="5 m")
    assert lines.line_work(at_the_bait.trigger, at_the_bait, solve(at_the_bait)).beyond


def test_the_farthest_opening_decides_what_is_beyond(scenario) -> None:
    two = scenario(distance="5.5 m", ways=2)  # bait 5 m from one opening, 6 m from the other
    work = lines.line_work(two.trigger, two, solve(two))
    assert not work.beyond
    assert work.share == pytest.approx(5.5 / 6.0, rel=1e-12)


def test_a_powered_latch_needs_only_a_switch(scenario) -> None:
    given_ = scenario(switch_force="3 lbf")
    work = lines.line_work(given_.trigger, given_, solve(given_))
    assert work.switch
    assert lines.row(given_.trigger, given_, solve(given_))["LINE_SWITCH"] == pytest.approx(
        3 * 4.4482216152605, rel=1e-12
    )


def test_an_animal_pulls_the_latch_itself(scenario) -> None:
    """The gain is the latch's pull over the push that gives it."""
    given_ = scenario(latch=BY_PIGS)
    setup = solve(given_)
    work = lines.line_work(given_.trigger, given_, setup)
    need, travel = setup.openings[0].pull_required, setup.openings[0].trip_travel
    assert not work.switch
    assert work.gain * lines.push_needed(given_.trigger, need, travel) == pytest.approx(need)
    assert lines.row(given_.trigger, given_, setup)["LINE_SWITCH"] == -1.0


def test_the_hardest_latch_sets_the_line(scenario, scenario_of) -> None:
    one = scenario(latch=BY_PIGS)
    ways = [{**WAY, "latch": {**BY_PIGS, "lever": ratio}} for ratio in (1, 4)]
    two = scenario_of(one.raw, opening=ways)
    setup = solve(two)
    need = max(o.pull_required for o in setup.openings)
    travel = max(o.trip_travel for o in setup.openings)
    work = lines.line_work(two.trigger, two, setup)
    assert work.gain == pytest.approx(need / lines.push_needed(two.trigger, need, travel))


def test_it_breaks_at_the_latch_end_of_its_bends(scenario) -> None:
    given_ = scenario(break_force="100 lbf", bends=2, bend_angle="90 deg", friction=0.3)
    work = lines.line_work(given_.trigger, given_, solve(given_))
    assert work.break_force == pytest.approx(100 * 4.4482216152605 * math.exp(-0.3 * math.pi))
