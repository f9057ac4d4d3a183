"""Gates and latches that cannot be: one message from every command; what merely jams is told."""

from __future__ import annotations

import pytest

SOLENOID = 'latch = {kind = "pin", puller = "solenoid", lever = 4}'
AIR = 'latch = {{kind = "pin", puller = "air cylinder", {}}}'
BAD = [
    ("gate", 'kind = "drop", counterweight = "60 lb"',
     ["opening.0.gate.counterweight", '"60 lb"', "carries no load", "lb or less"]),
    ("gate", 'kind = "top-hinged", set_angle = "180 deg", stop = "180 deg"',
     ["opening.0.gate.set_angle", '"180 deg"', "carries no load", "179 deg or less"]),
    ("gate", 'kind = "top-hinged", set_angle = "176 deg"',
     ["opening.0.gate.set_angle", '"176 deg"', "beyond the stop", "175 deg"]),
    ("gate", 'kind = "drop", channel_length = "2 ft"',
     ["opening.0.gate.channel_length", '"2 ft"', "too short to hold the raised gate", "3 ft"]),
    ("latch", 'bore = "1 in", rod = "1 in"',
     ["opening.0.latch.rod", '"1 in"', "thick as the bore", "thinner than"]),
    ("latch", 'pressure = "-3 psi"',
     ["opening.0.latch.pressure", '"-3 psi"', "below atmosphere", "at least 0 psi"]),
]  # fmt: skip


def changed(trap, part, keys):
    """The test trap with another gate or latch."""
    text = trap.read_text().replace(
        'latch = {kind = "pin", puller = "animal", lever = 4}',
        AIR.format(keys) if part == "latch" else SOLENOID,
    )
    if part == "gate":
        text = text.replace('kind = "drop", sheet = "14 gauge"', keys)
    trap.write_text(text)
    return trap


@pytest.mark.parametrize(("part", "keys", "words"), BAD)
@pytest.mark.parametrize("command", ["check", "run", "night"])
def test_bad_steel_is_refused_in_one_message(invoke, trap, part, keys, words, command):
    said = invoke(command, changed(trap, part, keys))
    assert said.code == 2
    assert said.out == ""
    assert said.err.count("Error:") == 1
    assert len(said.err.strip().splitlines()) == 1
    for word in ["trap.toml", *words]:
        assert word in said.err


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('kind = "drop", counterweight = "35 lb"', "does NOT shut"),
        ('kind = "top-hinged", set_angle = "179.9 deg", stop = "180 deg"', "does NOT shut"),
    ],
)
def test_a_gate_that_hangs_is_a_result(invoke, trap, keys, words):
    said = invoke("check", changed(trap, "gate", keys))
    assert said.code == 1
    assert words in said.err


def test_widths_that_cannot_be_are_told_and_the_others_swept(invoke, trap):
    changed(trap, "gate", 'kind = "drop", sheet = "14 gauge", counterweight = "30 lb"')
    said = invoke("check", trap, "--widths", "2 ft,4 ft,6 ft")
    assert "Not at 2 ft: the latch carries no load" in said.err
    assert "not built" in said.out
    swept = invoke("check", trap, "--widths", "2 ft,4 ft,6 ft", "--json").data["widths"][0]
    why = [row["why"] for row in swept["widths"]]
    assert why[0].startswith("the latch carries no load")
    assert why[1:] == ["", ""]


def test_no_margin_without_limit_is_printed(invoke, trap):
    trap.write_text(
        trap.read_text().replace('puller = "animal", lever = 4', "lever = 4, friction = 0")
    )
    said = invoke("check", trap, "--pairs", "--widths", "4 ft")
    assert "takes no pull to free it" in said.err
    assert " inf" not in said.out + said.err
    assert " nan" not in said.out + said.err
