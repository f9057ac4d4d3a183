"""The style sheet: units, label spreading, colours in grey print, saved bytes."""

import itertools
from pathlib import Path

import matplotlib
from hypothesis import given
from hypothesis import strategies as st

from soundergate.report import style


@given(
    st.lists(st.floats(0, 100), max_size=12),
    st.floats(0.1, 30),
)
def test_spread_labels_keep_order_distance_and_bounds(positions: list[float], gap: float) -> None:
    placed = style.spread(positions, gap, 0.0, 100.0)
    assert len(placed) == len(positions)
    in_order = [placed[i] for i in sorted(range(len(positions)), key=lambda i: positions[i])]
    room = gap if gap * (len(placed) - 1) < 100 else 100 / max(len(placed) - 1, 1)
    for before, after in itertools.pairwise(in_order):
        assert after - before >= room - 1e-9
    assert all(-1e-9 <= place <= 100 + 1e-9 for place in placed)


def test_labels_with_room_stay_where_they_are() -> None:
    assert style.spread([10, 50, 30], 5, 0, 100) == [10, 50, 30]


def grey(colour: str) -> float:
    """Luma of an sRGB colour (ITU-R BT.601 weights), 0 to 255: what a grey printer shows."""
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_fates_differ_in_grey_or_in_hatch() -> None:
    fills = [fill for _, fill in style.FATES.values()]
    for one, other in itertools.combinations(fills, 2):
        assert abs(grey(one.colour) - grey(other.colour)) > 25 or one.hatch != other.hatch


def test_series_differ_in_more_than_colour() -> None:
    for one, other in itertools.combinations(style.SERIES, 2):
        assert one[1] != other[1] or one[2] != other[2]


def test_the_callers_settings_stay_as_they_were() -> None:
    before = dict(matplotlib.rcParams)
    with style.sheet():
        assert matplotlib.rcParams["font.size"] == 9
    assert dict(matplotlib.rcParams) == before


def test_saved_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        with style.sheet():
            figure = style.new_figure(2.0)
            figure.subplots().bar([1, 2], [3, 4], hatch="//")
        style.save(figure, tmp_path / folder / "bars", ("png", "svg", "pdf"))
    for suffix in ("png", "svg", "pdf"):
        first, second = (tmp_path / folder / f"bars.{suffix}" for folder in ("a", "b"))
        assert first.read_bytes() == second.read_bytes()
        assert first.stat().st_size > 500
