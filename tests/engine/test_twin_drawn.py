"""Twins on scenarios that Hypothesis draws: any group, openings, durations and triggers together.

Left out on purpose: nights in which pigs could go round for ever without time passing.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from shared.identities import check_identities
from soundergate.engine import play
from soundergate.scenario.errors import ScenarioError


def seconds(*values: float) -> st.SearchStrategy[str]:
    return st.sampled_from([f"{value} s" for value in values])


def spread_out(*values: float) -> st.SearchStrategy[Any]:
    """About one of these times: fixed, so that ties abound, or of any distribution."""
    time = seconds(*values)
    fixed = time.map(lambda t: {"fixed": t})
    return st.one_of(
        fixed,
        fixed,
        st.builds(lambda t: {"dist": "exponential", "mean": t}, time),
        st.builds(lambda t: {"dist": "lognormal", "median": t, "sigma": 0.8}, time),
        st.builds(
            lambda t, c: {"dist": "gamma", "mean": t, "cv": c}, time, st.sampled_from([0.4, 2])
        ),
        st.builds(lambda t: {"dist": "weibull", "shape": 1.5, "scale": t}, time),
        st.builds(lambda t: {"dist": "uniform", "low": "1 s", "high": t}, seconds(2, 10, 90)),
    )


def among(*values: Any) -> st.SearchStrategy[Any]:
    return st.sampled_from(values)


HEIGHTS = among("10 in", "16 in", "22 in")
LINES = st.one_of(
    st.fixed_dictionaries(
        {
            "kind": st.just("line"),
            "height": HEIGHTS,
            "distance": among("6 ft", "12 ft", "18.2 ft", "24 ft"),
        },
        optional={"span": among("5 ft", "12 ft")},
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("line"),
            "height": HEIGHTS,
            "between": among(["55 deg", "200 deg"], ["170 deg", "300 deg"]),
        }
    ),
)
CONTAINERS = st.fixed_dictionaries(
    {"kind": st.just("bait"), "container": among("2 lb", "20 lb"), "rate": spread_out(30, 300)}
)
COUNTERS = st.fixed_dictionaries(
    {
        "kind": st.just("counter"),
        "count": among(1, 3, 6),
        "miss": among(0.0, 0.2),
        "double": among(0.0, 0.2),
    },
    optional={"dwell": seconds(0, 10, 60)},
)
WATCH = {
    "kind": st.just("person"),
    "link": among("radio", "modem", "relay"),
    "clear_opening": st.booleans(),
    "alert": spread_out(0, 5, 20),
    "awake": among(1.0, 0.7),
    "frame_interval": seconds(0, 2, 7),
    "view_delay": seconds(0, 3),
    "reaction": spread_out(0, 1),
    "command_delay": spread_out(0, 2),
    "dropout": among(0.0, 0.3),
    "retry": seconds(5),
    "undercount": among(0.0, 0.3),
    "overcount": among(0.0, 0.2),
    "refresh": seconds(0, 4, 20),
    "infrared_range": among("60 ft", "16 ft"),
}
STEPS = st.lists(st.tuples(among(0, 10, 11, 60, 200), st.integers(1, 8)), min_size=1, max_size=4)
PEOPLE = st.one_of(
    st.fixed_dictionaries({**WATCH, "count": among(1, 4, 8), "patience": seconds(60, 300)}),
    st.fixed_dictionaries({**WATCH, "share": among(0.5, 1.0)}),
    st.fixed_dictionaries(
        {
            **WATCH,
            "rule": STEPS.map(
                lambda steps: [
                    {"after": f"{after} s", "count": n} for after, n in sorted(dict(steps).items())
                ]
            ),
        }
    ),
)
SINGLE = st.one_of(LINES, CONTAINERS, COUNTERS, PEOPLE)
SEVERAL = st.lists(SINGLE, min_size=2, max_size=3)
TRIGGERS = st.builds(
    lambda trigger, rate: {**trigger, "false_release": rate},
    st.one_of(
        SINGLE,
        SINGLE,
        st.builds(lambda parts: {"any": parts}, SEVERAL),
        st.builds(lambda parts: {"all": parts}, SEVERAL),
    ),
    among("0 1/h", "0 1/h", "6 1/h"),
)

AIR = {"kind": "pin", "puller": "air cylinder"}
WAYS_IN = among(
    {
        "width": "4 ft",
        "height": "3 ft",
        "gate": {"kind": "drop", "drag": {"fixed": "1 lbf"}},
        "latch": AIR,
    },
    {
        "width": "20 in",
        "height": "2 ft",
        "gate": {"kind": "drop"},
        "latch": {**AIR, "delay": "0 s"},
    },
    {"width": "12 in", "height": "4 ft", "gate": {"kind": "drop", "mass": "20 kg"}, "latch": AIR},
    {
        "width": "3 ft",
        "height": "4 ft",
        "gate": {"kind": "drop", "mass": "30 kg", "counterweight": "22 kg"},
        "latch": {**AIR, "delay": "2 s"},
    },
    {
        "width": "8 ft",
        "height": "3 ft",
        "gate": {"kind": "drop", "mass": "40 kg", "drag": {"median": "15 lbf", "sigma": 1.0}},
        "latch": {**AIR, "pressure": "60 psi", "delay": {"dist": "exponential", "mean": "1 s"}},
    },
    {
        "width": "4 ft",
        "height": "3 ft",
        "gate": {"kind": "top-hinged", "set_angle": "120 deg"},
        "latch": {**AIR, "kind": "knee"},
    },
    {
        "width": "5 ft",
        "height": "4 ft",
        "gate": {"kind": "side-hinged", "leaves": 2},
        "latch": {**AIR, "stroke": "6 in", "kind": "finger"},
    },
)
PUSHED = among(
    {"width": "3 ft", "height": "3 ft", "gate": {"kind": "push panel", "late_entry": 0.5}},
    {"width": "2 ft", "height": "3 ft", "gate": {"kind": "curled panel", "push_force": "2 lbf"}},
)
BY_PIGS = {"kind": "pin", "puller": "animal", "lever": 2}
OPENINGS = st.lists(st.one_of(WAYS_IN, WAYS_IN, PUSHED).map(dict), min_size=1, max_size=3).filter(
    lambda ways: any("latch" in way for way in ways)
)
PATCHES = st.lists(
    st.fixed_dictionaries(
        {
            "distance": among("3 ft", "10 ft", "22 ft"),
            "aside": among("-1 ft", "0 ft", "2 ft"),
            "radius": among("0 ft", "1 ft", "20 in"),
            "share": among(1, 3),
        }
    ),
    max_size=3,
)


FURTHER = st.fixed_dictionaries({"sows": st.integers(1, 2), "juveniles": st.integers(0, 3)})


@st.composite
def scenarios(draw: st.DrawFn, most: int = 6) -> dict[str, Any]:
    heads = st.integers(0, most)
    table = {
        "sounder": {
            "sows": draw(st.integers(1, 3)),
            "boars": draw(st.integers(0, 2)),
            "juveniles": draw(heads),
            "piglets": draw(heads),
            "subgroups": 1,
            "mass": {
                "juvenile": draw(among({"fixed": "25 kg"}, {"median": "25 kg", "sigma": 0.3}))
            },
        },
        "body": {"shoulder_scatter": draw(among(0.0, 0.045))},
        "corral": {
            "space_per_pig": draw(among("0 m^2", "0.5 m^2", "6 m^2")),
            "panel_height": draw(among("3 ft", "5 ft")),
        },
        "bait": {
            "radius": draw(among("0 ft", "3 ft")),
            "space": draw(among("0 m^2", "0.35 m^2", "3 m^2")),
            "patch": draw(PATCHES),
            "mass": draw(among("1 lb", "50 lb")),
            "intake": draw(among("0 1/h", "0.02 1/h", "2 1/h")),
        },
        "opening": draw(OPENINGS),
        "trigger": draw(TRIGGERS),
        "arrival": {
            "first": draw(spread_out(0, 30)),
            "offset": draw(spread_out(0, 60)),
            "spread": draw(spread_out(0, 10, 30)),
            "bearing": draw(among("0 deg", "130 deg")),
            "bearing_scatter": draw(among("0 deg", "60 deg")),
        },
        "entry": {
            "clock": draw(spread_out(1, 5, 30)),
            "leaderless": draw(among(1.0, 0.3)),
            "follow": draw(among(0.0, 0.5, 1.0)),
            "tightness": draw(among(0.1, 1.0)),
            "frailty_cv": draw(among(0.0, 0.5, 2.0)),
            "shy_share": draw(among(0.0, 0.2)),
            "habituation_nights": draw(among(0, 3)),
            "social_pull": draw(among(0.0, 0.25, 2.0)),
        },
        "leaving": {
            "clock": draw(st.one_of(spread_out(5, 60, 200), st.just("never"))),
            "crowding": draw(among(0.0, 1.0)),
            "contagion": draw(among(0.0, 0.5)),
            "contagion_window": draw(seconds(0, 10, 30)),
            "return_share": draw(among(0.0, 0.5, 0.9)),
            "nearest": draw(among(0.0, 0.3, 1.0)),
        },
        "movement": {
            "headway": draw(spread_out(0, 1)),
            "dwell": draw(spread_out(0, 5)),
            "roam": draw(spread_out(2, 20, 200)),
            "outing_share": draw(among(0.0, 0.3, 1.0)),
            "outing_reach": draw(among("0 ft", "6 ft")),
            "retry": draw(spread_out(5, 20)),
        },
        "visit": {
            "patience": draw(spread_out(60, 300, 600)),
            "check": draw(seconds(120, 900, 1500)),
        },
        "startle": {
            "bolt_share": draw(among(0.3, 1.0)),
            "delay": draw(spread_out(0, 1)),
            "turn_back_share": draw(among(0.0, 0.5)),
        },
        "holding": {
            "try_clock": draw(spread_out(10, 600)),
            "climb_clock": draw(spread_out(10, 600)),
            "root_clock": draw(st.one_of(st.just("never"), spread_out(600))),
            "late_clock": draw(spread_out(0, 60, 300)),
            "slip_share": draw(among(0.0, 0.5)),
            "near_clock": draw(st.one_of(st.just("never"), spread_out(0, 300, 900))),
            "open_entry": draw(among(0.0, 0.3, 1.0)),
            "hole_clock": draw(spread_out(0, 600)),
            "gate_clock": draw(spread_out(20, 300)),
            "follow_clock": draw(spread_out(0, 60, 300)),
        },
        "strike": {"out_share": draw(among(0.0, 0.5)), "prop": draw(spread_out(0, 2, 20))},
    }
    others = sum(table["sounder"][name] for name in ("sows", "juveniles", "piglets"))
    table["sounder"]["subgroups"] = draw(st.integers(1, min(3, others)))
    if draw(st.booleans()):
        table["sounder"]["varies"] = {
            "mean": draw(among(3, 6)),
            "dispersion": draw(among(0.5, 3)),
            "low": draw(among(1, 2)),
            "high": draw(st.integers(6, 2 * most)),
        }
    table["other"] = draw(st.lists(FURTHER, max_size=2))
    if draw(st.booleans()):
        table["movement"] |= {"crossing": draw(spread_out(0, 2)), "travel": draw(spread_out(0, 5))}
    if table["trigger"].get("kind") in ("line", "bait") and draw(st.booleans()):
        for way in table["opening"]:
            if "latch" in way:
                way["latch"] = BY_PIGS
    return table


def check(plan_of, table: dict[str, Any], seed: int, nights: int) -> None:
    try:
        plan = plan_of(table)
    except ScenarioError as refused:
        assume("runs through opening" not in str(refused))
        raise
    batch = play(plan, seed, 0, nights, "batch")
    reference = play(plan, seed, 0, nights, "reference")
    check_identities(batch)
    same = batch == reference
    assert same, [name for name in batch if (batch[name] != reference[name]).any()]


calm = {"suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large]}


@settings(max_examples=25, **calm)
@given(table=scenarios(), seed=st.integers(0, 2**63 - 1))
def test_drawn_scenarios(table, seed, plan_of) -> None:
    check(plan_of, table, seed, 8)


@pytest.mark.slow
@settings(max_examples=1500, **calm)
@given(table=scenarios(most=20), seed=st.integers(0, 2**63 - 1))
def test_many_drawn_scenarios(table, seed, plan_of) -> None:
    check(plan_of, table, seed, 40)
