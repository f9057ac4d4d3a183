"""One rule for the units an answer speaks: those in which the file has more quantities."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.advice.check import check
from soundergate.report.pages.subject import units_of
from soundergate.scenario import loads
from soundergate.scenario.unit_system import SI, US, system_of, units
from soundergate.scenario.units import DIMENSIONS, parse_quantity


@pytest.mark.parametrize(
    ("raw", "system"),
    [
        ({"opening": [{"width": "4 ft"}]}, "US"),
        ({"gate": {"sheet": "14 gauge"}}, "US"),
        ({"latch": {"pull": {"median": "25lbf"}}}, "US"),
        ({"width": "4 ft 6 in"}, "US"),
        ({"rod": "5/8 in"}, "US"),
        ({"pressure": "90 PSI"}, "US"),
        ({"opening": [{"width": "1.2 m", "count": 3}]}, "SI"),
        ({"mesh": "4 kg/m^2", "hinge_friction": "2 N*m"}, "SI"),
        ({"conductance": "2 L/(s*bar)"}, "SI"),
        ({"title": "4 ft", "width": "1 m"}, "SI"),
        ({"title": "in the lbf of things"}, "SI"),
        ({"patience": "20 min", "angle": "45 deg", "volts": "12 V"}, "SI"),
        ({"frame": "2x4 lumber", "kind": "drop"}, "SI"),
        ({}, "SI"),
        # mixed: the more of them; when alike, the first
        ({"a": "4 ft", "b": "3 ft", "c": "20 kg"}, "US"),
        ({"a": "4 ft", "b": "90 cm", "c": "20 kg"}, "SI"),
        ({"sheet": "14 gauge", "width": "1.2 m", "height": "0.9 m"}, "SI"),
        ({"a": "4 ft", "b": "20 kg"}, "US"),
        ({"b": "20 kg", "a": "4 ft"}, "SI"),
    ],
)
def test_system_of_a_file(raw: dict, system: str) -> None:
    assert system_of(raw) == system


@pytest.mark.parametrize("kind", DIMENSIONS.values(), ids=lambda kind: kind.name)
def test_every_unit_that_messages_suggest_is_sorted(kind) -> None:
    """A unit of length, mass, force or pressure is one of the two; none is both."""
    names = {"ft", "in", "lb", "lbf", "oz", "psi", "gal", "mph"}
    for unit in kind.units:
        parse_quantity(f"1 {unit}", kind.name)
        parts = {part.strip("^23()") for part in unit.replace("*", "/").split("/")}
        if parts & names:
            assert system_of({"x": f"1 {unit}"}) == "US"
        elif kind.name in {"length", "mass", "force", "pressure", "area", "torque"}:
            assert system_of({"x": f"1 {unit}", "y": f"1 {unit}", "z": "1 ft"}) == "SI"


@given(st.integers(0, 6), st.integers(0, 6), st.randoms(use_true_random=False))
def test_the_more_of_them_wins_in_any_order(us: int, metric: int, random) -> None:
    texts = ["4 ft"] * us + ["20 kg"] * metric + ["10 s", "2x4 lumber"]
    random.shuffle(texts)
    expected = "US" if us > metric else "SI"
    if us != metric:
        assert system_of({"list": texts}) == expected


def test_check_and_report_speak_the_same_on_a_mixed_file(night_text: str) -> None:
    for mass in ("20 kg", "45 lb"):
        for height in ("3 ft", "0.9 m"):
            text = night_text.replace('"3 ft"', f'"{height}"')
            text = text.replace('sheet = "14 gauge"', f'mass = "{mass}"')
            for width in ("4 ft", "120 cm"):
                mixed = loads(text.replace('"4 ft"', f'"{width}"').replace('"26 ft"', '"8 m"'))
                assert units_of(mixed).name == check(mixed).units


@pytest.mark.parametrize(
    ("quantity", "value", "text"),
    [
        # from memory: exact by the international yard and pound agreement of 1959
        ("length", 3.048, "10 ft"),
        ("height", 0.508, "20 in"),
        ("mass", 45.359237, "100 lb"),
        ("force", 111.20554, "25 lbf"),  # 25 * 4.4482216152605 N
        ("energy", 135.58179483, "100 ft·lbf"),
        ("speed", 3.048, "10 ft/s"),
        ("mass", 16.98, "37.4 lb"),
        ("energy", 0.0, "0 ft·lbf"),
        ("force", 0.0519, "0.012 lbf"),
        ("force", 12345.0, "2775 lbf"),
        ("force", float("inf"), "without limit"),
    ],
)
def test_us_units(quantity: str, value: float, text: str) -> None:
    assert getattr(US, quantity)(value) == text


def test_decimals_and_a_wrong_name() -> None:
    assert SI.height(0.915, decimals=1) == "91.5 cm"
    assert units("SI") is units(SI) is SI
    with pytest.raises(ValueError, match="units must be 'US' or 'SI', got 'cubits'"):
        units("cubits")
