"""How a shop names its members and faces: what is read alike, and which words refuse the rest."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import materials, sections
from soundergate.mechanics.setup import solve
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads, with_values

BASE = loads("""
[sounder]
sows = 2
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop"}
latch = {kind = "pin", lever = 4}
[trigger]
kind = "person"
""")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("1-1/2 in 14 gauge square tube", "1.5 x 1.5 in 14 ga square tube"),
        ("1 1/2 in x 14-gauge Square Tube", '1-1/2" 14 gauge square tube'),
        ("2x2x1/8 in angle", "2 in x 1/8 in angle"),
        ("2x2x1/8 in angle", "50.8x50.8x3.175 mm angle"),
        ("1-1/4 in pipe", "1-1/4 in schedule 40 pipe"),
        ("C3x4.1", "c 3 x 4.1 channel"),
        ("2x4", "2 x 4 lumber"),
    ],
)
def test_ways_to_write_the_same(one: str, other: str) -> None:
    assert sections.weight(one)[0] == pytest.approx(sections.weight(other)[0], rel=1e-9)


@pytest.mark.parametrize("text", sections.EXAMPLES)
def test_each_example_can_be_a_frame(text: str) -> None:
    scenario = with_values(BASE, {"opening.gate.frame": text})
    bare, framed = (solve(one).openings[0].mass for one in (BASE, scenario))
    assert framed > bare
    assert with_values(scenario, {"title": "again"}).opening == scenario.opening


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2x2x1/8 angle", "no unit"),
        ("2x2x3 in angle", "thicker than it is wide"),
        ("2 in angle", "sizes are not all there"),
        ("2x2 in 14 gauge angle", "a gauge is for the wall of a tube"),
        ("2 in 6 gauge square tube", "no such wall gauge"),
        ("1-3/4 in pipe", "no such pipe"),
        ("1 in schedule 160 pipe", "no such pipe"),
        ("2 in x 3 mm flat bar", "sizes in two units"),
        ("wide flat bar", "sizes that cannot be read"),
        ("1/0 in round bar", "zero below the line"),
        ("C3x400 channel", "no such channel"),
        ("0x0 in flat bar", "thicker than it is wide"),
    ],
)
def test_refusals_name_key_and_value(text: str, words: str) -> None:
    with pytest.raises(ScenarioError, match=words) as caught:
        solve(with_values(BASE, {"opening.gate.frame": text}))
    assert caught.value.key == "opening.1.gate.frame"


@pytest.mark.parametrize(
    "face",
    [
        {"mesh": "3/4 in #9 expanded metal"},
        {"mesh": "3/4 #9 flattened expanded metal"},
        {"mesh": "cattle panel"},
        {"mesh": "hog panel"},
        {"boards": "2x6 lumber"},
        {"plywood": "3/4 in"},
    ],
)
def test_faces_of_a_shop(face: dict[str, str]) -> None:
    gate = {"kind": "drop", **face}
    scenario = with_values(BASE, {"opening.gate": gate})
    parts = materials.pieces(scenario.opening[0].gate, 1.2, 0.9)
    assert solve(scenario).openings[0].mass > 1.0
    assert all(part.origin for part in parts)


def test_flattened_is_lighter_and_open_faces_let_wind_through() -> None:
    raised, flat = (materials.mesh(f"3/4 #9{f} expanded metal") for f in ("", " flattened"))
    assert flat == pytest.approx(1.71 / 1.80 * raised)
    assert materials.mesh_solidity("cattle panel") < materials.mesh_solidity("hog panel") < 0.2


@given(st.integers(0, 3), st.integers(0, 3), st.floats(0.5, 3.0), st.floats(0.5, 2.0))
def test_a_gate_weighs_what_its_pieces_do(
    uprights: int, rails: int, width: float, height: float
) -> None:
    gate = {"kind": "drop", "mesh": "hog panel", "frame": "2x2x1/8 in angle",
            "uprights": uprights, "rails": rails}  # fmt: skip
    table = with_values(BASE, {"opening.gate": gate}).opening[0].gate
    face, frame = materials.pieces(table, width, height)
    assert materials.gate_mass(table, width, height) == face.mass + frame.mass
    long = 2 * (width + height) + uprights * height + rails * width
    assert frame.mass == pytest.approx(long * materials.frame("2x2x1/8 in angle"))


def test_members_need_a_frame_to_be_of() -> None:
    with pytest.raises(ScenarioError, match="nothing says what these members are of"):
        with_values(BASE, {"opening.gate.uprights": 2})
