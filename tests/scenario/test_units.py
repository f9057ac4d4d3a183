"""Quantities: conversions against published factors, and what bad ones say."""

from __future__ import annotations

import contextlib
import math
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared.processes import python
from soundergate.scenario import units
from soundergate.scenario.errors import Problem, ScenarioError
from soundergate.scenario.units import (
    DIMENSIONS,
    figures,
    format_quantity,
    from_si,
    parse_quantity,
    read_quantity,
    registry,
)

# Factors marked exact or given to the printed digits in NIST Special Publication 811 (2008),
# Guide for the Use of the International System of Units, appendix B.8.
NIST_SP_811 = [
    ("1 ft", "length", 0.3048, 1e-15),
    ("1 in", "length", 0.0254, 1e-15),
    ("1 yd", "length", 0.9144, 1e-15),
    ("1 lb", "mass", 0.45359237, 1e-15),
    ("1 oz", "mass", 0.02834952, 1e-6),
    ("1 lbf", "force", 4.448222, 1e-6),
    ("1 kgf", "force", 9.80665, 1e-15),
    ("1 psi", "pressure", 6894.757, 1e-6),
    ("1 bar", "pressure", 1e5, 1e-15),
    ("1 gal", "volume", 0.003785412, 1e-6),
    ("1 mph", "speed", 0.44704, 1e-15),
    ("1 ft*lbf", "energy", 1.355818, 1e-6),
    ("1 lbf*in", "torque", 0.1129848, 1e-6),
    ("1 lb/ft^2", "mass per area", 4.882428, 1e-6),
    ("1 lb/ft", "mass per length", 1.488164, 1e-6),
    ("1 lbf/in", "force per length", 175.1268, 1e-6),
    ("1 lb/ft^3", "mass per volume", 16.01846, 1e-6),
]


@pytest.mark.parametrize(("text", "dimension", "si", "tolerance"), NIST_SP_811)
def test_published_conversion_factors(text, dimension, si, tolerance):
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=tolerance)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("4 ft", "length", 1.2192),
        ("5/8 in", "length", 0.015875),
        ("1 1/2 in", "length", 0.0381),
        ("1-1/2 in", "length", 0.0381),
        ("4 ft 6 in", "length", 1.3716),
        ("-4 ft 6 in", "length", -1.3716),
        ("1 h 30 min", "time", 5400.0),
        (".5in", "length", 0.0127),
        ("90 PSI", "pressure", 620528.156385),
        ("90 psig", "pressure", 620528.156385),
        ("1.2 kg/m²", "mass per area", 1.2),
        ("2 L/(s bar)", "flow", 2e-8),
        ("2 L/(s*bar)", "flow", 2e-8),
        ("0.1 per day", "rate", 0.1 / 86400),
        ("0.1 /day", "rate", 0.1 / 86400),
        ("45°", "angle", math.pi / 4),
        ("180 deg", "angle", math.pi),
        ("20 degC", "temperature", 293.15),
        ("50 degF", "temperature", 283.15),
        ("−3 in", "length", -0.0762),
        ("1e3 mm", "length", 1.0),
    ],
)
def test_ways_to_write_a_quantity(text, dimension, si):
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize("name", DIMENSIONS)
def test_every_suggested_unit_does(name):
    kind = DIMENSIONS[name]
    assert parse_quantity(kind.example, name) != 0.0
    for unit in kind.units:
        assert math.isfinite(parse_quantity(f"1 {unit}", name))


@pytest.mark.parametrize(
    ("value", "dimension", "words"),
    [
        (4, "length", ["bare number where a unit is due", "a length", "ft, in, m or cm", '"4 ft"']),
        (True, "length", ["must be a length with its unit"]),
        (None, "mass", ["must be a mass with its unit"]),
        ("4", "length", ["no unit", "a length", "ft, in, m or cm"]),
        ("four feet", "length", ["not a number with a unit", "a length"]),
        ("", "force", ["not a number with a unit", "a force"]),
        ("25 lb", "force", ["the unit 'lb' is not a force", "lbf", "a pound of force is lbf"]),
        ("25 kg", "force", ["kilogram of force is kgf"]),
        ("25 lbf", "mass", ["not a mass", "a pound of mass is lb"]),
        ("4 fto", "length", ["the unit 'fto' is unknown", "did you mean 'ft'?"]),
        ("4 s", "length", ["the unit 's' is not a length", "ft, in, m or cm would do"]),
        ("nan ft", "length", ["not a finite number", "a length"]),
        ("inf s", "time", ["not a finite number", "a time"]),
        ("-Infinity s", "time", ["not a finite number"]),
        ("1e9 ft", "length", ["not believable", "the limit is 10000 m"]),
        ("1e400 ft", "length", ["not believable"]),
        ("1/0 in", "length", ["zero below the line"]),
        ("4 m^99", "length", ["the unit 'm^99' is unknown"]),
        ("4 m**9**9**9", "length", ["is unknown"]),
        ("4 ft" + " " * 90, "length", ["too long for a quantity"]),
    ],
)
def test_bad_quantities_say_what_would_do(value, dimension, words):
    with pytest.raises(ScenarioError) as caught:
        parse_quantity(value, dimension)
    for word in words:
        assert word in str(caught.value)
    assert caught.value.value == value


def test_validators_get_a_problem_without_a_file():
    with pytest.raises(Problem, match="bare number"):
        read_quantity(3, "mass")


def test_unknown_dimension_is_a_programming_error_that_lists_the_known():
    with pytest.raises(KeyError, match=r"no dimension 'lenght'; known: length, force"):
        parse_quantity("1 ft", "lenght")


def test_format_quantity():
    assert format_quantity(1.2192, "ft") == "4 ft"
    assert format_quantity(620528.156385, "psi") == "90 psi"
    assert format_quantity(math.pi / 2, "deg") == "90 deg"
    assert format_quantity(0.0127, "in", digits=2) == "0.5 in"
    with pytest.raises(ValueError, match="no known dimension has the unit 'candela'"):
        format_quantity(1.0, "candela")
    with pytest.raises(ValueError, match="not a unit"):
        format_quantity(1.0, "furlongish")


SCALED_UNITS = [
    (d.name, u) for d in DIMENSIONS.values() for u in d.units if d.name != "temperature"
]


@given(
    st.sampled_from(SCALED_UNITS),
    st.floats(-1e4, 1e4, allow_nan=False).filter(lambda x: x == 0 or abs(x) > 1e-6),
)
def test_round_trip_through_any_unit(unit, x):
    name, written = unit
    kind = DIMENSIONS[name]
    assume(abs(parse_quantity(f"1 {written}", name) * x) < kind.largest)
    si = parse_quantity(f"{x!r} {written}", name)
    assert from_si(si, written) == pytest.approx(x, rel=1e-12, abs=0)
    # Written in SI it is the same to the last bit.
    assert parse_quantity(f"{si!r} {kind.si}", name) == si


@given(st.floats(-50, 90), st.sampled_from(["degC", "degF"]))
def test_temperatures_round_trip(x, unit):
    assert from_si(parse_quantity(f"{x!r} {unit}", "temperature"), unit) == pytest.approx(
        x, abs=1e-9
    )


@given(st.text(max_size=90), st.sampled_from(sorted(DIMENSIONS)))
def test_no_text_gives_anything_but_a_number_or_a_scenario_error(text, name):
    # nor does any keep the parser busy for ever, which was found here
    with contextlib.suppress(ScenarioError):  # and nothing else
        assert math.isfinite(parse_quantity(text, name))


@given(
    st.from_regex(re.compile(r"[0-9]{1,3} ?[a-zµ°%/*^()0-9 -]{1,14}"), fullmatch=True),
    st.sampled_from(sorted(DIMENSIONS)),
)
def test_no_unit_like_text_escapes_either(text, name):
    with contextlib.suppress(ScenarioError):  # and nothing else
        assert math.isfinite(parse_quantity(text, name))


def test_one_registry():
    assert registry() is registry()


def test_importing_the_room_does_not_import_pint():
    code = "import sys, soundergate.scenario; sys.exit(bool({'pint', 'scipy'} & set(sys.modules)))"
    assert python("-c", code).returncode == 0


def test_a_fault_of_the_unit_package_is_not_taken_for_an_unknown_unit(monkeypatch):
    """A version that does not go with this Python said of every unit that it was unknown."""

    def broken(text):
        raise TypeError("cannot inherit frozen dataclass from a non-frozen one")

    for known in (units._pint_unit, units._known_unit, units._read_cached):
        known.cache_clear()
    with monkeypatch.context() as patched:
        patched.setattr(units.registry(), "Unit", broken)
        with pytest.raises(TypeError, match="frozen dataclass"):
            parse_quantity("4.0625 ft", "length")
    units._pint_unit.cache_clear()
    assert parse_quantity("4.0625 ft", "length") == pytest.approx(1.23825)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (6030.4, 3, "6030"),
        (123456.0, 4, "123500"),
        (0.00001234, 3, "0.0000123"),
        (-25000.0, 2, "-25000"),
        (1.5, 3, "1.5"),
        (0.0, 3, "0"),
        (float("inf"), 3, "inf"),
    ],
)
def test_figures_have_no_exponent(value: float, digits: int, text: str) -> None:
    assert figures(value, digits) == text
    if value == 6030.4:
        assert format_quantity(value, "s", 3) == "6030 s"
