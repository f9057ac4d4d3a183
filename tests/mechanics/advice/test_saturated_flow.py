"""The saturated flow that `check` prints, against bodies that really queue."""

from __future__ import annotations

import pytest

from soundergate.engine.trace.one_night import trace_night
from soundergate.mechanics.advice import saturated_flow as flow
from soundergate.mechanics.advice.check import check

ALIKE = {"sow": {"fixed": "70 kg"}, "juvenile": {"fixed": "30 kg"}, "piglet": {"fixed": "9 kg"}}


def crowd(width: str, **more: object) -> dict[str, object]:
    """Forty like animals that all want in at once, and no gate that moves."""
    return {
        "sounder": {"juveniles": 40, "mass": ALIKE},
        "corral": {"diameter": "30 m", "space_per_pig": "0 m^2"},
        "body": {"shoulder_scatter": 0},
        "opening": [{"width": width, "height": "6 ft", "gate": {"kind": "drop"}}],
        "trigger": {"kind": "counter", "count": 100},
        "arrival": {"first": {"fixed": "10 s"}, "offset": "0 s", "spread": "0 s"},
        "entry": {"clock": "0 s", "shy_share": 0, "frailty_cv": 0, "leaderless": 1},
        "leaving": {"clock": "never"},
        "movement": {"headway": {"fixed": "1 s"}, "dwell": "0 s"},
        "visit": {"patience": "never"},
        **more,
    }


@pytest.mark.parametrize(
    "width",
    ["0.7 m", *(pytest.param(w, marks=pytest.mark.slow) for w in ("0.4 m", "1.2 m", "2.6 m"))],
)
def test_a_queue_goes_through_at_the_saturated_flow(scenario_of, width) -> None:
    scenario = scenario_of(crowd(width))
    trace = trace_night(scenario, 1, 0)
    inside = sorted(e.time for e in trace.in_order() if e.kind == "is inside")
    assert len(inside) == 40
    lanes = flow.abreast(scenario, 0, 30.0)
    # the first row need not wait for anyone, so that the rate is taken behind it
    rate = (40 - 2 * lanes) / (inside[-lanes - 1] - inside[lanes - 1])
    assert flow.saturated_flow(scenario, 0) == pytest.approx(rate, rel=0.08)


def test_a_stated_crossing_time_and_one_lane(scenario_of) -> None:
    scenario = scenario_of(
        crowd("0.3 m", movement={"crossing": "4 s", "headway": {"fixed": "2 s"}})
    )
    assert flow.saturated_flow(scenario, 0) == pytest.approx(1.0 / 6.0)
    said = check(scenario, "SI")
    assert "about 10 a minute go through it" in " ".join(said.verdict)
    assert said.rows[0]["at most through it a minute"] == "10"


@pytest.mark.slow
def test_a_mixed_group_takes_the_sum_of_its_times(scenario_of) -> None:
    one = scenario_of(crowd("1 m", sounder={"sows": 1, "mass": ALIKE}))
    many = scenario_of(crowd("1 m", sounder={"piglets": 3, "mass": ALIKE}))
    both = scenario_of(crowd("1 m", sounder={"sows": 1, "piglets": 3, "mass": ALIKE}))
    seconds = 1 / flow.saturated_flow(one, 0) + 3 / flow.saturated_flow(many, 0)
    assert flow.saturated_flow(both, 0) == pytest.approx(4 / seconds)


def test_people_for_scale() -> None:
    """1.3 people a second and metre (IMO MSC.1/Circ.1533): 78 a minute through a metre."""
    assert flow.people_a_minute(1.0) == pytest.approx(78.0)


def test_where_nothing_takes_time_no_rate_is_told(scenario_of) -> None:
    scenario = scenario_of(crowd("1 m", movement={"crossing": "0 s", "headway": "0 s"}))
    said = check(scenario, "SI").text()
    assert "takes no time by this file" in said
    assert " inf" not in said
