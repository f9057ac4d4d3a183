"""A way and a piece of line: sides, where they meet, and what stands on the very line."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.place.ways import (
    LEAST_SHARE,
    between,
    on_piece,
    passes,
    share_gone,
    side_of,
)

PIECE = (-1.0, 0.0, 2.0, 0.0)
"""Along the x axis; above it is the left of one who walks from its first end to its second."""
place = st.floats(-10.0, 10.0)


def test_sides() -> None:
    assert side_of(0.0, 1.0, *PIECE) == 1
    assert side_of(0.0, -1.0, *PIECE) == 0
    assert side_of(0.0, 0.0, *PIECE) == 0


@pytest.mark.parametrize(
    ("way", "share", "touches"),
    [
        ((0.0, 1.0, 0.0, -3.0), 0.25, True),
        ((0.0, -3.0, 0.0, 1.0), 0.75, True),
        ((2.0, 1.0, 2.0, -1.0), 0.5, True),  # the very end
        ((2.1, 1.0, 2.1, -1.0), 0.5, False),  # round the stake
        ((0.0, 3.0, 0.0, 1.0), math.inf, False),
        ((0.0, 1.0, 1.0, 0.0), 1.0, True),  # it ends on the line, which counts as beyond
    ],
)
def test_where_a_way_meets_a_piece(way, share, touches) -> None:
    met = passes(*way, *PIECE, side_of(*way[:2], *PIECE))
    assert met == share
    assert (met < math.inf and on_piece(*way, *PIECE, met)) == touches


def test_one_on_the_line_is_where_it_came_from() -> None:
    """It comes from above: on to below it meets the line at once, and back above it does not."""
    assert passes(0.0, 0.0, 0.0, -1.0, *PIECE, 1) == LEAST_SHARE
    assert passes(0.0, 0.0, 0.0, 1.0, *PIECE, 1) == math.inf
    assert passes(0.0, 0.0, 0.0, 1.0, *PIECE, 0) == LEAST_SHARE


@given(x0=place, y0=place, x1=place, y1=place, side=st.integers(0, 1))
def test_a_meeting_is_beyond_the_beginning_and_not_beyond_the_end(x0, y0, x1, y1, side) -> None:
    met = passes(x0, y0, x1, y1, *PIECE, side)
    assert met == math.inf or 0.0 < met <= 1.0
    assert (met == math.inf) == (side_of(x1, y1, *PIECE) == side)


@given(x0=place, y0=place, x1=place, y1=place, ax=place, ay=place, bx=place, by=place)
def test_a_way_is_at_the_line_where_it_meets_it(x0, y0, x1, y1, ax, ay, bx, by) -> None:
    met = passes(x0, y0, x1, y1, ax, ay, bx, by, side_of(x0, y0, ax, ay, bx, by))
    if met < math.inf and met > LEAST_SHARE:
        x, y = between(x0, x1, met), between(y0, y1, met)
        off = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
        assert abs(off) <= 1e-9 * (1.0 + math.hypot(bx - ax, by - ay)) * 20.0


def test_share_of_a_way_that_is_gone() -> None:
    assert share_gone(10.0, 4.0, 0.0, 11.0) == 0.25
    assert share_gone(10.0, 4.0, 0.5, 11.0) == 0.5  # it has met something there already
    assert share_gone(10.0, 4.0, 0.0, 99.0) == 1.0
    assert share_gone(10.0, 0.0, 0.5, 10.0) == 0.5  # takes no time: as far as it has met things
    assert share_gone(10.0, 4.0, 0.0, 9.0) == 0.0  # it has not set off yet
