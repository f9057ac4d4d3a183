"""Lengths as they are written on a tape and a drawing, and what a word processor makes of them."""

from __future__ import annotations

import pytest

from soundergate.scenario.constants import FOOT, INCH
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads
from soundergate.scenario.unit_system import system_of
from soundergate.scenario.units import parse_quantity


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("7' 6\"", 90), ("7'6\"", 90), ("7'-6\"", 90), ("7' - 6\"", 90), ("7′ 6″", 90),
        ("7 ft 6 in", 90), ("7ft 6in", 90), ("7 ft-6 in", 90), ("7' 6-1/2\"", 90.5),
        ("7' 6 1/2\"", 90.5), ("7-1/2 in", 7.5), ('7-1/2"', 7.5), ("7'", 84), ('7"', 7),
        ('3/4"', 0.75), ("-7' 6\"", -90),
    ],
)  # fmt: skip
def test_feet_and_inches(text: str, inches: float) -> None:
    assert parse_quantity(text, "length") == pytest.approx(inches * INCH, rel=1e-12)


def test_they_are_of_the_units_of_this_country() -> None:
    assert system_of({"opening": [{"width": "7' 6\""}]}) == "US"
    assert parse_quantity("7'", "length") == parse_quantity("7 ft", "length")
    assert parse_quantity("7'", "length") == pytest.approx(7 * FOOT)


@pytest.mark.parametrize(
    ("text", "dimension", "write"),
    [
        ("1,5 m", "length", 'write "1.5 m"'),
        ("12,75 lbf", "force", 'write "12.75 lbf"'),
        ("1,000 ft", "length", 'or "1000 ft" for thousands'),
        ("7’ 6”", "length", 'write "7 ft 6 in"'),
        ("“4 ft”", "length", 'write "4 ft"'),
    ],
)
def test_a_comma_or_a_curly_quote_is_told_what_to_write(text, dimension, write) -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_quantity(text, dimension)
    assert write in str(caught.value)


@pytest.mark.parametrize(
    ("line", "write"),
    [
        ("width = “4 ft”", 'width = "4 ft"'),
        ("width = ”7 ft“", 'width = "7 ft"'),
        ('width = "7\' 6""', "7 ft 6 in"),
        ("width = '7' 6\"'", "7 ft 6 in"),
        ("lever = 1,5", "lever = 1.5"),
    ],
)
def test_so_it_is_where_they_break_the_file(line: str, write: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        loads(f"[[opening]]\n{line}\n")
    said = str(caught.value)
    assert write in said
    assert "line 2" in said
