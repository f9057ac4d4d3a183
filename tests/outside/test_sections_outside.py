"""Weights of tube, pipe, angle, bar, channel and expanded metal against handbook tables."""

from __future__ import annotations

import pytest

from soundergate.mechanics import materials as m
from soundergate.mechanics import sections as s

HALF_OF_THE_LAST_FIGURE = 0.005


def pounds_a_foot(text: str) -> float:
    return s.weight(text)[0] / s.LB_PER_FT


@pytest.mark.parametrize(
    ("gauge", "wall", "pounds"),
    # http://www.ewco.net/page8.htm, mechanical tubing, 1.000 x 2.000 in, wall by B.W.G.
    [(16, 0.065, 1.2685), (14, 0.083, 1.5995), (12, 0.109, 2.0620), (11, 0.120, 2.2522),
     (10, 0.134, 2.4894)],
)  # fmt: skip
def test_rectangular_tube(gauge: int, wall: float, pounds: float) -> None:
    assert s.TUBE_WALL_INCHES[gauge] == wall
    by_gauge = pounds_a_foot(f"2x1 in {gauge} gauge rectangular tube")
    assert by_gauge == pytest.approx(pounds, rel=2e-3)
    assert by_gauge == pounds_a_foot(f"2x1x{wall} in rectangular tube")


@pytest.mark.parametrize(
    ("text", "pounds"),
    # https://www.aciercentury-vente.com/en/metal-classification/tubes/commercial-quality-tubes/
    [("2x2x0.125 in square tube", 3.06), ("1-1/2 in x 0.125 in square tube", 2.21),
     ("3x3x0.125 in square tube", 4.76), ("2-1/2 x 2-1/2 x 0.125 in square tube", 3.91)],
)  # fmt: skip
def test_structural_square_tube_is_a_little_lighter_for_its_round_corners(
    text: str, pounds: float
) -> None:
    assert pounds < pounds_a_foot(text) < 1.07 * pounds


@pytest.mark.parametrize(
    ("text", "pounds"),
    # Mott, Machine Elements in Mechanical Design, 4th edition, table A16-1 (steel angles)
    [("2x2x1/8 in angle", 1.65), ("2x2x1/4 in angle", 3.19), ("2x2x3/8 in angle", 4.7),
     ("3x3x1/4 in angle", 4.9), ("4x3x1/4 in angle", 5.8), ("4x4x1/4 in angle", 6.6)],
)  # fmt: skip
def test_angle(text: str, pounds: float) -> None:
    """Two per cent for the fillet, which the sharp section has not, and for printed figures."""
    assert pounds_a_foot(text) == pytest.approx(pounds, rel=0.02)


@pytest.mark.parametrize(
    ("size", "schedule_40", "schedule_80"),
    # ASHRAE Guide 1958, chapter 26, table 1: plain end, lb/ft (toxicdocs.org document KGN1zmZG...)
    [("1/2", 0.850, 1.09), ("3/4", 1.13, 1.47), ("1", 1.68, 2.17), ("1-1/4", 2.27, 3.00),
     ("1-1/2", 2.72, 3.63), ("2", 3.65, 5.02)],
)  # fmt: skip
def test_pipe(size: str, schedule_40: float, schedule_80: float) -> None:
    """The printed 3.65 for 1-1/2 in Schedule 80 is a misprint there; 3.63 by its own section."""
    assert pounds_a_foot(f"{size} in pipe") == pytest.approx(schedule_40, rel=4e-3)
    assert pounds_a_foot(f"{size} in sch 80 pipe") == pytest.approx(schedule_80, rel=4e-3)


def test_pipe_of_larger_sizes_from_another_table() -> None:
    """ASHRAE Guide 1953, chapter 27, table 1 (toxicdocs.org document 9YgBMXyY...): lb/ft."""
    for size, pounds in (("2", 3.652), ("2-1/2", 5.793), ("3", 7.575)):
        assert pounds_a_foot(f"{size} in pipe") == pytest.approx(pounds, rel=2e-3)


@pytest.mark.parametrize(
    ("text", "pounds"),
    # http://bamsite.org/Shopnotes/steellb.html: round 2.667 D^2, flat and square 3.396 W T,
    # round tubing 10.6802 T (OD - T), lb/ft in inches
    [("1/2 in round bar", 2.667 * 0.25), ("2x1/4 in flat bar", 3.396 * 0.5),
     ("3/4 in square bar", 3.396 * 0.5625),
     ("1-5/8 in 16 gauge round tube", 10.6802 * 0.065 * (1.625 - 0.065))],
)  # fmt: skip
def test_bars_and_round_tube(text: str, pounds: float) -> None:
    """That table takes 489 lb/ft^3; 7850 kg/m^3 is 490."""
    assert pounds_a_foot(text) == pytest.approx(pounds, rel=3e-3)


def test_channel_by_its_name_and_by_its_section() -> None:
    """C3x4.1 weighs 4.1 lb/ft by name (AISC); bar channel 2x1x1/8: 1.59 lb/ft, from memory."""
    assert pounds_a_foot("C3x4.1 channel") == pytest.approx(4.1)
    assert pounds_a_foot("2x1x1/8 in channel") == pytest.approx(1.59, rel=5e-3)


def test_expanded_metal_weighs_as_its_strands_do() -> None:
    """Two strands to the short way of a diamond: 2 w t rho / SWD. Weights and sizes from memory
    (EMMA 557); thickness is that of the sheet gauge named, but 3/4 #9 is 10 gauge, as the industry
    body says (https://www.naamm.org/news/37)."""
    thick = {"#16": 0.060, "#13": 0.092, "#10": 0.092, "#9": 0.134}
    for style, (short_way, strand, pounds) in m.EXPANDED.items():
        inches = 2.0 * strand * thick[style.split()[1]] / short_way
        assert inches * m.INCH * m.STEEL_DENSITY / m.LB_PER_FT2 == pytest.approx(pounds, rel=0.03)
        assert 0.1 < m.mesh_solidity(f"{style} expanded metal") < 0.5


def test_panels_weigh_as_their_wires_do() -> None:
    """Counted wire by wire: lines of 16 ft and stays of the height, 4 gauge at 0.2019 kg/m."""
    for name, (high, lines) in m.PANELS.items():
        feet = lines * 16.0 + 25 * high / 12.0
        area = 16.0 * m.FOOT * high * m.INCH
        wire = feet * m.FOOT * 0.20193
        assert m.mesh(f"{name} panel") * area == pytest.approx(wire, rel=1e-3)
