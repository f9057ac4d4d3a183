"""Places and ways against plane geometry and geometric probability that others have worked out.

Statistical tests: fixed seeds, and a false-alarm rate of 1e-4 each.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from soundergate.engine import play
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.ways import distance, on_piece, passes, side_of

SEED = 20261130
FALSE_ALARM = 1e-4
RADIUS = 4.0
DRAWS = 40_000


def places(purpose: int, count: int = DRAWS, radius: float = RADIUS) -> np.ndarray:
    """float[count, 2], drawn evenly from a disc round the middle."""
    return np.array(
        [in_disc(0.0, 0.0, radius, radius, SEED, 0, purpose, 0, n) for n in range(count)]
    )


def segment_share(off_middle: float, radius: float = RADIUS) -> float:
    """Share of a disc beyond a chord: the circular segment R^2 acos(d/R) - d sqrt(R^2 - d^2)
    (elementary geometry, e.g. Zwillinger, CRC Standard Mathematical Tables and Formulae)."""
    area = radius**2 * math.acos(off_middle / radius)
    return (area - off_middle * math.sqrt(radius**2 - off_middle**2)) / (math.pi * radius**2)


@pytest.mark.parametrize("off_middle", [-3.0, -1.0, 0.0, 1.5, 3.5])
def test_places_beyond_a_chord_are_as_many_as_its_segment_is_large(off_middle) -> None:
    half = math.sqrt(RADIUS**2 - off_middle**2)
    chord = (-half, off_middle, half, off_middle)
    beyond = sum(side_of(x, y, *chord) for x, y in places(1))
    share = segment_share(off_middle)
    assert stats.binomtest(int(beyond), DRAWS, share).pvalue > FALSE_ALARM
    assert stats.binomtest(int(beyond), DRAWS, share + 0.02).pvalue < FALSE_ALARM


def test_mean_distance_of_two_places_in_a_disc() -> None:
    """128 R / (45 pi) (Santalo 1976, Integral Geometry and Geometric Probability)."""
    pairs = zip(places(2), places(3), strict=True)
    apart = [distance(*a, *b) for a, b in pairs]
    exact = 128 * RADIUS / (45 * math.pi)
    assert stats.ttest_1samp(apart, exact).pvalue > FALSE_ALARM
    assert stats.ttest_1samp(apart, exact * 1.02).pvalue < FALSE_ALARM


def test_mean_distance_of_a_place_from_one_on_the_rim() -> None:
    """32 R / (9 pi) (Santalo 1976, likewise)."""
    apart = [distance(0.0, RADIUS, x, y) for x, y in places(4)]
    exact = 32 * RADIUS / (9 * math.pi)
    assert stats.ttest_1samp(apart, exact).pvalue > FALSE_ALARM
    assert stats.ttest_1samp(apart, exact * 1.02).pvalue < FALSE_ALARM


@pytest.mark.parametrize("length", [1.0, 4.0, 7.9])
def test_ways_between_two_places_meet_a_piece_as_often_as_quadrature_says(length) -> None:
    """A needle problem after Buffon: of each place that part of the disc counts which lies behind
    the piece, found by quadrature over the place and the directions in which the piece is seen."""
    piece = (-length / 2, 1.0, length / 2, 1.0)
    hits = 0
    for a, b in zip(places(5), places(6), strict=True):
        share = passes(*a, *b, *piece, side_of(*a, *piece))
        hits += share < math.inf and on_piece(*a, *b, *piece, share)
    exact = behind(length / 2, 1.0)
    assert stats.binomtest(hits, DRAWS, exact).pvalue > FALSE_ALARM
    assert stats.binomtest(hits, DRAWS, exact * 1.1).pvalue < FALSE_ALARM


def behind(half: float, height: float) -> float:
    """Probability that the way between two even places crosses the piece |x| < half, y = height."""
    nodes, weights = np.polynomial.legendre.leggauss(60)
    r = RADIUS * (nodes + 1) / 2
    turn = math.pi * (nodes + 1)
    x, y = r[:, None] * np.cos(turn), r[:, None] * np.sin(turn)
    plane = (weights * r)[:, None] * weights[None, :] * RADIUS / 2 * math.pi
    up = height - y
    on_line = half * nodes  # where the way crosses, as a place on the piece
    total = 0.0
    for at, weight in zip(on_line, weights, strict=True):
        across = at - x
        to_line = np.hypot(across, up)
        ux, uy = across / to_line, up / to_line
        along = x * ux + y * uy
        to_rim = -along + np.sqrt(along**2 - (x**2 + y**2) + RADIUS**2)
        # d angle = |up| / to_line^2 d at; the part of the disc behind is the ring sector
        sector = np.maximum(to_rim**2 - to_line**2, 0.0) / 2
        total += np.sum(plane * sector * np.abs(up) / to_line**2) * weight * half
    return float(total / (math.pi * RADIUS**2) ** 2)


def test_a_whole_chord_is_crossed_by_ways_with_one_end_beyond_it() -> None:
    """The quadrature itself: 2 q (1 - q), where q is the share of the segment."""
    q = segment_share(1.0)
    assert behind(math.sqrt(RADIUS**2 - 1.0), 1.0) == pytest.approx(2 * q * (1 - q), rel=2e-3)


@pytest.mark.parametrize("engine", ["batch", "reference"])
def test_the_first_touch_of_a_line_by_repeated_outings_is_geometric(
    engine, plan_of, plain_night
) -> None:
    """One pig at a point of bait goes out every 60 s to a place anywhere, and its ways take no
    time: each outing crosses the chord with the share of the segment behind it."""
    nights = 20_000 if engine == "batch" else 500
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 1},
        corral={"diameter": f"{2 * RADIUS} m", "bait_distance": "5 m"},
        opening=[{
            "width": "4 ft", "height": "4 ft", "gate": {"kind": "drop", "drag": "0 lbf"},
            "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
        }],
        entry={"clock": "0 s"},
        movement={"travel": "0 s", "roam": {"fixed": "60 s"}, "outing_share": 1},
        trigger={"kind": "line", "height": "10 cm", "distance": "6 m", "weight": "0 g/m",
                 "switch_force": "0 lbf"},
    )  # fmt: skip
    when = play(plan, SEED, 0, nights, engine)["release_s"]
    which = np.rint(when / 60.0).astype(int)
    np.testing.assert_allclose(when, 60.0 * which)
    share = segment_share(2.0)
    last = 20
    seen = np.bincount(np.minimum(which, last), minlength=last + 1)[1:]
    law = stats.geom(share)
    expected = np.append(law.pmf(np.arange(1, last)), law.sf(last - 1))
    assert stats.chisquare(seen, nights * expected).pvalue > FALSE_ALARM
    if engine == "batch":
        wrong = stats.geom(share * 1.05)
        expected = np.append(wrong.pmf(np.arange(1, last)), wrong.sf(last - 1))
        assert stats.chisquare(seen, nights * expected).pvalue < FALSE_ALARM
