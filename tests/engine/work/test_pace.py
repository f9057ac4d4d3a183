"""Lengths of pieces of work, on a clock that is made up: fixed cost apart, and never too short."""

import numpy as np
import pytest

from soundergate.engine.work.folding import FLOOR, Pace

AIM = 0.25


def worked(pace, nights, fixed, a_night, workers=2, noise=None):
    """Lengths of the pieces that cover some nights, and the seconds of each."""
    sizes, seconds = [], []
    for chunk in pace.chunks(0, nights, workers):
        took = (fixed + a_night * chunk.count) * (1.0 if noise is None else 1.0 + noise())
        pace.took(chunk.count, took)
        sizes.append(chunk.count)
        seconds.append(took)
    assert sum(sizes) == nights
    return np.array(sizes), np.array(seconds)


@pytest.mark.parametrize("fixed", [0.0, 0.01, 0.2, 1.5, 6.0])
@pytest.mark.parametrize("a_night", [1e-6, 1e-5, 1e-3, 2e-2])
@pytest.mark.parametrize("nights", [1, 499, 500, 501, 8_000, 200_001])
def test_no_piece_is_below_the_floor_whatever_work_costs(fixed, a_night, nights):
    sizes, _ = worked(Pace(20_000, AIM), nights, fixed, a_night)
    assert sizes.min() >= min(FLOOR["batch"], nights)
    assert sizes.max() <= 20_000


@pytest.mark.parametrize(("fixed", "a_night"), [(0.5, 1e-3), (2.0, 1e-4), (0.05, 1e-5)])
def test_fixed_cost_is_told_apart_from_the_cost_of_a_night(fixed, a_night):
    pace = Pace(20_000, AIM)
    sizes, seconds = worked(pace, 400_000, fixed, a_night)
    assert pace.cost == pytest.approx((fixed, a_night), rel=1e-6)
    # after the first few pieces, and before the last are shared out between the workers, the fixed
    # cost is a fifth of the time or pieces are near their most
    half = slice(5, len(sizes) // 2)
    assert np.all((fixed <= 0.21 * seconds[half]) | (sizes[half] >= 13_333))


def test_work_that_costs_more_than_its_aim_keeps_its_rate():
    """What collapsed once: a hundred arms, of which a piece takes longer than its aim."""
    pace = Pace(20_000, AIM)
    sizes, seconds = worked(pace, 80_000, 0.8, 1e-3)
    third = len(sizes) // 3
    rates = [
        sizes[part].sum() / seconds[part].sum() for part in (slice(third), slice(-third, None))
    ]
    assert rates[1] > rates[0] * 2 / 3
    assert seconds.sum() < 1.35 * 80_000 * 1e-3


def test_pieces_take_their_aim_where_they_can():
    pace = Pace(1_000_000, AIM)
    _, seconds = worked(pace, 3_000_000, 0.002, 1e-5)
    assert seconds[5:-12] == pytest.approx(AIM, rel=0.05)


def test_noise_neither_shrinks_nor_blows_up_the_pieces():
    rng = np.random.default_rng(20)
    for _ in range(50):
        pace = Pace(1_000_000, AIM)
        sizes, seconds = worked(
            pace, 1_000_000, 0.3, 1e-4, noise=lambda: rng.exponential(0.3)
        )  # other work of the machine can only add
        assert sizes.min() >= FLOOR["batch"]
        assert seconds.sum() < 1.3 * 1.8 * 1_000_000 * 1e-4
        assert np.median(seconds) < 8.0


def test_a_change_of_the_machine_is_followed():
    pace = Pace(1_000_000, AIM)
    for a_night in (1e-5, 1e-4, 1e-5):
        sizes, _ = worked(pace, int(100 / a_night), 0.0, a_night)
        assert np.median(sizes) == pytest.approx(AIM / a_night, rel=0.1)


def test_the_engine_that_is_read_gets_shorter_pieces():
    pace = Pace(50, AIM, FLOOR["reference"])
    sizes, _ = worked(pace, 400, 0.0, 0.2)
    assert sizes.min() >= FLOOR["reference"]
    assert sizes.max() <= 50
